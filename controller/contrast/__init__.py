"""Two lights for two tones, and another contrast; what pages ask of it."""
