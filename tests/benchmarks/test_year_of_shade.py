"""A year's shade of ragged lines on uneven ground: the program's way against cut polygons and cast rays, within one run.

The program works the shade out at the places of the sun that the year is blended from (``study/nodes.py: sun_nodes``); what a
month loses is a sum over these, with a weight for each (``study/reaching.py``), from three suns an hour. The other ways work
at every sunlit hour's one. They are timed on some of them, spread evenly over the sun's height, and scaled to the year. CPU
time; the program's own holds the making of its table and weights, in a process that keeps freed memory as the one that
assesses does. What 10,000 mirrors take is printed in what 1,000 take, and so for each line: no two lines are alike, so that
nothing is shared.

All three are held against the closed form at the true suns of the hours, weighted with their light: the program's table over
the whole field and every hour, and all three on some lines and hours, where cut polygons show that the closed form is exact.
"""

from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from multiprocessing import get_context
from time import process_time

import numpy as np
import pytest

from studio.design.site import Site
from studio.engine.shade.lines import answers, near_rows
from studio.engine.shade.rows import Floats, RowOfMirrors
from studio.engine.shade.unlike import LineTask
from studio.engine.sky.sun import part_suns
from studio.files.examples import example_path
from studio.files.site import open_site
from studio.study.apart import roomy_memory
from studio.study.cache import Cache
from studio.study.nodes import SunNodes, sun_nodes
from studio.study.optics import DIM_LIGHT, brightest
from studio.study.shade import LINES_AT_ONCE, longest_shadow
from studio.study.sky import HOUR_PARTS, Sky, sky_of
from tests.benchmarks.many_mirrors import ragged_rows
from tests.benchmarks.other_ways import Apertures, Rays, cut_polygons

HOURS = {100: 400, 1000: 60, 10_000: 16}
"""Hours on which the other ways are timed."""
LEAST_RATIO = {100: 50, 1000: 200, 10_000: 400}
AIM = {100: 100, 1000: 500, 10_000: 1000}
MOST_GROWTH = 8
"""What 10,000 mirrors may take in what 1,000 take."""
ROUNDS = 16
LINES, EVERY = 6, 12
"""Lines on which the errors of all ways are looked at, and every how many hours."""
MOST_MEAN, MOST_OF_LINE = 2e-5, 2e-4
"""Of the light: what the table may put the year's shade off by, over the field and on its worst line."""


@cache
def site() -> Site:
    return open_site(example_path("large_field")).design.site


@cache
def sky() -> Sky:
    return sky_of(site(), open_site(example_path("large_field")).asset, Cache())


@dataclass(frozen=True)
class Moments:
    """T moments: their ``suns`` (T, 3) site frame and ``places`` (2, T) of them (declination, hour angle), the light ``dni``
    and ``clear`` (T,) of each, and where each stretch that is summed up begins, ``starts``."""

    suns: Floats
    places: tuple[Floats, Floats]
    dni: Floats
    clear: Floats
    starts: tuple[int, ...]

    def on(self, row: RowOfMirrors, light: Floats) -> Floats:
        """What of ``light`` (T,) falls on a row's apertures."""
        return np.asarray(light * np.maximum(self.suns @ np.array(row.axes[2]), 0.0))

    def table(self) -> SunNodes:
        """The places of the sun of the program's table, and how the moments are blended from them."""
        (nodes,) = sun_nodes(self.places, latitude_deg=site().latitude_deg)
        return nodes

    def weights(self, nodes: SunNodes, light: Floats) -> Floats:
        """How much of ``light`` (T,) is blended from each node, stretch by stretch: (K, N)."""
        ends = pairwise([*self.starts, len(light)])
        return np.stack([nodes.at(slice(a, b)).gather(light[a:b]) for a, b in ends])

    def every(self, number: int) -> "Moments":
        """One in so many of the moments, as one stretch."""
        some = slice(None, None, number)
        (declination, hour_angle) = self.places
        return Moments(
            self.suns[some], (declination[some], hour_angle[some]), self.dni[some], self.clear[some], (0,)
        )


@cache
def hours() -> Moments:
    """The sunlit hours, a sun each."""
    track, hour = sky().hours.track, sky().hour
    places = track.declination_deg[hour], track.hour_angle_deg[hour]
    return Moments(sky().suns, places, sky().dni, sky().clear, tuple(sky().month_starts.tolist()))


@cache
def parts() -> Moments:
    """What the program's year is made of: three suns an hour."""
    where = {"latitude_deg": site().latitude_deg, "altitude_m": site().altitude_m}
    declination, hour_angle = part_suns(sky().hours, sky().hour, HOUR_PARTS, **where)
    return Moments(
        sky().part_suns,
        (declination.ravel(), hour_angle.ravel()),
        sky().part_dni,
        sky().of_parts(sky().clear),
        tuple((sky().month_starts * HOUR_PARTS).tolist()),
    )


def lost(rows: tuple[RowOfMirrors, ...], moments: Moments) -> list[Floats]:
    """Light that other mirrors take from each row in each stretch (K,): the program's way."""
    return [its for some in by_batch(rows, moments) for its in some]


def by_batch(rows: tuple[RowOfMirrors, ...], moments: Moments) -> Iterator[list[Floats]]:
    """:func:`lost`, so many rows after one another as an assessment works out together."""
    nodes = moments.table()
    near = near_rows(rows, longest_shadow(nodes.suns))
    by_facing: dict[object, tuple[np.ndarray[tuple[int], np.dtype[np.bool_]], Floats]] = {}
    for row in rows:
        if row.axes not in by_facing:
            dim = ~brightest(nodes.leaning(moments.on(row, moments.clear)), DIM_LIGHT)
            by_facing[row.axes] = dim, moments.weights(nodes, moments.on(row, moments.dni))
    for first in range(0, len(rows), LINES_AT_ONCE):
        some = rows[first : first + LINES_AT_ONCE]
        tasks = [
            LineTask(
                row,
                tuple(rows[other] for other in np.flatnonzero(near[first + place])),
                nodes.suns,
                by_facing[row.axes][0],
            )
            for place, row in enumerate(some)
        ]
        yield [by_facing[row.axes][1] @ shade.mean for row, shade in zip(some, answers(tasks), strict=True)]


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
    scale = len(sky().suns) / len(suns)
    return Times(
        ours=own_times()[mirrors],
        cut=scale * seconds(lambda: [cut_polygons(field, sun) for sun in suns]),
        rays=scale * seconds(lambda: [rays.shares(sun) for sun in suns]),
    )


@cache
def own_times() -> dict[int, float]:
    """What the program's way takes for each field, see :func:`least_times`, in a process that keeps freed memory."""
    with roomy_memory(), ProcessPoolExecutor(1, mp_context=get_context("spawn")) as apart:
        return apart.submit(least_times).result()


def least_times() -> dict[int, float]:
    """CPU seconds for each field. Every batch counts with the least of some rounds, so that long runs are no more exposed
    than short ones to what else the machine does."""
    fields = {mirrors: ragged_rows(mirrors) for mirrors in HOURS}
    lost(fields[100][:2], parts())  # modules are loaded here, and the year is made
    rounds: dict[int, list[list[float]]] = {mirrors: [] for mirrors in HOURS}
    for _round in range(ROUNDS):
        for mirrors, rows in fields.items():
            rounds[mirrors].append(batch_times(rows))
    return {mirrors: float(np.min(its, axis=0).sum()) for mirrors, its in rounds.items()}


def batch_times(rows: tuple[RowOfMirrors, ...]) -> list[float]:
    """CPU seconds for each batch; all answers are kept, as a year's are."""
    found, taken, start = [], [], process_time()
    for batch in by_batch(rows, parts()):
        found.append(batch)
        now = process_time()
        taken.append(now - start)
        start = now
    return taken


@dataclass(frozen=True)
class Errors:
    """What the year's shade of lines is off by, each as a share of the line's light."""

    of: Floats

    @property
    def mean(self) -> float:
        return abs(float(self.of.mean()))

    @property
    def worst(self) -> float:
        return float(np.abs(self.of).max())

    def __str__(self) -> str:
        return f"{100 * self.mean:.4f} % ({100 * self.worst:.4f} %)"


def errors_of_field(mirrors: int) -> Errors:
    """The program's errors on every line of the field, by the closed form at every sunlit hour."""
    rows = ragged_rows(mirrors)
    near = near_rows(rows, longest_shadow(sky().suns))
    tasks = [
        LineTask(row, tuple(rows[other] for other in np.flatnonzero(near[place])), sky().suns)
        for place, row in enumerate(rows)
    ]
    weights = [hours().on(row, hours().dni) for row in rows]
    ours, apart = lost(rows, hours()), []
    for first in range(0, len(rows), LINES_AT_ONCE):
        some = slice(first, first + LINES_AT_ONCE)
        for mine, true, weight in zip(ours[some], answers(tasks[some]), weights[some], strict=True):
            apart.append((mine.sum() - weight @ true.mean) / weight.sum())
    return Errors(np.array(apart))


def errors(mirrors: int) -> tuple[Errors, Errors, Errors]:
    """Errors on some lines and hours: ours, by rays, and those of cut polygons."""
    rows = ragged_rows(mirrors)
    near = near_rows(rows, 40.0)
    some = hours().every(EVERY)
    apart = []
    for chosen in np.random.default_rng(1).choice(len(rows), min(LINES, len(rows)), replace=False):
        around = [int(chosen), *np.flatnonzero(near[chosen]).tolist()]
        those = tuple(rows[place] for place in around)
        field = Apertures(those)
        rays, mine = Rays(field), field.line == 0
        weight = some.on(rows[chosen], some.dni)
        lit = weight > 0.0
        suns = some.suns[lit]
        true = next(answers([LineTask(those[0], those[1:], suns)])).mean
        cut = np.array([cut_polygons(field, sun, mine)[mine].mean() for sun in suns])
        cast = np.array([rays.shares(sun, mine)[mine].mean() for sun in suns])
        ours = lost(those, some)[0].sum()
        theirs = [weight[lit] @ shade for shade in (cast, cut)]
        apart.append((np.array([ours, *theirs]) - weight[lit] @ true) / weight.sum())
    of_ours, of_rays, of_cut = (Errors(each) for each in np.array(apart).T)
    return of_ours, of_rays, of_cut


@pytest.mark.parametrize("mirrors", [100, 1000, 10_000])
def test_a_years_shade_against_other_ways(mirrors: int, capsys: pytest.CaptureFixture[str]) -> None:
    its = times(mirrors)
    of_field, (of_ours, of_rays, of_cut) = errors_of_field(mirrors), errors(mirrors)
    growth = its.ours / own_times()[1000] if mirrors > 1000 else None
    lines = len(ragged_rows(mirrors)) / len(ragged_rows(1000))
    with capsys.disabled():
        print(
            f"\n{mirrors} mirrors, {len(sky().suns)} sunlit hours: {1e3 * its.ours:.0f} ms; shapely {its.cut:.1f} s, Embree with "
            f"100 rays a mirror {its.rays:.1f} s (timed on {HOURS[mirrors]} hours and scaled); ratio "
            f"{its.ratio:.0f} (at least {LEAST_RATIO[mirrors]}, aim {AIM[mirrors]})\n  the year's shade off, of the light, mean "
            f"(worst line): {of_field} on the whole field and every hour; on {len(of_ours.of)} lines and every {EVERY}th hour "
            f"{of_ours}, by rays {of_rays}, by cut polygons {of_cut}"
            + (
                f"\n  {growth:.1f} times what 1,000 mirrors take (at most {MOST_GROWTH}), for "
                if growth
                else ""
            )
            + (f"{lines:.1f} times as many lines" if growth else "")
        )
    assert of_cut.worst < 1e-9
    assert of_ours.mean <= of_rays.mean
    assert of_field.mean < MOST_MEAN
    assert of_field.worst < MOST_OF_LINE
    assert its.ratio >= LEAST_RATIO[mirrors]
    if growth is not None:
        assert growth < MOST_GROWTH
