"""Readings at the easel, pure: spots of a negative as effective densities, and the light that prints them as wished."""
