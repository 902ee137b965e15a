"""What every page on the terminal shares: its width, its tables, sentences broken between words."""

from __future__ import annotations

from textwrap import fill
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rich.console import Console
    from rich.table import Table

NARROWEST = 80
"""Columns that every table fits in, and that a pipe is taken to have."""


def terminal() -> Console:
    """The terminal, at least ``NARROWEST`` wide."""
    from rich.console import Console

    # names of sites and currencies are a person's own: nothing in them is read as markup
    console = Console(highlight=False, markup=False, emoji=False, soft_wrap=True)
    console.width = max(console.width, NARROWEST)
    return console


def table_of(title: str, *columns: str) -> Table:
    """A table with a title; the first column to the left, the others to the right."""
    from rich.table import Table

    table = Table(title=f"\n{title}", title_justify="left", box=None, pad_edge=False)
    for place, column in enumerate(columns):
        table.add_column(column, justify="left" if place == 0 else "right", no_wrap=True)
    return table


def broken(text: str, *, first: str = "", after: str = "", width: int = NARROWEST) -> str:
    """A text broken between words, its first line after ``first``, the others after ``after``."""
    return fill(text, width - 1, initial_indent=first, subsequent_indent=after, break_long_words=False)
