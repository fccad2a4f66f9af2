"""The arithmetic of light, pure: typed numbers, stops, strips, burns, dodges, size, aperture, dry-down, flash, lag."""
