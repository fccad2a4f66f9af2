"""The sensitometry, pure: readings, curves, papers, split-grade; it draws nothing. Numpy loads with what needs it."""
