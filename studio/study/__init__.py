"""Where design and engine meet: ``assess(design)`` and what it finds."""
