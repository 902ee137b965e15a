"""The Section view: the ground cut along a line, at the moment."""
