"""What of the plan is in sight, and what of that a hand can reach: layers that are hidden, locked or faded."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace

import numpy as np

from studio.desk.plan.board import Board
from studio.desk.state import State
from studio.drawings.plan import Land, PlanDrawing

_FAINT = 0.35


def in_sight(drawing: PlanDrawing, state: State) -> PlanDrawing:
    """The drawing without what lies on hidden layers."""
    return _only(drawing, state.layers)


def within_reach(drawing: PlanDrawing, state: State) -> PlanDrawing:
    """The drawing without what lies on hidden or locked layers."""
    return _only(drawing, state.layers - state.locked)


def _only(drawing: PlanDrawing, layers: frozenset[str]) -> PlanDrawing:
    land = drawing.land
    if "land" not in layers:
        land = Land(np.empty((0, 2)), (), land.areas)
    if "no_build" not in layers:
        land = replace(land, areas=())
    headers = "headers" in layers
    return replace(
        drawing,
        land=land,
        obstacles=drawing.obstacles if "obstacles" in layers else (),
        lines=drawing.lines if "lines" in layers else (),
        header=drawing.header if headers else replace(drawing.header, hot=(), cold=()),
        has_store=drawing.has_store and headers,
        marks=drawing.marks if "findings" in layers else (),
    )


@contextmanager
def faint(board: Board, faded: bool) -> Iterator[None]:
    """What is painted within comes out faint when its layer is faded."""
    painter, before = board.painter, board.painter.opacity()
    painter.setOpacity(before * (_FAINT if faded else 1.0))
    try:
        yield
    finally:
        painter.setOpacity(before)
