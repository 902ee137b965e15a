"""Faults of measured heights: too few spots, two heights at one place, a grid that does not hold what it says."""

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import numpy as np

from studio.design.heights import unpacked_heights
from studio.errors import BadInputError, Fault
from studio.text import _

_PATH = "$.design.ground.heights"


def heights_faults(tree: Mapping[str, Any]) -> Iterator[Fault]:
    """Faults of the ground's heights in the plain tree of a design; silent about values of the wrong kind."""
    ground = tree.get("ground")
    heights = ground.get("heights") if isinstance(ground, Mapping) else None
    if not isinstance(heights, Mapping):
        return
    if heights.get("kind") == "spots":
        yield from _spots(heights.get("spots"))
    elif heights.get("kind") == "grid":
        yield from _grid(heights.get("cells"), heights.get("rows"), heights.get("columns"))


def _spots(spots: Any) -> Iterator[Fault]:
    if not isinstance(spots, Sequence) or isinstance(spots, str):
        return
    if not all(isinstance(spot, Sequence) and len(spot) == 3 for spot in spots):
        return
    places = {(spot[0], spot[1]) for spot in spots}
    if len(places) < 3 or len(places) < len(spots):
        yield Fault(
            f"{_PATH}.spots",
            _("Spot heights"),
            _("{count} heights at {places} places").format(count=len(spots), places=len(places)),
            _("at least three places with one height each would be right"),
        )


def _grid(cells: Any, rows: Any, columns: Any) -> Iterator[Fault]:
    if not (isinstance(cells, str) and type(rows) is int and type(columns) is int):
        return
    try:
        holds = not np.isnan(unpacked_heights(cells, rows=rows, columns=columns)).all()
    except BadInputError:
        holds = False
    if not holds:
        yield Fault(
            f"{_PATH}.cells",
            _("Grid of heights"),
            _("a text that is not {rows} rows of {columns} heights").format(rows=rows, columns=columns),
            _("heights in our compact form, some of them known, would be right"),
        )
