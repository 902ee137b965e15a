"""What obstacles take of the light on the mirrors of a section: where each ray ends at one, and which stretches lie behind.

The true bodies are held against the true rays (``studio.engine.shade.obstacles``); what is met is seen along the line,
as all of the section. An obstacle that lets more than half of the light through ends no ray.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from studio.design.design import Design
from studio.drawings.section_ground import ObstacleInSection
from studio.engine.shade.obstacles import Body
from studio.study.cache import Cache
from studio.study.obstacles import bodies_of, passes_on

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]
_SAMPLES = 33
"""Places of a chord that are looked at first; edges between them are halved down to."""
_HALVINGS = 20
_MOST_PASSED = 0.5
_kept = Cache(most_bytes=4_000_000)


def taking(design: Design, day: int) -> tuple[Body, ...]:
    """The obstacles that take at least half of a ray on a day of the year, as shade sees them."""
    if not design.obstacles:
        return ()
    bodies = _kept.get(("bodies", design.obstacles, design.ground), lambda: bodies_of(design))
    today = np.array([day])
    return tuple(
        body
        for body, one in zip(bodies, design.obstacles, strict=True)
        if float(passes_on(one, today)[0]) <= _MOST_PASSED
    )


def stops_at(bodies: Sequence[Body], sun: Array, feet: Array) -> Array:
    """How far before ``feet`` (N, 3), towards the sun, light that comes down on them meets the first body, (N,) m; -inf: none.

    A ray from a place on the way meets a body as long as some of it is still ahead: the last such place is sought.
    """
    stops = np.full(len(feet), -np.inf)
    for body in bodies:
        met = np.flatnonzero(_meets(body, sun, feet))
        if met.size:
            starts, around = feet[met], body.around()
            low, high = around.corners.min(axis=0), around.corners.max(axis=0)
            reach = np.hypot(*(np.maximum(np.abs(starts[:, :2] - low), np.abs(starts[:, :2] - high))).T)
            level = max(float(np.hypot(*sun[:2])), 1e-9)
            least = np.zeros(len(met))
            over = (around.top_m - starts[:, 2]) / max(float(sun[2]), 1e-9)
            most = np.minimum((reach + around.margin_m) / level, np.maximum(over, 0.0)) + 1.0
            for _halving in range(_HALVINGS):
                middle = (least + most) / 2
                ahead = _meets(body, sun, starts + middle[:, None] * sun)
                least, most = np.where(ahead, middle, least), np.where(ahead, most, middle)
            stops[met] = np.maximum(stops[met], least)
    return stops


def behind(bodies: Sequence[Body], sun: Array, chords: Array) -> list[tuple[tuple[float, float], ...]]:
    """The stretches of chords (T, 2, 3) that lie behind a body: from and to, as shares of each from its first end."""
    shares = np.linspace(0.0, 1.0, _SAMPLES)
    starts, runs = chords[:, 0], chords[:, 1] - chords[:, 0]
    dark = _taken(bodies, sun, starts[:, None] + shares[:, None] * runs[:, None])
    chord, place = np.nonzero(dark[:, 1:] != dark[:, :-1])
    low, high = shares[place], shares[place + 1]
    first = dark[chord, place]
    for _halving in range(_HALVINGS if len(chord) else 0):
        middle = (low + high) / 2
        same = _taken(bodies, sun, starts[chord] + middle[:, None] * runs[chord]) == first
        low, high = np.where(same, middle, low), np.where(same, high, middle)
    found = []
    for number, states in enumerate(dark):
        edges = [0.0] * bool(states[0]) + high[chord == number].tolist() + [1.0] * bool(states[-1])
        found.append(tuple(zip(edges[::2], edges[1::2], strict=True)))
    return found


def at_outlines(stops: Array, feet: Array, light: Array, drawn: Sequence[ObstacleInSection]) -> Array:
    """``stops`` (N,) moved on towards the sun to the outlines that are drawn, where they fall inside one.

    ``feet`` (N, 2) are the feet in the section and ``light`` (N, 2) the way to the sun there. A round or slanting body is
    met off the cut, deeper in than its outline in the cut lies.
    """
    ends = stops.copy()
    for outline in (outline for one in drawn for outline in one.outlines):
        inside = np.flatnonzero(np.isfinite(ends))
        if not inside.size:
            break
        way, start, run = light[inside, None], outline[None], np.roll(outline, -1, axis=0) - outline
        off = start - feet[inside, None]
        across = way[..., 0] * run[:, 1] - way[..., 1] * run[:, 0]
        with np.errstate(divide="ignore", invalid="ignore"):
            far = (off[..., 0] * run[:, 1] - off[..., 1] * run[:, 0]) / across
            share = (off[..., 0] * way[..., 1] - off[..., 1] * way[..., 0]) / across
        ahead = (share >= 0) & (share < 1) & (far > ends[inside, None] - 1e-9)
        odd = ahead.sum(axis=1) % 2 == 1  # the outline goes round it
        ends[inside] = np.where(odd, np.where(ahead, far, np.inf).min(axis=1), ends[inside])
    return ends


def _taken(bodies: Sequence[Body], sun: Array, places: Array) -> Bools:
    """Whether any body stands before places (..., 3)."""
    points = places.reshape(-1, 3)
    met = np.zeros(len(points), np.bool_)
    for body in bodies:
        met |= _meets(body, sun, points)
    return met.reshape(places.shape[:-1])


def _meets(body: Body, sun: Array, points: Array) -> Bools:
    return body.meets(points, np.broadcast_to(sun, points.shape))
