"""The daemon's hold on the keeper."""
