"""Cost of a field's shade. The bounds are some three times what an ordinary desktop needs."""

from collections.abc import Callable
from time import process_time

import numpy as np

from studio.engine.mirror.frame import mirror_axes
from studio.engine.shade.gear import GearShape, pose_gear, same_gear
from studio.engine.shade.gear_shade import line_gear_shade, own_gear_of_line
from studio.engine.shade.lines import shade_of_lines
from studio.engine.shade.rows import Floats, RowOfMirrors

GEAR = GearShape(1.2, 0.12, 0.8, 0.24, 0.2, 0.15, 0.03, pipe_offset_m=(0.1, 0.16))


def sky() -> Floats:
    """350 suns above latitude 35: declination by hour angle."""
    decl, hour = np.meshgrid(np.radians(np.linspace(-23.45, 23.45, 18)), np.radians(np.linspace(-90, 90, 25)))
    south = np.radians(35.0)
    up = np.sin(south) * np.sin(decl) + np.cos(south) * np.cos(decl) * np.cos(hour)
    north = np.cos(south) * np.sin(decl) - np.sin(south) * np.cos(decl) * np.cos(hour)
    suns = np.stack([-np.cos(decl) * np.sin(hour), north, up], axis=-1).reshape(-1, 3)
    return np.asarray(suns[suns[:, 2] > 0.01][:350])


def field() -> tuple[RowOfMirrors, ...]:
    return tuple(
        RowOfMirrors(
            first=(0.3 * place, 3.2 * place, 1.0),
            along=(1.0, 0.0, 0.0),
            spacing_m=1.35,
            count=20,
            axes=mirror_axes(tilt_deg=35.0, facing_deg=180.0),
            width_m=1.25,
            height_m=1.44,
            plane_z_m=0.1,
        )
        for place in range(8)
    )


def best_ms(work: Callable[[], object]) -> float:
    times = []
    for _attempt in range(4):
        start = process_time()
        work()
        times.append(process_time() - start)
    return 1e3 * min(times)


def test_eight_lines_of_twenty_mirrors_cost_little() -> None:
    rows, suns = field(), sky()
    mirrors = best_ms(lambda: shade_of_lines(rows, suns))
    assert mirrors < 60
    slide, roll = np.linspace(-1.1, 1.1, len(suns)), np.linspace(-25, 25, len(suns))
    line = pose_gear(GEAR, rows[0], suns, slide_m=slide, roll_deg=roll)
    lines, own, shade = (
        [same_gear(line, row) for row in rows],
        own_gear_of_line(line),
        shade_of_lines(rows, suns),
    )

    def all_gear() -> None:
        for place, target in enumerate(lines):
            others = (*lines[:place], *lines[place + 1 :])
            line_gear_shade(target, others, shade[place], own=own)

    assert best_ms(all_gear) < 360
