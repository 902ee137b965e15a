"""How long planting 20 ha takes, as a ratio to shapely intersecting ten times as many candidate lines with the same land.

The land is invented: six corners, five no-build areas. CPU time, the best of several runs of each.
"""

from collections.abc import Callable
from time import process_time

import numpy as np
import pytest
import shapely
from shapely import Point, Polygon

from studio.engine.ground.plant import Planting, plant
from studio.engine.ground.stretches import unit_vectors

RUNS = 15
AZIMUTH = 83.0
PLOT = Polygon([(0, 0), (430, -20), (520, 180), (470, 390), (220, 450), (30, 380)])
NO_BUILD = (
    Point(100, 100).buffer(25, quad_segs=2), Polygon([(280, 60), (330, 70), (320, 110), (285, 100)]),
    Point(220, 260).buffer(40, quad_segs=2), Polygon([(390, 200), (420, 215), (395, 240)]),
    Polygon([(110, 290), (140, 295), (135, 320), (120, 325), (105, 310)]),
)  # fmt: skip


def _best(work: Callable[[], object]) -> float:
    times = []
    for _run in range(RUNS):
        start = process_time()
        work()
        times.append(process_time() - start)
    return 1e3 * min(times)


def test_planting_against_shapely_cutting_ten_times_as_many_lines(capsys: pytest.CaptureFixture[str]) -> None:
    land = PLOT.buffer(-3.0, join_style="mitre").difference(shapely.union_all(NO_BUILD))
    assert PLOT.area == pytest.approx(20e4, rel=0.01)

    def planted() -> Planting:
        return plant(
            land, azimuth_deg=AZIMUTH, pitch_m=3.2, spacing_m=1.35, reach_along_m=(3.5, 2.9), reach_square_m=(0.7, 1.0),
            longest=100, least=4,
        )  # fmt: skip

    along, square = unit_vectors(AZIMUTH)
    _west, south, _east, north = shapely.bounds(
        shapely.MultiPoint(shapely.get_coordinates(land) @ np.stack([along, square], axis=1))
    )
    strips = int((north - south) / 3.2)
    offsets = np.linspace(south, north, 10 * strips)[:, None, None]
    lines = shapely.linestrings(offsets * square + np.array([-1e3, 1e3])[:, None] * along)
    mine, cut = _best(planted), _best(lambda: shapely.intersection(lines, land))
    found = planted()
    with capsys.disabled():
        print(
            f"\n20 ha: {found.mirrors} mirrors on {len(found.lines)} lines at the best offset in {mine:.1f} ms; "
            f"shapely cuts {len(offsets)} candidate lines in {cut:.1f} ms; ratio {mine / cut:.2f}"
        )
    assert mine < cut
