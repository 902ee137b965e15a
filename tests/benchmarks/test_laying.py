"""Lines laid over measured heights, against scipy's reading of the ground under them."""

from collections.abc import Callable
from time import process_time

import numpy as np
from scipy.interpolate import RegularGridInterpolator

from studio.engine.ground.straight import straight_over
from studio.engine.ground.surface import grid_surface


def test_laying_250_lines_of_40_takes_no_longer_than_scipy_takes_to_read_the_ground_under_them() -> None:
    """A ratio of processor times within one run: how busy the machine is does not count."""
    y, x = np.mgrid[0:200, 0:200] * 2.0
    heights = 5 * np.sin(x / 40) * np.cos(y / 55) + 0.02 * x
    grid = grid_surface(heights, x_m=0.0, y_m=0.0, step_m=2.0)
    other = RegularGridInterpolator((2.0 * np.arange(200), 2.0 * np.arange(200)), heights)
    s = 1.4 * np.arange(40)

    def lay(turn: int) -> None:
        for line in range(250):
            straight_over(grid, x_m=5.0 + turn, y_m=1.5 * line, azimuth_deg=90.0, spacing_m=1.4, count=40)

    def read(turn: int) -> None:
        for line in range(250):
            for _time in range(2):  # once under the level line, once under its true vertices
                other(np.column_stack([np.full(40, 1.5 * line), 5.0 + turn + s]))

    def quickest(work: Callable[[int], None]) -> float:
        times = []
        for turn in range(5):
            start = process_time()
            work(turn)
            times.append(process_time() - start)
        return min(times)

    mine, theirs = quickest(lay), quickest(read)
    print(
        f"250 lines laid in {1000 * mine:.0f} ms of processor time; reading alone by scipy {1000 * theirs:.0f} ms"
    )
    assert mine < theirs
