"""The lamp itself: its lag found three ways, its warming up, its check against a stored light; pure but for `bench`."""
