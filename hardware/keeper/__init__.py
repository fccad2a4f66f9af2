"""The keeper: its core, and the process around it."""
