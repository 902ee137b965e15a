"""Where the field stands: site, weather, plot, ground."""

from typing import Annotated, ClassVar, Literal

from studio.design.fields import ByKind, Choice, Count, Quantity, Text, document, mark

Point = tuple[Annotated[float, Quantity("x", "m", digits=2)], Annotated[float, Quantity("y", "m", digits=2)]]
"""A place in the site frame: metres east and north of the site's reference point."""
Ring = tuple[Point, ...]
"""Corners of an area, not closed: the last is joined to the first."""

Share = Quantity("share", "", low=0.0, high=1.0)

_MonthlySum = Annotated[float, Quantity("mean daily DNI of the month", "kWh/m2 a day", low=0.0, high=15.0)]
_MonthlyAir = Annotated[
    float, Quantity("mean air temperature of the month", "°C", low=-60.0, high=60.0, digits=1)
]
_MonthlyWind = Annotated[float, Quantity("mean wind of the month", "m/s", low=0.0, high=40.0, digits=1)]
Months = tuple[
    _MonthlySum, _MonthlySum, _MonthlySum, _MonthlySum, _MonthlySum, _MonthlySum,
    _MonthlySum, _MonthlySum, _MonthlySum, _MonthlySum, _MonthlySum, _MonthlySum,
]  # fmt: skip
MonthsAir = tuple[
    _MonthlyAir, _MonthlyAir, _MonthlyAir, _MonthlyAir, _MonthlyAir, _MonthlyAir,
    _MonthlyAir, _MonthlyAir, _MonthlyAir, _MonthlyAir, _MonthlyAir, _MonthlyAir,
]  # fmt: skip
MonthsWind = tuple[
    _MonthlyWind, _MonthlyWind, _MonthlyWind, _MonthlyWind, _MonthlyWind, _MonthlyWind,
    _MonthlyWind, _MonthlyWind, _MonthlyWind, _MonthlyWind, _MonthlyWind, _MonthlyWind,
]  # fmt: skip


@document
class MonthlyWeather:
    """Twelve monthly means that shape a year of clear and cloudy days."""

    TITLE: ClassVar[str] = mark("Weather from monthly sums")

    kind: Literal["months"] = "months"
    dni_kwh_m2_day: Months = (4.4, 5.0, 5.6, 6.2, 6.9, 7.8, 7.6, 7.2, 6.6, 5.8, 4.7, 4.1)
    air_c: MonthsAir = (8.0, 9.5, 12.0, 15.0, 19.5, 24.0, 27.0, 26.5, 23.0, 18.0, 12.5, 9.0)
    wind_m_s: MonthsWind = (2.6, 2.8, 3.0, 3.0, 2.8, 2.8, 2.8, 2.6, 2.4, 2.4, 2.4, 2.5)
    daily_swing_k: Annotated[
        float,
        Quantity(
            mark("daily swing"),
            "K",
            mark("From the coolest to the warmest hour of a day"),
            low=0.0,
            high=40.0,
            digits=1,
        ),
    ] = 11.0
    seed: Annotated[
        int,
        Count(
            mark("sequence"),
            "",
            mark("Which sequence of clear and cloudy days; the same number gives the same year"),
            low=0,
            high=9999,
        ),
    ] = 0
    origin: Annotated[str, Text(mark("origin"), "", mark("Where these sums come from"))] = ""


@document
class FileWeather:
    """A year read from a weather file and kept in the site file."""

    TITLE: ClassVar[str] = mark("Weather from a file")

    kind: Literal["file"] = "file"
    asset: Annotated[str, Text(mark("kept year"), "", mark("Fingerprint of the kept year"), longest=64)] = ""
    origin: Annotated[str, Text(mark("origin"), "", mark("The file it was read from and its kind"))] = ""
    repairs: tuple[
        Annotated[str, Text(mark("repair"), "", mark("What was mended when it was read"))], ...
    ] = ()


@document
class Site:
    """The place, its clock and its weather."""

    TITLE: ClassVar[str] = mark("Site")

    name: Annotated[str, Text(mark("name"), "", mark("What this site is called on screen and paper"))] = (
        "Untitled"
    )
    latitude_deg: Annotated[
        float, Quantity(mark("latitude"), "°", mark("North is positive"), low=-66.0, high=66.0, digits=4)
    ] = 36.0
    longitude_deg: Annotated[
        float, Quantity(mark("longitude"), "°", mark("East is positive"), low=-180.0, high=180.0, digits=4)
    ] = 0.0
    altitude_m: Annotated[
        float, Quantity(mark("altitude"), "m", mark("Above sea level"), low=-430.0, high=6000.0, digits=0)
    ] = 0.0
    utc_offset_h: Annotated[
        float,
        Quantity(
            mark("clock ahead of UTC"),
            "h",
            mark("The site's standard time all year; no summer time"),
            low=-12.0,
            high=14.0,
        ),
    ] = 0.0
    weather: Annotated[MonthlyWeather | FileWeather, ByKind()] = MonthlyWeather()


@document
class NoBuild:
    """An area of the plot where nothing is built."""

    TITLE: ClassVar[str] = mark("No-build area")

    name: Annotated[str, Text(mark("name"), "", mark("What is there"))] = "no-build"
    ring: Ring = ()


@document
class Plot:
    """The piece of land."""

    TITLE: ClassVar[str] = mark("Plot")

    boundary: Ring = ()
    no_build: tuple[NoBuild, ...] = ()
    setback_m: Annotated[
        float,
        Quantity(
            mark("setback"), "m", mark("Strip inside the boundary that is kept free"), low=0.0, high=200.0
        ),
    ] = 2.0
    maintenance_gap_m: Annotated[
        float,
        Quantity(
            mark("maintenance gap"),
            "m",
            mark("Clear way between the mirrors of neighbouring lines"),
            low=0.0,
            high=20.0,
        ),
    ] = 0.8


_SpotHeight = tuple[
    Annotated[float, Quantity(mark("spot, x"), "m", mark("East of the reference point"))],
    Annotated[float, Quantity(mark("spot, y"), "m", mark("North of the reference point"))],
    Annotated[
        float, Quantity(mark("spot, height"), "m", mark("As it was measured"), low=-500.0, high=9000.0)
    ],
]
_Origin = Annotated[str, Text(mark("origin"), "", mark("Where these heights come from"))]
_Zero = Annotated[
    float,
    Quantity(
        mark("counts as zero"),
        "m",
        mark("Height that heights on the site are counted from"),
        low=-500.0,
        high=9000.0,
    ),
]


@document
class SpotHeights:
    """Measured heights of single places; between them the land is taken as the plane triangles that join them."""

    TITLE: ClassVar[str] = mark("Spot heights")

    kind: Literal["spots"] = "spots"
    spots: tuple[_SpotHeight, ...] = ()
    zero_m: _Zero = 0.0
    origin: _Origin = ""


@document
class HeightGrid:
    """Heights on an even grid of places, rows from south to north, each row from west to east.

    ``cells`` holds them in a compact form (``studio.design.heights``), so that a design stays whole by itself.
    """

    TITLE: ClassVar[str] = mark("Grid of heights")

    kind: Literal["grid"] = "grid"
    x_m: Annotated[float, Quantity(mark("first place, x"), "m", mark("South-west place of the grid"))] = 0.0
    y_m: Annotated[float, Quantity(mark("first place, y"), "m", mark("South-west place of the grid"))] = 0.0
    step_m: Annotated[
        float,
        Quantity(mark("step"), "m", mark("Between neighbouring places, both ways"), low=0.05, high=10_000.0),
    ] = 1.0
    columns: Annotated[
        int, Count(mark("columns"), "", mark("Places from west to east"), low=2, high=4000)
    ] = 2
    rows: Annotated[int, Count(mark("rows"), "", mark("Places from south to north"), low=2, high=4000)] = 2
    cells: Annotated[str, Text(mark("heights"), "", mark("The heights in compact form"), longest=400_000)] = (
        ""
    )
    zero_m: _Zero = 0.0
    origin: _Origin = ""


@document
class Ground:
    """The height of the land: level, a plane slope, or ``heights`` as measured, which stand in place of the slope."""

    TITLE: ClassVar[str] = mark("Ground")

    slope_percent: Annotated[
        float,
        Quantity(
            mark("slope"), "%", mark("Fall in metres per 100 m; 0 is level"), low=0.0, high=60.0, digits=1
        ),
    ] = 0.0
    falls_towards_deg: Annotated[
        float,
        Quantity(
            mark("falls towards"),
            "°",
            mark("Azimuth of the steepest way down, clockwise from true north"),
            low=-360.0,
            high=360.0,
            digits=0,
        ),
    ] = 180.0
    heights: Annotated[SpotHeights | HeightGrid, ByKind()] | None = None


@document
class Underlay:
    """A picture of the land from above, laid under the plan; ``asset`` is empty where there is none."""

    TITLE: ClassVar[str] = mark("Picture underlay")

    asset: Annotated[str, Text(mark("picture"), "", mark("Fingerprint of the kept picture"), longest=64)] = ""
    x_m: Annotated[float, Quantity(mark("middle, x"), "m", mark("Middle of the picture, east"))] = 0.0
    y_m: Annotated[float, Quantity(mark("middle, y"), "m", mark("Middle of the picture, north"))] = 0.0
    m_per_pixel: Annotated[
        float,
        Quantity(
            mark("metres a pixel"),
            "m",
            mark("What one pixel is on the land"),
            low=1e-4,
            high=1000.0,
            digits=4,
        ),
    ] = 0.1
    turned_deg: Annotated[
        float,
        Quantity(mark("turned"), "°", mark("Clockwise on the plan"), low=-360.0, high=360.0, digits=1),
    ] = 0.0
    strength: Annotated[
        float, Quantity(mark("strength"), "", mark("1 shows it in full, 0 not at all"), low=0.0, high=1.0)
    ] = 0.6
    origin: Annotated[str, Text(mark("origin"), "", mark("The file it was read from"))] = ""


Following = Literal["follow", "held", "fixed"]
FOLLOWING = Choice(
    mark("motion"),
    words={
        "follow": mark("follows all day"),
        "held": mark("set by hand"),
        "fixed": mark("fixed"),
    },
)
