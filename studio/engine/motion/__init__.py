"""The receiver's motion: poses on slide and roll, and tables of the best ones over the sun's direction."""
