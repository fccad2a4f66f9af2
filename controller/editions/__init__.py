"""Editions: numbers that are promised once, how alike the prints are, and what they cost; pure but for `keeps.py`."""
