"""Simulated printers who make the same prints in several ways; `paper_economy.py` counts their paper."""
