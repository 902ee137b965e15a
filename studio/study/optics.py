"""Stage: what a mirror's optics does with the sun, hour by hour, without shade."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from studio.design.design import Design
from studio.design.motion import Motion
from studio.engine.mirror.form import Errors, Window
from studio.engine.motion.held import held_optics
from studio.engine.motion.pose import LineMotion
from studio.engine.motion.spread import Spread, spread_table
from studio.engine.motion.table import OpticsAt, OpticsTable, optics_table
from studio.study.assessment import Array, PlacedLine
from studio.study.beside import spread_of
from studio.study.build import slope_of
from studio.study.cache import Cache
from studio.study.place import form_of, up_the_slope
from studio.study.sky import Sky
from studio.units import SUN_RMS_MRAD

LEAST_LIGHT = 5e-5
"""Share of the clear year's accepted light that the darkest suns bring together; receivers are taken to rest at them."""


@dataclass(frozen=True)
class LineOptics:
    """The optics of lines that stand and run alike, on the mean of their receivers.

    ``cosine`` (T,) of incidence at the sunlit hours, 0 where the sun is behind the mirror; ``at_hours`` the shares and
    poses of those hours; ``node_cosine`` (N,) and ``at_nodes`` the same at the nodes of the shade table, ``grid_cosine`` (U,)
    and ``at_grid`` at the moments of the clear grid. ``working`` (N,): the nodes that all but ``LEAST_LIGHT`` of
    the clear year's accepted light comes from; ``bright`` (N,) those of its light on the apertures.
    """

    table: OpticsTable
    cosine: Array
    at_hours: OpticsAt
    node_cosine: Array
    at_nodes: OpticsAt
    working: NDArray[np.bool_]
    bright: NDArray[np.bool_]
    grid_cosine: Array
    at_grid: OpticsAt


def motion_of(motion: Motion, along: Array) -> LineMotion:
    """A line's motion as the engine takes it; ``along`` (3,) is e in the mirror frame."""
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
    motion = motion_of(design.motion, placed.axes @ placed.along)
    return ("optics", form_of(design.mirror), errors_of(design), window_of(design), motion)


def table_covering(design: Design, placed: PlacedLine, suns: Array, cache: Cache) -> OpticsTable:
    """The optics table of a line, reaching all ``suns`` (N, 3) of the mirror frame that stand before the mirror."""
    key = optics_key(design, placed)
    empty = np.zeros((0, 3))
    table = cache.get(
        key,
        lambda: optics_table(
            form_of(design.mirror),
            errors_of(design),
            window_of(design),
            motion_of(design.motion, placed.axes @ placed.along),
            suns=empty,
        ),
    )
    reaching = table.covering(suns)
    if reaching is not table:
        cache.put(key, reaching)
    return reaching


def optics_of(design: Design, placed: PlacedLine, sky: Sky, cache: Cache) -> LineOptics:
    """The optics of one line over the year; lines that stand and run alike share it."""
    spread = spread_of(design, placed)
    key = (*optics_key(design, placed), spread, placed.axes.tobytes(), sky.key)
    return cache.get(key, lambda: _optics(design, placed, spread, sky, cache))


def _optics(design: Design, placed: PlacedLine, spread: Spread, sky: Sky, cache: Cache) -> LineOptics:
    hours = sky.suns @ placed.axes.T
    nodes = sky.nodes.suns @ placed.axes.T
    grid = sky.grid.suns @ placed.axes.T
    suns = np.concatenate([hours, nodes, grid])
    table = table_covering(design, placed, suns, cache)
    meaned = spread_table(table, suns, spread)
    held = "held" in (design.motion.slide, design.motion.roll)

    def at(suns: Array, clear: Array, days: NDArray[np.intp]) -> OpticsAt:
        if not held:
            return meaned.at(suns)
        weights = clear * np.maximum(suns[:, 2], 0.0)
        return held_optics(meaned, suns, weights=weights, days=days).optics

    grid_days = np.repeat(sky.grid.day_of_year.astype(np.intp) - 1, sky.grid.up.sum(axis=1))
    at_hours, at_grid = at(hours, sky.clear, sky.hour // 24), at(grid, sky.grid.clear, grid_days)
    cosine, grid_cosine = np.maximum(hours[:, 2], 0.0), np.maximum(grid[:, 2], 0.0)
    light = sky.nodes.gather(sky.clear * cosine * at_hours.accepted)
    of_grid = sky.grid.nodes.gather(sky.grid.clear * grid_cosine * at_grid.accepted)
    return LineOptics(
        table=table,
        cosine=cosine,
        at_hours=at_hours,
        node_cosine=np.maximum(nodes[:, 2], 0.0),
        at_nodes=meaned.at(nodes),
        working=brightest(light) | brightest(of_grid),
        bright=brightest(sky.nodes.gather(sky.clear * cosine)),
        grid_cosine=grid_cosine,
        at_grid=at_grid,
    )


def brightest(light: Array) -> NDArray[np.bool_]:
    """The nodes (N,) but the darkest, which bring less than ``LEAST_LIGHT`` of all ``light`` (N,) together."""
    order = np.argsort(light, kind="stable")
    bright = np.empty(len(light), np.bool_)
    bright[order] = np.cumsum(light[order]) > LEAST_LIGHT * light.sum()
    return bright
