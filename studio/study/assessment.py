"""What an assessment holds. Every part is frozen; arrays are never changed once they are here."""

from collections.abc import Hashable, Mapping
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from studio.design.design import Design
from studio.engine.parts.listing import PricedLine
from studio.study.findings import Finding

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class PlacedLine:
    """A line where it stands: site frame, metres. Two are equal only if they are one.

    ``first`` is the vertex of its first mirror, ``along`` the unit vector e from drive end to far end, ``axes`` the
    mirror frame as rows x, y, z in the site frame. It has ``count`` places; at those ``absent`` (from 0) no mirror
    stands, and pipe and frames run on.
    """

    id: int
    first: Array
    along: Array
    axes: Array
    spacing_m: float
    count: int
    first_number: int
    absent: tuple[int, ...] = ()

    @property
    def mirrors(self) -> int:
        """How many mirrors stand on it."""
        return self.count - len(self.absent)

    @cached_property
    def there(self) -> NDArray[np.int64]:
        """The places where a mirror stands, from 0, rising."""
        return np.delete(np.arange(self.count), self.absent) if self.absent else np.arange(self.count)

    @cached_property
    def make(self) -> tuple[Hashable, ...]:
        """What a line is seen from its own place: what alike lines have in common."""
        return self.along.tobytes(), self.axes.tobytes(), self.spacing_m, self.count, self.absent

    def vertices(self) -> Array:
        """Vertices of all its places, shape (count, 3)."""
        steps = np.arange(self.count)[:, None] * self.spacing_m
        return np.asarray(self.first + steps * self.along)

    @cached_property
    def box(self) -> tuple[Array, Array]:
        """Least and largest x, y, z of its vertices, (3,) each."""
        last = self.first + (self.count - 1) * self.spacing_m * self.along
        return np.minimum(self.first, last), np.maximum(self.first, last)


@dataclass(frozen=True)
class HeaderRun:
    """The header as it runs on the plan: polylines of points, and their lengths in metres along the ground."""

    hot: tuple[tuple[tuple[float, float], ...], ...]
    cold: tuple[tuple[tuple[float, float], ...], ...]
    hot_m: float
    cold_m: float

    @property
    def length_m(self) -> float:
        """Supply and return together."""
        return self.hot_m + self.cold_m


@dataclass(frozen=True)
class Step:
    """One step of the staircase of a year: a loss (negative kWh), or what stands at a landing."""

    key: str
    label: str
    kwh: float
    landing: bool = False


@dataclass(frozen=True)
class LineResult:
    """What one line brings and loses."""

    id: int
    mirrors: int
    annual_heat_kwh: float
    absorbed_kwh: float
    shade_loss_year: float
    winter_mean: float
    winter_largest: float
    winter_largest_hour: float
    winter_largest_mirror: int
    winter_with_gear: float
    winter_by: tuple[tuple[int, float], ...]
    """Who casts the winter shade: (line id, mean share), largest first."""
    passes: bool
    pipe_m: float
    horizon_loss_year: float
    obstacle_loss_year: float
    obstacles_by: tuple[tuple[int, float], ...]
    """What each obstacle would take alone of the year's light after cosine: (place in the list, share), largest first."""
    winter_with_all: float
    """The winter check's mean with pipes, obstacles and skyline."""
    grade_percent: float
    """Rise in m per 100 m on plan towards the far end."""
    post_shortest_m: float
    post_longest_m: float
    """From the ground to a mirror's vertex."""
    cut_m3: float
    fill_m3: float
    """Earth that grading the strip below the mirrors would move instead."""


@dataclass(frozen=True)
class Months:
    """Per month (12,) in kWh: the staircase's steps by key, sun on facing mirrors and outlet heat included."""

    kwh: Mapping[str, Array]

    def __reduce__(self) -> tuple[object, ...]:
        """As one array: it goes to the desk with each answer."""
        return _months_of, (tuple(self.kwh), np.array(list(self.kwh.values())))


def _months_of(keys: tuple[str, ...], kwh: Array) -> Months:
    return Months(dict(zip(keys, kwh, strict=True)))


@dataclass(frozen=True)
class SunCalendar:
    """A whole year as a picture: rows are days (``day_of_year``), columns clock hours; clear sky.

    ``heat_kw`` outlet heat of the field, ``intercept`` of a mirror of the first line, ``shade`` share of light lost to
    shade; NaN where the sun is below the horizon.
    """

    day_of_year: Array
    clock_h: Array
    heat_kw: Array
    intercept: Array
    shade: Array
    sunrise_h: Array
    sunset_h: Array


@dataclass(frozen=True)
class MaterialBlock:
    """A heading of the material list and its lines."""

    heading: str
    lines: tuple[PricedLine, ...]


@dataclass(frozen=True)
class Assessment:
    """All that the studio knows of a design. ``figures`` maps every key of ``FIGURES`` to a value or None."""

    design: Design
    rows: tuple[PlacedLine, ...]
    header: HeaderRun
    figures: Mapping[str, float | None]
    staircase: tuple[Step, ...]
    lines: tuple[LineResult, ...]
    months: Months
    materials: tuple[MaterialBlock, ...]
    missing_prices: tuple[str, ...]
    findings: tuple[Finding, ...]
    calendar: SunCalendar | None = field(default=None, repr=False)
    exact: bool = True
    """Whether all of it is of this design; while a hand drags, the shade of gear is that of the design before."""

    @property
    def forbids(self) -> bool:
        """Whether a finding forbids building."""
        return any(finding.forbids for finding in self.findings)
