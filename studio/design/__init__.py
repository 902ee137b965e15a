"""The frozen document: what the person decided, never what follows from it."""
