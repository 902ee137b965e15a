"""Shade between the lines of a field: closed form where apertures are parallel, cut polygons where they are not."""

import numpy as np

from studio.engine.shade import clip, parallel
from studio.engine.shade.parallel import LineShade
from studio.engine.shade.rows import Floats, RowOfMirrors, same_axes


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
        alike = all(same_axes(target, other) for other in others)
        shade = (parallel if alike else clip).shade_of_line(target, others, suns)
        found.append(
            LineShade(
                by_mirror=shade.by_mirror,
                mean=shade.mean,
                worst=shade.worst,
                by_caster=np.insert(shade.by_caster, number, shade.by_own_row, axis=1),
                by_own_row=shade.by_own_row,
            )
        )
    return tuple(found)
