"""A page for a thumb: it asks the desk, draws figures, and decides nothing about light."""
