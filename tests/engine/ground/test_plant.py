"""Planting against brute force: small random plots, offsets in fine steps, shapely judging each strip. Sizes are invented."""

import os
from dataclasses import dataclass, replace
from math import ceil, cos, floor, pi, radians, sin

import numpy as np
import pytest
import shapely
from shapely import Polygon, affinity, box
from shapely.geometry.base import BaseGeometry

from studio.engine.ground.plant import PlantedLine, Planting, azimuths_of, plant
from studio.engine.ground.stretches import free_stretches
from studio.errors import BadInputError

FULL = os.environ.get("STILLFIELD_FULL") == "1"
PLOTS, STEPS = (50, 600) if FULL else (10, 150)
FAR = 1000.0


@dataclass(frozen=True)
class Wish:
    """What is planted, and what a line takes up before, beyond, right and left of its vertices."""

    azimuth_deg: float = 90.0
    pitch_m: float = 3.0
    spacing_m: float = 1.0
    longest: int = 400
    least: int = 1
    lane_every: int = 0
    lane_m: float = 0.0
    between_m: float = 0.0
    along: tuple[float, float] = (2.4, 1.9)
    square: tuple[float, float] = (0.7, 1.0)

    def on(self, land: BaseGeometry) -> Planting:
        return plant(
            land, azimuth_deg=self.azimuth_deg, pitch_m=self.pitch_m, spacing_m=self.spacing_m, longest=self.longest,
            least=self.least, lane_every=self.lane_every, lane_m=self.lane_m, between_m=self.between_m,
            reach_along_m=self.along, reach_square_m=self.square,
        )  # fmt: skip

    def rectangle(self, line: PlantedLine) -> Polygon:
        """What a line takes up on the plan."""
        end = (line.count - 1) * self.spacing_m + self.along[1]
        there = box(-self.along[0], -self.square[0], end, self.square[1])
        turned = affinity.rotate(there, 90.0 - self.azimuth_deg, origin=(0, 0))
        return affinity.translate(turned, line.x_m, line.y_m)

    def stretch(self, length: float) -> int:
        """Most mirrors on a stretch: every number of lines tried."""
        ends, best = sum(self.along), 0
        for lines in range(1, int(length / ends) + 2):
            rest = length - lines * ends - (lines - 1) * self.between_m
            spacings = floor(rest / self.spacing_m + 1e-7)
            held = min(lines * self.longest, spacings + lines) if spacings >= 0 else 0
            best = max(best, held if held >= lines * self.least else 0)
        return best

    def strip(self, turned: BaseGeometry, offset: float) -> int:
        """Mirrors on one strip of land that was turned so that lines run east; the rest of the strip is projected."""
        rest = box(-FAR, offset - self.square[0], FAR, offset + self.square[1]).difference(turned)
        count, reached = 0, -FAR
        for low, high in sorted((part.bounds[0], part.bounds[2]) for part in shapely.get_parts(rest)):
            count += self.stretch(low - reached)
            reached = max(reached, high)
        return count

    def offsets(self, turned: BaseGeometry, first: float) -> list[float]:
        """All strips of the pattern that has one at ``first``, where a group of lines begins."""
        group = self.lane_every or 1
        period = group * self.pitch_m + (self.lane_m if self.lane_every else 0.0)
        low, high = turned.bounds[1], turned.bounds[3]
        turns = range(floor((low - first) / period) - 1, ceil((high - first) / period) + 1)
        return [first + turn * period + place * self.pitch_m for turn in turns for place in range(group)]

    def period(self) -> float:
        return (self.lane_every or 1) * self.pitch_m + (self.lane_m if self.lane_every else 0.0)

    def turned(self, land: BaseGeometry) -> BaseGeometry:
        return affinity.rotate(land, self.azimuth_deg - 90.0, origin=(0, 0))


def star(rng: np.random.Generator, x: float, y: float, radius: float, corners: int) -> Polygon:
    """A crooked area round a point, with reflex corners."""
    turns = (np.arange(corners) + rng.uniform(-0.45, 0.45, corners)) * 2 * pi / corners
    reach = radius * rng.uniform(0.45, 1.0, corners)
    return Polygon(np.stack([x + reach * np.cos(turns), y + reach * np.sin(turns)], axis=1))


def random_land(rng: np.random.Generator) -> BaseGeometry:
    land: BaseGeometry = star(rng, 0.0, 0.0, rng.uniform(14.0, 24.0), int(rng.integers(4, 10)))
    land = land.buffer(-0.5, join_style="mitre")
    for _area in range(int(rng.integers(0, 4))):
        x, y = rng.uniform(-12.0, 12.0, 2)
        area = star(rng, float(x), float(y), rng.uniform(1.0, 4.0), int(rng.integers(3, 7)))
        land = land.difference(area)
    return land


def random_wish(rng: np.random.Generator) -> Wish:
    least = int(rng.integers(1, 4))
    lane_every = int(rng.choice([0, 0, 2, 3]))
    return Wish(
        azimuth_deg=float(rng.uniform(0.0, 360.0)),
        pitch_m=float(rng.uniform(1.8, 4.5)),
        spacing_m=float(rng.uniform(0.9, 1.6)),
        least=least,
        longest=least + int(rng.integers(2, 14)),
        lane_every=lane_every,
        lane_m=float(rng.uniform(0.5, 3.0)) if lane_every else 0.0,
        between_m=float(rng.choice([0.0, 1.0])),
    )


@pytest.mark.parametrize("seed", range(PLOTS))
def test_the_best_offset_equals_brute_force(seed: int) -> None:
    rng = np.random.default_rng(seed)
    land, wish = random_land(rng), random_wish(rng)
    found, turned = wish.on(land), wish.turned(land)
    tried = [
        sum(wish.strip(turned, offset) for offset in wish.offsets(turned, first))
        for first in np.arange(STEPS) * (wish.period() / STEPS)
    ]
    assert found.mirrors >= max(tried)
    # and it is there: at the offset of the lines themselves shapely counts as many
    offsets = sorted({round(_offset(wish, line), 6) for line in found.lines})
    assert sum(wish.strip(turned, offset) for offset in offsets) == found.mirrors
    assert found.mirrors > 0
    # a range wider than a step holds one of the offsets tried; the full steps are fine enough for all
    if FULL or 2 * found.play_m > wish.period() / STEPS:
        assert found.mirrors == max(tried)


def _offset(wish: Wish, line: PlantedLine) -> float:
    azimuth = radians(wish.azimuth_deg)
    return line.y_m * sin(azimuth) - line.x_m * cos(azimuth)


@pytest.mark.parametrize("seed", range(100, 100 + PLOTS))
def test_every_line_lies_within_and_apart_at_the_pitch(seed: int) -> None:
    rng = np.random.default_rng(seed)
    land, wish = random_land(rng), random_wish(rng)
    found = wish.on(land)
    rectangles = [wish.rectangle(line) for line in found.lines]
    assert all(shapely.area(shapely.difference(rectangles, land)) < 1e-4)
    for number, rectangle in enumerate(rectangles):
        if wish.pitch_m > sum(wish.square):
            assert all(rectangle.intersection(other).area < 1e-4 for other in rectangles[:number])
    assert all(wish.least <= line.count <= wish.longest for line in found.lines)
    assert found.lines
    offsets = np.unique(np.round([_offset(wish, line) for line in found.lines], 6))
    assert found.offset_m == pytest.approx(offsets[0])
    group = (wish.lane_every or 1) * wish.pitch_m + wish.lane_m
    rest = (offsets - offsets[0]) % group
    allowed = {
        round(k * wish.pitch_m + lane, 5) % round(group, 5)
        for k in range(-3, 4)
        for lane in (0.0, wish.lane_m)
    }
    assert all(min(abs(r - a) % group for a in allowed) < 1e-4 or group - r < 1e-4 for r in rest.tolist())


@pytest.mark.parametrize("seed", range(200, 205))
def test_stretches_are_those_that_shapely_leaves(seed: int) -> None:
    rng = np.random.default_rng(seed)
    land, wish = random_land(rng), random_wish(rng)
    right, left = wish.square
    stretches = free_stretches(land, azimuth_deg=wish.azimuth_deg, right_m=right, left_m=left)
    turned = wish.turned(land)
    for offset in rng.uniform(turned.bounds[1], turned.bounds[3], 40).tolist():
        rest = box(-FAR, offset - right, FAR, offset + left).difference(turned)
        blocked = shapely.union_all([box(p.bounds[0], 0, p.bounds[2], 1) for p in shapely.get_parts(rest)])
        free = box(-FAR, 0, FAR, 1).difference(blocked)
        wanted = sorted(p.bounds[::2] for p in shapely.get_parts(free) if p.area > 1e-9)
        found = stretches.across(offset)
        found = found[np.diff(found, axis=1)[:, 0] > 1e-9]
        assert found.tolist() == [pytest.approx(one, abs=1e-7) for one in wanted]


def test_a_plot_that_fits_exactly_is_planted_at_the_one_offset_there_is() -> None:
    # 10 mirrors 1 m apart and their ends, 13.3 m; three strips 1.7 m deep at a pitch of 3 m, 7.7 m
    found = Wish().on(box(5.0, 2.0, 5.0 + 13.3, 2.0 + 7.7))
    assert [line.count for line in found.lines] == [10, 10, 10]
    assert [line.y_m for line in found.lines] == pytest.approx([2.7, 5.7, 8.7])
    assert [line.x_m for line in found.lines] == pytest.approx([7.4] * 3)
    assert found.play_m < 1e-6
    less = Wish().on(box(5.0, 2.0, 5.0 + 13.3 - 1e-4, 2.0 + 7.7 - 1e-4))
    assert (len(less.lines), less.mirrors) == (2, 18)


def test_a_no_build_area_splits_a_strip() -> None:
    land = box(0.0, 0.0, 30.0, 2.0).difference(box(14.0, -1.0, 15.0, 0.5))
    found = Wish().on(land)
    assert [line.count for line in found.lines] == [10, 11]
    clear = Wish(square=(0.2, 0.3)).on(land)  # beside it a narrow line passes
    assert [line.count for line in clear.lines] == [26]


def test_a_long_stretch_takes_several_lines_shared_out_evenly() -> None:
    wish = Wish(longest=10, least=4)
    # 25 mirrors on three lines: three times the ends, and 22 spacings
    found = wish.on(box(0.0, 0.0, 3 * 4.3 + 22.0, 1.8))
    assert [line.count for line in found.lines] == [9, 8, 8]
    shorter = wish.on(box(0.0, 0.0, 3 * 4.3 + 22.0 - 0.01, 1.8))
    assert shorter.mirrors == 24
    # 11 on two lines need 17.6 m; below it one line has its 10 at most
    assert wish.on(box(0.0, 0.0, 17.5, 1.8)).mirrors == 10
    assert wish.on(box(0.0, 0.0, 7.2, 1.8)).mirrors == 0


def test_lanes_lie_after_so_many_lines_where_they_cost_least() -> None:
    wish = Wish(lane_every=2, lane_m=2.5)
    found = wish.on(box(0.0, 0.0, 20.0, 1.7 + 3.0 + 5.5 + 3.0))
    assert np.diff([line.y_m for line in found.lines]) == pytest.approx([3.0, 5.5, 3.0])
    assert replace(wish, lane_m=0.0, lane_every=0).on(box(0.0, 0.0, 20.0, 13.2)).mirrors == found.mirrors


def test_where_nothing_fits_nothing_is_planted() -> None:
    for land in (box(0.0, 0.0, 4.2, 5.0), box(0.0, 0.0, 50.0, 1.6), Polygon()):
        found = Wish().on(land)
        assert (found.lines, found.mirrors, found.offset_m) == ((), 0, 0.0)


@pytest.mark.parametrize(
    ("wish", "said"),
    [
        (Wish(pitch_m=0.0), "A pitch of 0.00 m"),
        (Wish(spacing_m=-1.0), "A spacing of"),
        (Wish(pitch_m=float("nan")), "A pitch of"),
        (Wish(least=5, longest=4), "5 to 4 mirrors"),
        (Wish(least=0), "0 to 400 mirrors"),
        (Wish(lane_every=-1), "after every -1 lines"),
        (Wish(lane_every=1, lane_m=-0.5), "neither may lie below 0"),
        (Wish(along=(0.0, 1.0)), "more than nothing"),
        (Wish(between_m=float("inf")), "apart end to end"),
    ],
)
def test_what_cannot_be_planted_with_is_refused_in_one_sentence(wish: Wish, said: str) -> None:
    with pytest.raises(BadInputError, match=said):
        wish.on(box(0.0, 0.0, 50.0, 50.0))


def test_azimuths_follow_the_edges_the_longest_direction_first() -> None:
    # two edges of 30 m run at 60 degrees, the others are 10 m at 330 and 300 m in all
    slanted = affinity.rotate(box(0.0, 0.0, 30.0, 10.0), 30.0, origin=(0, 0))
    assert azimuths_of(slanted) == pytest.approx((60.0, 240.0, 150.0, 330.0))
    triangle = Polygon([(0.0, 0.0), (4.0, 0.0), (4.0, 3.0)])
    assert azimuths_of(triangle)[:2] == pytest.approx((53.130102, 233.130102))


def test_edges_that_run_alike_count_together() -> None:
    # two northward edges of 6 m beat one eastward edge of 10 m and its bent opposite
    bent = Polygon([(0.0, 0.0), (10.0, 0.0), (10.0, 6.0), (5.0, 8.0), (0.0, 6.0)])
    assert azimuths_of(bent)[0] == pytest.approx(0.0)
