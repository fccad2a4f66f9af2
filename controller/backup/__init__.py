"""Copies of what is kept: dated ones, plain files, and the way back."""
