"""The Mirror view."""
