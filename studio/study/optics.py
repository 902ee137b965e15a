"""Stage: what a mirror's optics does with the sun, hour by hour, without shade."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache
from math import floor

import numpy as np
from numpy.typing import NDArray

from studio.design.design import Design
from studio.design.motion import Motion
from studio.engine.mirror.favour import favour_of
from studio.engine.mirror.form import Errors, Window
from studio.engine.motion.held import held_optics
from studio.engine.motion.pose import LineMotion
from studio.engine.motion.spread import spread_table
from studio.engine.motion.table import OpticsAt, OpticsTable, optics_table
from studio.study.assessment import Array, PlacedLine
from studio.study.beside import spread_of
from studio.study.build import slope_of
from studio.study.cache import Cache, Tick, no_tick
from studio.study.place import form_of, up_the_slope
from studio.study.sky import Sky
from studio.units import SUN_RMS_MRAD

LEAST_LIGHT = 5e-5
"""Share of the clear year's accepted light that the darkest suns bring together; receivers are taken to rest at them."""
DIM_LIGHT = 2e-3
"""Share of the clear year's light on the apertures that suns bring together at which some mirrors stand for all."""
GEAR_DIM_LIGHT = 2e-2
"""Share of its accepted light that suns bring together at which gear between unlike lines is looked at from some mirrors."""
MOST_ALONG_AXIS = 0.8999
"""Cosine between a line and its mirrors' axis up to which its motion can be reckoned, a hair below the engine's own 0.9."""
GRADE_STEP_PERCENT = 0.05
"""Over uneven ground lines whose grades round to the same multiple of this share their optics."""
_OF_ITS_OWN = 100_000
"""Bytes of optics between others, besides what it shares with them."""
_SUNS_AT_ONCE = 1000
"""Suns that a table is grown by between two ticks."""
TABLE_STEP_PERCENT = 2.0
"""Their tables are made for multiples of this grade only and blended between; a multiple of the step above."""


@dataclass(frozen=True, eq=False)
class LineOptics:
    """The optics of lines that stand and run alike, on the mean of their receivers.

    ``cosine`` (P,) of incidence at the parts of the sunlit hours and ``grid_cosine`` (U,) at the moments of the clear grid, 0
    where the sun is behind the mirror. ``parts`` and ``grid``: the shares and poses there, each a mean of those given with
    their weights; ``at_nodes`` those at the nodes of the shade table, and ``node_over`` (N, TERMS) how accepted light lies over
    the apertures there. ``bright`` (N,): the nodes that all but ``DIM_LIGHT`` of the clear year's light on the apertures comes
    from. ``light`` (2, N): what of its accepted light comes from each node, by parts and by grid.
    """

    motion: LineMotion
    cosine: Array
    grid_cosine: Array
    parts: tuple[tuple[OpticsAt, float], ...]
    grid: tuple[tuple[OpticsAt, float], ...]
    at_nodes: OpticsAt
    node_over: Array
    bright: NDArray[np.bool_]
    light: Array

    @property
    def at_parts(self) -> OpticsAt:
        """Shares and poses (P,) at the parts of the sunlit hours; put together anew each time."""
        return mean_of(self.parts)

    @property
    def at_grid(self) -> OpticsAt:
        """Shares and poses (U,) at the moments of the clear grid; put together anew each time."""
        return mean_of(self.grid)

    @cached_property
    def working(self) -> NDArray[np.bool_]:
        """The nodes (N,) that all but ``LEAST_LIGHT`` of the clear year's accepted light comes from."""
        of_parts, of_grid = self.light
        return brightest(of_parts, LEAST_LIGHT) | brightest(of_grid, LEAST_LIGHT)

    @cached_property
    def bright_for_gear(self) -> NDArray[np.bool_]:
        """The nodes (N,) that all but ``GEAR_DIM_LIGHT`` of the clear year's accepted light comes from."""
        return brightest(self.light[0], GEAR_DIM_LIGHT)

    @cached_property
    def node_favour(self) -> Array:
        """How accepted light favours parts of the apertures (N, TERMS) at the nodes of the shade table."""
        return favour_of(self.node_over)


def mean_of(some: Sequence[tuple[OpticsAt, float]]) -> OpticsAt:
    """The mean of shares and poses given with their weights, which sum to one."""
    if len(some) == 1:
        return some[0][0]
    names = ("into_window", "accepted", "slide_m", "roll_deg")
    return OpticsAt(**{name: sum(weight * getattr(one, name) for one, weight in some) for name in names})


def motion_of(motion: Motion, along: Array) -> LineMotion:
    """A line's motion as the engine takes it; ``along`` (3,) is e in the mirror frame.

    No receiver rolls about a line along the mirrors' axis. A design with such a line is refused; only uneven ground may
    tilt one so far, which a finding forbids to build (``line_along_axis``) and which is reckoned as turned off the axis
    just enough.
    """
    if abs(along[2]) > MOST_ALONG_AXIS:
        off = np.hypot(along[0], along[1])
        aside_of_axis = along[:2] / off if off > 0 else np.array([1.0, 0.0])
        rest = np.sqrt(1.0 - MOST_ALONG_AXIS**2)
        along = np.array([*(rest * aside_of_axis), np.copysign(MOST_ALONG_AXIS, along[2])])
    aside = motion.axis_aside_m * up_the_slope(along)
    return LineMotion(
        along=(round(float(along[0]), 9), round(float(along[1]), 9), round(float(along[2]), 9)),
        arm_m=motion.arm_m,
        slide_min_m=-motion.stroke_m,
        slide_max_m=motion.stroke_m,
        roll_min_deg=motion.roll_from_deg,
        roll_max_deg=motion.roll_to_deg,
        axis_offset_m=(round(float(aside[0]), 9), round(float(aside[1]), 9), motion.axis_up_m),
        slide_mode=motion.slide,
        roll_mode=motion.roll,
        slide_fixed_m=motion.slide_at_m,
        roll_fixed_deg=motion.roll_at_deg,
        hold_days=motion.hold_days,
        arm_lean_deg=motion.arm_lean_deg,
        window_turn_deg=motion.window_turn_deg,
    )


def optics_motion(design: Design, placed: PlacedLine) -> LineMotion:
    """A line's motion as its optics reads it: over uneven ground at the nearest of evenly spread grades, over a plane at
    its own."""
    if design.ground.heights is None:
        return motion_of(design.motion, placed.axes @ placed.along)
    return _motion_at(design, placed, _rounded_grade(placed))


def _rounded_grade(placed: PlacedLine) -> float:
    """The line's grade in percent as its optics reads it over uneven ground."""
    e = placed.along
    return round(100 * float(e[2]) / float(np.hypot(e[0], e[1])) / GRADE_STEP_PERCENT) * GRADE_STEP_PERCENT


def _motion_at(design: Design, placed: PlacedLine, grade_percent: float) -> LineMotion:
    """The motion of a line that runs as ``placed`` on the plan, at another grade."""
    level = float(np.hypot(placed.along[0], placed.along[1]))
    on_plan = float(placed.along[0]) / level, float(placed.along[1]) / level
    return _motion(design.motion, on_plan, placed.axes.tobytes(), grade_percent)


@lru_cache(maxsize=2000)
def _motion(motion: Motion, on_plan: tuple[float, float], axes: bytes, grade_percent: float) -> LineMotion:
    e = np.array([*on_plan, grade_percent / 100])
    return motion_of(motion, np.frombuffer(axes).reshape(3, 3) @ (e / np.linalg.norm(e)))


def errors_of(design: Design) -> Errors:
    """Sun, scatter and slope errors of a design's mirrors; the slope with what the ribs' bow and wrinkles add."""
    mirror = design.mirror
    slope = slope_of(mirror, design.materials.rod_mm)
    return Errors(sun_mrad=SUN_RMS_MRAD, scatter_mrad=mirror.scatter_mrad, slope_mrad=slope.total_mrad)


def window_of(design: Design) -> Window:
    """The receiver's window."""
    receiver = design.receiver
    return Window(
        width_m=receiver.window_width_m,
        height_m=receiver.window_height_m,
        acceptance_deg=receiver.acceptance_deg,
    )


def optics_key(design: Design, placed: PlacedLine) -> tuple[object, ...]:
    """What the optics of a line reads."""
    motion = optics_motion(design, placed)
    blended = design.ground.heights is not None
    return ("line's optics", form_of(design.mirror), errors_of(design), window_of(design), motion, blended)


def table_covering(
    design: Design, placed: PlacedLine, suns: Array, cache: Cache, *, tick: Tick = no_tick
) -> OpticsTable:
    """The optics table of a line, reaching all ``suns`` (N, 3) of the mirror frame that stand before the mirror."""
    return _between_tables(design, placed, lambda motion: _table_of(design, motion, suns, cache, tick))


def motions_beside(design: Design, placed: PlacedLine) -> tuple[tuple[LineMotion, float], ...]:
    """The motions whose optics a line's is blended from, with their shares: over a plane its own alone; over uneven
    ground those at the evenly spread grades next to its own, so that few serve all lines."""
    if design.ground.heights is None:
        return ((optics_motion(design, placed), 1.0),)
    grade = _rounded_grade(placed)
    below = floor(grade / TABLE_STEP_PERCENT + 1e-9) * TABLE_STEP_PERCENT
    share = (grade - below) / TABLE_STEP_PERCENT
    first = _motion_at(design, placed, below)
    if share < 1e-6:
        return ((first, 1.0),)
    return (first, 1.0 - share), (_motion_at(design, placed, below + TABLE_STEP_PERCENT), share)


def _between_tables(
    design: Design, placed: PlacedLine, table_of: Callable[[LineMotion], OpticsTable]
) -> OpticsTable:
    """The table for a line's motion, shares and poses blended evenly in the grade: a line that is moved over uneven ground
    needs no new one.

    Against tables of their own the year's absorbed light of lines square to, beside and along their mirrors' slope
    differs by less than 0.05 % (tests/study/test_uneven_optics.py).
    """
    (first, whole), *others = motions_beside(design, placed)
    table = table_of(first)
    if not others:
        return table
    (second, share) = others[0]
    other = table_of(second)
    blended = {
        name: whole * getattr(table, name) + share * getattr(other, name)
        for name in ("into_window", "accepted", "slide_m", "roll_deg", "over")
    }
    return replace(table, motion=optics_motion(design, placed), **blended)


def _table_of(
    design: Design, motion: LineMotion, suns: Array, cache: Cache, tick: Tick = no_tick
) -> OpticsTable:
    """The table of one motion, kept and grown as other suns are asked for, part by part so that ``tick`` may stop it."""
    form, errors, window = form_of(design.mirror), errors_of(design), window_of(design)
    key = ("optics", form, errors, window, motion)
    table = cache.get(key, lambda: optics_table(form, errors, window, motion, suns=np.zeros((0, 3))))
    reaching, parts = table, max(1, len(suns) // _SUNS_AT_ONCE)
    for part, some in enumerate(np.array_split(suns, parts)):
        tick(part / parts)
        reaching = reaching.covering(some)
    if reaching is not table:
        cache.put(key, reaching)
    return reaching


def year_key(design: Design, placed: PlacedLine, sky: Sky) -> tuple[object, ...]:
    """What the optics of a line over the year reads."""
    return (*optics_key(design, placed), spread_of(design, placed), placed.axes.tobytes(), sky.key)


def optics_of(
    design: Design, placed: PlacedLine, sky: Sky, cache: Cache, *, tick: Tick = no_tick
) -> LineOptics:
    """The optics of one line over the year; lines that stand and run alike share it.

    Over uneven ground it is a mean of that of the motions beside the line's own, as their tables are; so lines of many grades
    cost no more than these few. Held poses are chosen from the line's own light instead.
    """
    key = year_key(design, placed, sky)
    beside = motions_beside(design, placed)
    if len(beside) == 1 or "held" in (design.motion.slide, design.motion.roll):
        return cache.get(key, lambda: _optics(design, placed, sky, cache, tick))

    def of_motion(motion: LineMotion) -> LineOptics:
        reads = ("beside", motion, *(part for part in key if not isinstance(part, LineMotion)))
        return cache.get(reads, lambda: _optics(design, placed, sky, cache, tick, motion))

    def between() -> LineOptics:
        return _between(optics_motion(design, placed), [(of_motion(one), share) for one, share in beside])

    return cache.get(key, between, size=_OF_ITS_OWN)


def _between(motion: LineMotion, beside: Sequence[tuple[LineOptics, float]]) -> LineOptics:
    """The optics of a motion between others, given with their shares."""
    first = beside[0][0]
    return replace(
        first,
        motion=motion,
        parts=tuple((its.parts[0][0], share) for its, share in beside),
        grid=tuple((its.grid[0][0], share) for its, share in beside),
        at_nodes=mean_of([(its.at_nodes, share) for its, share in beside]),
        node_over=np.asarray(sum(share * its.node_over for its, share in beside)),
        light=np.asarray(sum(share * its.light for its, share in beside)),
    )


def _optics(
    design: Design, placed: PlacedLine, sky: Sky, cache: Cache, tick: Tick, motion: LineMotion | None = None
) -> LineOptics:
    """The optics of a line, or what it would be with another ``motion``."""
    parts = sky.part_suns @ placed.axes.T
    nodes = sky.nodes.suns @ placed.axes.T
    grid = sky.grid.suns @ placed.axes.T
    suns = np.concatenate([parts, nodes, grid])
    spread = spread_of(design, placed)

    def between(table_of: Callable[[LineMotion], OpticsTable]) -> OpticsTable:
        return _between_tables(design, placed, table_of) if motion is None else table_of(motion)

    def over_receivers(motion: LineMotion) -> OpticsTable:
        own = _table_of(design, motion, suns, cache, tick)
        if spread.none:
            return own
        key = (
            "spread optics",
            form_of(design.mirror),
            errors_of(design),
            window_of(design),
            motion,
            spread,
            placed.axes.tobytes(),
            sky.key,
        )
        return cache.get(key, lambda: spread_table(own, suns, spread))

    table = between(lambda its: _table_of(design, its, suns, cache, tick))
    meaned = between(over_receivers)
    held = "held" in (design.motion.slide, design.motion.roll)

    def at(suns: Array, clear: Array, days: NDArray[np.intp]) -> OpticsAt:
        if not held:
            return meaned.at(suns)
        weights = clear * np.maximum(suns[:, 2], 0.0)
        return held_optics(meaned, suns, weights=weights, days=days).optics

    grid_days = np.repeat(sky.grid.day_of_year.astype(np.intp) - 1, sky.grid.up.sum(axis=1))
    clear = sky.of_parts(sky.clear)
    at_parts, at_grid = at(parts, clear, sky.part_day), at(grid, sky.grid.clear, grid_days)
    cosine, grid_cosine = np.maximum(parts[:, 2], 0.0), np.maximum(grid[:, 2], 0.0)
    light = sky.nodes.leaning(clear * cosine * at_parts.accepted)
    of_grid = sky.grid.nodes.leaning(sky.grid.clear * grid_cosine * at_grid.accepted)
    return LineOptics(
        motion=meaned.motion,
        cosine=cosine,
        grid_cosine=grid_cosine,
        parts=((at_parts, 1.0),),
        grid=((at_grid, 1.0),),
        at_nodes=meaned.at(nodes),
        node_over=table.over_at(nodes),
        bright=brightest(sky.nodes.leaning(clear * cosine), DIM_LIGHT),
        light=np.stack([light, of_grid]),
    )


def brightest(light: Array, but: float) -> NDArray[np.bool_]:
    """The nodes (N,) without the darkest, which bring less than the share ``but`` of all ``light`` (N,) together."""
    order = np.argsort(light, kind="stable")
    bright = np.empty(len(light), np.bool_)
    bright[order] = np.cumsum(light[order]) > but * light.sum()
    return bright
