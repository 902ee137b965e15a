"""What a receiver and the pipe meet on their own line as they slide and roll to their limits: the mirrors below them."""

from collections.abc import Iterator, Sequence
from functools import lru_cache

import numpy as np

from studio.design.design import Design
from studio.engine.mirror.form import rib_depth
from studio.study.assessment import Array, PlacedLine
from studio.study.findings import Finding
from studio.study.line_seen import LineSeen, OfLines, reads_of
from studio.study.place import form_of
from studio.study.shade import gear_of
from studio.study.swung import swung
from studio.text import _, number

_ROLLS, _SLIDES, _ALONG = 33, 9, 9


def over_own_mirrors_m(design: Design, line: PlacedLine) -> float:
    """How near receivers and pipe come to the film of the line's own mirrors anywhere within slide and roll, m.

    Below zero they meet it; infinite where none of them ever comes over a mirror. Corners of the receiver and points
    along the pipe's underside, upward from the film as the rib curves there (``rib_depth``).
    """
    gear, motion = gear_of(design, line), design.motion
    along = line.axes @ line.along
    rolls = np.repeat(np.linspace(motion.roll_from_deg, motion.roll_to_deg, _ROLLS), _SLIDES)
    slides = np.tile(np.linspace(-motion.stroke_m, motion.stroke_m, _SLIDES), _ROLLS)
    parts = swung(motion, gear, along, slide_m=slides, roll_deg=rolls)
    half = gear.receiver_width_m / 2 * along
    corners = np.concatenate([parts.edges - half, parts.edges + half])
    stretch = np.linspace(-0.5, 0.5, _ALONG) * line.spacing_m
    pipes = np.concatenate([parts.pipe + reach * along for reach in stretch])
    return min(
        _over_film(design, line, along, corners),
        _over_film(design, line, along, pipes) - gear.pipe_diameter_m / 2,
    )


def _over_film(design: Design, line: PlacedLine, along: Array, points: Array) -> float:
    """Least height of points (N, 3) of the mirror frame over the film of the mirror that each is over."""
    mirror = design.mirror
    passed = np.rint(points @ along / line.spacing_m) * line.spacing_m
    x, y, z = (points - passed[:, None] * along).T
    over = (np.abs(x) <= mirror.width_m / 2) & (np.abs(y) <= mirror.height_m / 2)
    if not over.any():
        return float("inf")
    return float((z[over] - rib_depth(form_of(mirror), x[over], y[over])).min())


@lru_cache(maxsize=512)
def _over_own(seen: LineSeen) -> float:
    return over_own_mirrors_m(seen.design, seen.line)


_near: OfLines[float] = OfLines()


def _over_own_seen(design: Design, line: PlacedLine) -> float:
    return _near.get(line, reads_of(design, line), lambda: _over_own(LineSeen(design, line)))


def swing_findings(design: Design, placed: Sequence[PlacedLine]) -> Iterator[Finding]:
    """Receivers or pipe that meet the mirrors of their own line: the line for which it is worst."""
    if not placed:
        return
    near = [_over_own_seen(design, line) for line in placed]
    worst = min(range(len(placed)), key=lambda place: near[place])
    if near[worst] < 0:
        line = placed[worst]
        yield Finding(
            key="receiver_meets_own_mirror",
            severity="stop",
            sentence=_("Line {id}: rolled to its limit a receiver goes {cm} cm into its own mirror").format(
                id=line.id, cm=number(-100 * near[worst], digits=1)
            ),
            detail=_("Let it roll less, or make the arm longer"),
            value=near[worst],
            unit="m",
            place=(float(line.first[0]), float(line.first[1])),
            line_id=line.id,
        )
