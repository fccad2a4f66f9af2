"""The lines of a darkroom, real ones."""
