"""Edits: Design -> Design, each with the label that undo shows."""
