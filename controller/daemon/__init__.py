"""One running darkroom: the loop, its answers, and the desk that pages ask."""
