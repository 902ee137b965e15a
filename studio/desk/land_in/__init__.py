"""Land from a file: read in the background, shown before it is taken, taken in one step."""
