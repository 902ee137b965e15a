"""Stage: what the obstacles take of each line's light, tabulated over the sun's place above the site."""

from collections.abc import Hashable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from studio.design.design import Design
from studio.design.obstacles import AnyObstacle, Block, Fence, Pole, Tree, corners_of
from studio.design.site import Ground, Ring
from studio.engine.ground.surface import Plane
from studio.engine.shade.obstacles import (
    BlockBody,
    Body,
    CrownBody,
    FenceBody,
    PoleBody,
    Slope,
    may_reach,
    obstacle_shade,
)
from studio.engine.shade.rows import RowOfMirrors
from studio.engine.sky.calendar import DAYS_PER_YEAR
from studio.ground import surface_of
from studio.study.assessment import Array, PlacedLine
from studio.study.cache import Cache
from studio.study.nodes import SunNodes
from studio.study.place import ground_height, row_of
from studio.study.shade import Suns
from studio.study.sky import Sky

Ints = NDArray[np.intp]
_ORIGIN = (0.0, 0.0, 0.0)
_LEAST_TOLD = 1e-6
"""Of a line's light: an obstacle that takes less is not named."""
_DIGITS = 9
"""Relative places are rounded to a nanometre, so that a field shifted as a whole is the same field."""


@dataclass(frozen=True, eq=False)
class LineObstacles:
    """What obstacles take of one line's light.

    ``mean`` (K, S) is the share they take at S suns in each of K states of foliage, ``state_of_day`` (365,) the state of
    each day; ``at_parts`` (P,) and ``at_grid`` (U,) the share at the parts of the sunlit hours and at the moments of the clear grid.
    ``alone``: what each would take alone of the year's light after cosine, as (place in the design's list, share),
    largest first. ``by_mirror`` (M,): what all of them take of the year's light after cosine at each place, and ``there``
    the places where a mirror stands.
    """

    mean: Array
    state_of_day: Ints
    at_parts: Array
    at_grid: Array
    alone: tuple[tuple[int, float], ...]
    by_mirror: Array
    there: Ints

    def clear_stretch(self, limit: float) -> tuple[int, int]:
        """The longest run of mirrors that together lose no more than ``limit``: its first place (from 0) and how many it has.

        Of runs of equal length, the one that loses least; (0, 0) where no mirror is clear enough.
        """
        sums = np.concatenate([[0.0], np.cumsum(self.by_mirror[self.there])])
        for count in range(len(self.there), 0, -1):
            means = (sums[count:] - sums[:-count]) / count
            first = int(means.argmin())
            if means[first] <= limit:
                start, end = int(self.there[first]), int(self.there[first + count - 1])
                return start, end - start + 1
        return 0, 0

    def on_day(self, day: int) -> Array:
        """The share (S,) at the suns with the foliage of a day of the year."""
        return np.asarray(self.mean[self.state_of_day[day - 1]])


@dataclass(frozen=True, eq=False)
class _Standing:
    """The obstacles of a design and the ground they stand on; one object while neither changes."""

    bodies: tuple[Body, ...]
    passes: Array


@dataclass(frozen=True)
class _Held:
    """What obstacles take of a line as last worked out, and what it came from."""

    standing: _Standing
    line: Hashable
    shade: LineObstacles | None


def bodies_of(
    design: Design, *, origin: tuple[float, float, float] = _ORIGIN, members: tuple[int, ...] | None = None
) -> tuple[Body, ...]:
    """The design's obstacles as shade sees them, places from ``origin``; some of them where ``members`` says so."""
    places = range(len(design.obstacles)) if members is None else members
    return tuple(_body(design.obstacles[place], design.ground, origin) for place in places)


def ground_under(corners: Ring, ground: Ground) -> Plane:
    """The plane that a block or a fence stands on and that its top runs with: fitted to the ground at its corners and the
    middles of its sides. Where uneven ground dips below it the foot hangs over a gap that lets no light through on
    the plan's shadow and some in the year's shade."""
    feet = np.array(corners, dtype=float)
    middles = (feet + np.roll(feet, -1, axis=0)) / 2
    return surface_of(ground).plane_near(np.concatenate([feet, middles]))


def _body(one: AnyObstacle, ground: Ground, origin: tuple[float, float, float]) -> Body:
    def near(value: float, axis: int) -> float:
        return round(value - origin[axis], _DIGITS)

    if isinstance(one, Block | Fence):
        under = ground_under(corners_of(one), ground)
        level = near(float(under.height_at(origin[0], origin[1])), 2)
        corners = tuple((near(x, 0), near(y, 1)) for x, y in corners_of(one))
        body = BlockBody if isinstance(one, Block) else FenceBody
        return body(corners, one.height_m, Slope(*under.rise_at(), level))
    x, y = one.place
    foot = ground_height(ground, x, y)
    if isinstance(one, Pole):
        return PoleBody(near(x, 0), near(y, 1), one.radius_m, near(foot, 2), near(foot + one.height_m, 2))
    middle, half = (one.crown_base_m + one.height_m) / 2, (one.height_m - one.crown_base_m) / 2
    return CrownBody(near(x, 0), near(y, 1), near(foot + middle, 2), one.crown_radius_m, half)


def obstacles_of(
    design: Design, placed: tuple[PlacedLine, ...], sky: Sky, suns: Suns, cache: Cache
) -> dict[int, LineObstacles]:
    """What obstacles take of every line that they can reach, by its id, in the year of ``sky`` and at ``suns``,

    of which the sky's nodes are the first.

    A line that did not move keeps the very same object while the obstacles stay; one that moved, or whose obstacles
    did, is worked out anew where the places between them are new.
    """
    if not design.obstacles:
        return {}
    standing = cache.get(
        ("standing", design.obstacles, design.ground), lambda: _Standing(bodies_of(design), _passes(design))
    )
    found = {}
    for line in placed:
        where = (suns.key, design.mirror, line.first.tobytes(), *line.make)
        slot = ("line's obstacles", line.id)
        held: _Held | None = cache.get(slot, lambda: None)
        if held is None or held.standing is not standing or held.line != where:
            held = _Held(standing, where, _of_line(design, standing, line, sky, suns, cache))
            cache.put(slot, held, size=1000)
        if held.shade is not None:
            found[line.id] = held.shade
    return found


def shaded_now(
    design: Design, placed: PlacedLine, sun: Array, day_of_year: int, cache: Cache
) -> Array | None:
    """Share (N,) of the light on each mirror of a line that obstacles take under one ``sun`` (3,); None: none can."""

    def look() -> Array | None:
        row, suns = row_of(placed, design.mirror), sun[None]
        bodies = cache.get(("bodies", design.obstacles, design.ground), lambda: bodies_of(design))
        members = tuple(place for place, body in enumerate(bodies) if may_reach(body, row, suns))
        if not members:
            return None
        today = np.array([day_of_year])
        passes = np.array([passes_on(design.obstacles[place], today) for place in members]).T
        near = [bodies[place] for place in members]
        return obstacle_shade(row, near, passes, suns).by_mirror[0, :, 0]

    key = (
        "shaded now", design.mirror, sun.tobytes(), day_of_year, placed.first.tobytes(), placed.make,
        design.obstacles, design.ground,
    )  # fmt: skip
    return cache.get(key, look)


def passes_on(one: AnyObstacle, days: Ints) -> Array:
    """What an obstacle lets through on days (T,) of the year."""
    if not isinstance(one, Tree):
        return np.full(len(days), one.passes if isinstance(one, Fence) else 0.0)
    begun, not_over = days >= one.leaf_from_day, days <= one.leaf_to_day
    in_leaf = begun & not_over if one.leaf_from_day <= one.leaf_to_day else begun | not_over
    return np.where(in_leaf, one.passes_in_leaf, one.passes_bare)


def _of_line(
    design: Design, standing: _Standing, line: PlacedLine, sky: Sky, suns: Suns, cache: Cache
) -> LineObstacles | None:
    row = row_of(line, design.mirror)
    members = tuple(place for place, body in enumerate(standing.bodies) if may_reach(body, row, suns.suns))
    if not members:
        return None
    x, y, z = line.first.tolist()
    bodies = bodies_of(design, origin=(x, y, z), members=members)
    passes = standing.passes[list(members)]
    key = ("obstacle shade", suns.key, design.mirror, line.make, members, bodies, passes.tobytes())
    return cache.get(key, lambda: _tabulated(_at_origin(row), bodies, passes, members, sky, suns.suns))


def _at_origin(row: RowOfMirrors) -> RowOfMirrors:
    return replace(row, first=_ORIGIN)


def _passes(design: Design) -> Array:
    """What each obstacle lets through on every day of the year: (B, 365)."""
    days = np.arange(1, DAYS_PER_YEAR + 1)
    return np.array([passes_on(one, days) for one in design.obstacles])


def _tabulated(
    row: RowOfMirrors,
    bodies: tuple[Body, ...],
    passes: Array,
    members: tuple[int, ...],
    sky: Sky,
    suns: Array,
) -> LineObstacles:
    states, state_of_day = np.unique(passes.T, axis=0, return_inverse=True)
    state_of_day = state_of_day.ravel().astype(np.intp)
    shade = obstacle_shade(row, bodies, states, suns)
    nodes = len(sky.nodes.suns)

    def at(moments: SunNodes, days: Ints) -> Array:
        every = moments.blend(shade.mean[:, :nodes].T)
        return np.take_along_axis(every, state_of_day[days - 1][:, None], axis=1)[:, 0]

    light = sky.part_dni * np.maximum(sky.part_suns @ np.array(row.axes)[2], 0.0)
    covered = sky.nodes.blend(shade.covered[:, :nodes].T)
    taken, by_mirror = np.zeros(len(members)), np.zeros(row.count)
    for number, let_through in enumerate(states):
        then = np.where(state_of_day[sky.part_day] == number, light, 0.0)
        taken += (1.0 - let_through) * (then @ covered)
        by_mirror += shade.by_mirror[number, :, :nodes] @ sky.nodes.gather(then)
    total = max(float(light.sum()), 1e-12)
    alone = zip(members, (taken / total).tolist(), strict=True)
    return LineObstacles(
        mean=shade.mean,
        state_of_day=state_of_day,
        at_parts=at(sky.nodes, sky.part_day + 1),
        at_grid=at(sky.grid.nodes, sky.grid.days_up()),
        alone=tuple(sorted((one for one in alone if one[1] > _LEAST_TOLD), key=lambda one: -one[1])),
        by_mirror=np.maximum(by_mirror / total, 0.0),
        there=row.there,
    )
