"""Simulated printers who make the same prints three ways; `paper_economy.py` counts their paper."""
