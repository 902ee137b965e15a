"""Shade between the lines of a field: patterns where all lines run and face alike, every mirror by itself where not."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np

from studio.engine.shade import parallel, unlike
from studio.engine.shade.parallel import LineShade
from studio.engine.shade.reach import Bools
from studio.engine.shade.rows import Floats, RowOfMirrors, same_axes, same_steps
from studio.engine.shade.unlike import LineTask


def answers(tasks: Sequence[LineTask]) -> Iterator[LineShade]:
    """The shade that each of many tasks asks for, in their order; lines that do not run alike are worked out together."""
    alike = [run_alike(task.target, task.casters) for task in tasks]
    others = unlike.shade_of_lines(
        [task for task, by_itself in zip(tasks, alike, strict=True) if not by_itself]
    )
    for task, by_itself in zip(tasks, alike, strict=True):
        yield parallel.shade_of_line(task.target, task.casters, task.suns) if by_itself else next(others)


def run_alike(target: RowOfMirrors, casters: tuple[RowOfMirrors, ...]) -> bool:
    """Whether all rows face and step alike, so that what mirrors see of one another is shared."""
    return all(same_steps(target, caster) and same_axes(target, caster) for caster in casters)


def near_rows(rows: Sequence[RowOfMirrors], shadow: float) -> Bools:
    """Which rows (L, L) may throw a shadow on which, [target, caster], by suns whose longest one of a metre's height is
    ``shadow``: those that stand no farther than the shadow of the caster's highest corner over the target's lowest."""
    steps = np.array([row.along for row in rows]) * np.array([row.spacing_m for row in rows])[:, None]
    axes = np.array([row.axes for row in rows])
    sides = np.array([[row.width_m, row.height_m] for row in rows]) / 2
    reach = np.abs(axes[:, 0]) * sides[:, :1] + np.abs(axes[:, 1]) * sides[:, 1:]
    rims = np.array([row.plane_z_m for row in rows])[:, None] * axes[:, 2]
    start = np.array([row.first for row in rows]) + rims
    end = start + steps * np.array([row.count - 1 for row in rows])[:, None]
    low, high = np.minimum(start, end) - reach, np.maximum(start, end) + reach
    apart = [
        np.maximum(low[:, None, axis] - high[:, axis], low[:, axis] - high[:, None, axis]) for axis in (0, 1)
    ]
    rise = np.maximum(high[:, 2] - low[:, None, 2], 0.0)
    near = np.hypot(np.maximum(apart[0], 0.0), np.maximum(apart[1], 0.0)) <= rise * shadow
    np.fill_diagonal(near, False)
    return np.asarray(near)


def shade_of_lines(
    rows: tuple[RowOfMirrors, ...], suns: Floats, *, targets: tuple[int, ...] | None = None
) -> tuple[LineShade, ...]:
    """Shade on each of ``targets`` (numbers into ``rows``; all of them unless given) by all the other rows.

    ``suns`` (S, 3) are unit vectors to the sun, site frame. ``by_caster`` has one column per row of the field; the
    target's own holds what its own row casts on it.
    """
    found = []
    for number in range(len(rows)) if targets is None else targets:
        target, others = rows[number], (*rows[:number], *rows[number + 1 :])
        shade = (parallel if run_alike(target, others) else unlike).shade_of_line(target, others, suns)
        by_caster = np.insert(shade.by_caster, number, shade.by_own_row, axis=1)
        found.append(replace(shade, by_caster=by_caster))
    return tuple(found)
