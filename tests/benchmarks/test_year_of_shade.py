"""A year's shade of ragged lines on uneven ground: the program's way against cut polygons and cast rays, within one run.

The program works the shade out at the places of the sun that the year is blended from (``study/sky.py: sun_nodes``) and
blends it at every sunlit hour; the other ways work at every sunlit hour. They are timed on some of them, spread evenly over
the sun's height, and scaled to the year. All three are held against cut polygons at the true suns, on some lines, weighted with
the light of each hour. CPU time. What 10,000 mirrors take is printed in what 1,000 take: more than ten times as much, as
no two lines are alike and the larger field has lines end to end, which see nearly twice as many others.
"""

from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from time import process_time

import numpy as np
import pytest

from studio.engine.shade.lines import answers, near_rows
from studio.engine.shade.rows import Floats, RowOfMirrors
from studio.engine.shade.unlike import LineTask
from studio.files.examples import example_path
from studio.files.site import open_site
from studio.study.cache import Cache
from studio.study.optics import brightest
from studio.study.shade import longest_shadow
from studio.study.sky import Sky, sky_of
from tests.benchmarks.many_mirrors import ragged_rows
from tests.benchmarks.other_ways import Apertures, Rays, cut_polygons

HOURS = {100: 400, 1000: 60, 10_000: 16}
"""Hours on which the other ways are timed."""
LEAST_RATIO = {100: 50, 1000: 200, 10_000: 400}
AIM = {100: 100, 1000: 500, 10_000: 1000}
LINES, EVERY = 3, 12
"""Lines looked at for the errors, and every how many hours."""
MOST_ERROR = 0.002
"""Of a line's light: what the steps of the table may put the year's shade off by (``tests/study/test_steps.py``), as a root
mean square over lines. Where shade is little it is a tenth of that."""


@cache
def sky() -> Sky:
    document = open_site(example_path("large_field"))
    return sky_of(document.design.site, document.asset, Cache())


def light_on(row: RowOfMirrors) -> Floats:
    """The year's light (T,) on a row's apertures, by hour."""
    return np.asarray(sky().dni * np.maximum(sky().suns @ np.array(row.axes[2]), 0.0))


def years_shade(rows: tuple[RowOfMirrors, ...]) -> list[Floats]:
    """Shade (T,) of each row at every sunlit hour: the program's way."""
    nodes = sky().nodes
    near = near_rows(rows, longest_shadow(nodes.suns))
    dim: dict[object, np.ndarray[tuple[int], np.dtype[np.bool_]]] = {}
    for row in rows:
        if row.axes not in dim:
            dim[row.axes] = ~brightest(
                nodes.gather(sky().clear * np.maximum(sky().suns @ np.array(row.axes[2]), 0.0))
            )
    tasks = [
        LineTask(row, tuple(rows[other] for other in np.flatnonzero(near[place])), nodes.suns, dim[row.axes])
        for place, row in enumerate(rows)
    ]
    return [nodes.blend(shade.mean) for shade in answers(tasks)]


@dataclass(frozen=True)
class Times:
    """CPU seconds for a year."""

    ours: float
    cut: float
    rays: float

    @property
    def ratio(self) -> float:
        """How many times faster than the better of the other ways."""
        return min(self.cut, self.rays) / self.ours


def seconds(work: Callable[[], object]) -> float:
    start = process_time()
    work()
    return process_time() - start


@cache
def times(mirrors: int) -> Times:
    rows = ragged_rows(mirrors)
    field = Apertures(rows)
    rays = Rays(field)
    by_height = np.argsort(sky().suns[:, 2])
    some = ((np.arange(HOURS[mirrors]) + 0.5) / HOURS[mirrors] * len(by_height)).astype(np.intp)
    suns = sky().suns[by_height[some]]
    years_shade(rows[:2])  # modules are loaded here
    scale = len(sky().suns) / len(suns)
    return Times(
        ours=min(seconds(lambda: years_shade(rows)) for _round in range(3 if mirrors > 1000 else 8)),
        cut=scale * seconds(lambda: [cut_polygons(field, sun) for sun in suns]),
        rays=scale * seconds(lambda: [rays.shares(sun) for sun in suns]),
    )


def errors(mirrors: int) -> tuple[float, float]:
    """What the year's shade of some lines is off by, ours and by rays: root mean square, as a share of their light."""
    rows = ragged_rows(mirrors)
    near = near_rows(rows, 40.0)
    hours = np.arange(0, len(sky().suns), EVERY)
    apart = []
    for chosen in np.random.default_rng(1).choice(len(rows), min(LINES, len(rows)), replace=False):
        around = [int(chosen), *np.flatnonzero(near[chosen]).tolist()]
        field = Apertures(tuple(rows[place] for place in around))
        rays, mine = Rays(field), field.line == 0
        weight = light_on(rows[chosen])[hours]
        lit = weight > 0.0
        suns = sky().suns[hours][lit]
        true = np.array([cut_polygons(field, sun, mine)[mine].mean() for sun in suns])
        cast = np.array([rays.shares(sun, mine)[mine].mean() for sun in suns])
        ours = years_shade(tuple(rows[place] for place in around))[0][hours][lit]
        apart.append([(weight[lit] @ (shade - true)) / weight.sum() for shade in (ours, cast)])
    of_ours, of_rays = np.sqrt(np.mean(np.square(apart), axis=0)).tolist()
    return of_ours, of_rays


@pytest.mark.parametrize("mirrors", [100, 1000, 10_000])
def test_a_years_shade_against_other_ways(mirrors: int, capsys: pytest.CaptureFixture[str]) -> None:
    its = times(mirrors)
    of_ours, of_rays = errors(mirrors)
    growth = its.ours / times(1000).ours if mirrors > 1000 else None
    with capsys.disabled():
        print(
            f"\n{mirrors} mirrors, {len(sky().suns)} sunlit hours: {1e3 * its.ours:.0f} ms; shapely {its.cut:.1f} s, Embree with "
            f"100 rays a mirror {its.rays:.1f} s (timed on {HOURS[mirrors]} hours and scaled); ratio "
            f"{its.ratio:.0f} (at least {LEAST_RATIO[mirrors]}, aim {AIM[mirrors]}); the year's shade off by "
            f"{100 * of_ours:.3f} % of the light, by rays {100 * of_rays:.3f} %"
            + (f"; {growth:.1f} times what 1,000 mirrors take (wanted: below 8)" if growth else "")
        )
    assert of_ours < MOST_ERROR
    assert its.ratio >= LEAST_RATIO[mirrors]
    if growth is not None:
        assert growth < 16
