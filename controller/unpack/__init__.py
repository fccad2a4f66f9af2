"""Pictures that somebody brings, unpacked into small greys: in strips, and by a process of its own."""
