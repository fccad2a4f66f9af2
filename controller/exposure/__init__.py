"""The reckoning, pure: stops, strips, burns and dodges, size, aperture, dry-down, flash, lamp lag."""
