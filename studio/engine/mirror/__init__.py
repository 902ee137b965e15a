"""The mirror: its form, its points, and its light, computed two independent ways."""
