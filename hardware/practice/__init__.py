"""The practice darkroom: lines that live in files, so that keeper, daemon, page and tests see one room.

It hands out light and keeps account of it; it knows nothing of paper.
"""
