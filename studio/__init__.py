"""Stillfield: a design studio for fields of fixed film mirrors."""

__version__ = "0.1.0"
