"""The enlarger itself: its column, and where a negative's first strip begins under it."""
