"""The sensitometry, pure: readings, curves, papers, split-grade. Numpy loads with the modules that need it."""
