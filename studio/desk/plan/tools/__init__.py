"""The plan's tools, one to a file."""
