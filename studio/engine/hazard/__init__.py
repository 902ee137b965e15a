"""Where the field can hurt someone, and what to say about it."""
