"""The land: its height, and what has room on it."""
