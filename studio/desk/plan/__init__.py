"""The plan: the land from above at true scale, and the tools that draw on it."""
