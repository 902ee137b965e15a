"""The sky: sun, clear sky, weather of a nominal year."""
