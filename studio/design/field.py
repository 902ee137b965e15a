"""The lines, their pipes, the header and the store."""

from dataclasses import replace
from typing import Annotated, ClassVar, Literal, get_args

from studio.design.fields import Choice, Count, Numbers, Quantity, Text, document, mark
from studio.design.site import Point


@document
class Line:
    """A straight row of mirrors with its one pipe-and-drive.

    It has ``count`` places, numbered from ``first_number``; those of the numbers ``left_out`` are empty, and its pipe runs on.
    The first and the last place are never empty: a line without them is a shorter one. ``tilt_deg``, ``facing_deg`` and ``stands_at_m`` replace the field's own mirror values where they are given.
    """

    TITLE: ClassVar[str] = mark("Line")

    id: Annotated[
        int, Count(mark("number"), "", mark("Its name on screen and paper: Line 3"), low=1, high=100_000)
    ]
    x_m: Annotated[
        float,
        Quantity(
            mark("first mirror, x"), "m", mark("Vertex of the first mirror, east of the reference point")
        ),
    ]
    y_m: Annotated[
        float,
        Quantity(
            mark("first mirror, y"), "m", mark("Vertex of the first mirror, north of the reference point")
        ),
    ]
    azimuth_deg: Annotated[
        float,
        Quantity(
            mark("azimuth"),
            "°",
            mark("From drive end to far end, clockwise from true north"),
            low=-360.0,
            high=360.0,
            digits=1,
        ),
    ] = 90.0
    spacing_m: Annotated[
        float,
        Quantity(
            mark("spacing"), "m", mark("Between neighbouring vertices, along the line"), low=0.1, high=50.0
        ),
    ] = 1.35
    count: Annotated[
        int,
        Count(
            mark("mirrors"),
            "",
            mark("How many places the line has for mirrors, those left out counted too"),
            low=1,
            high=400,
        ),
    ] = 10
    first_number: Annotated[
        int,
        Count(
            mark("first mirror's number"), "", mark("Mirrors are counted on from here"), low=0, high=100_000
        ),
    ] = 1
    left_out: Annotated[
        tuple[int, ...],
        Numbers(
            mark("left out"),
            "",
            mark("Numbers of the mirrors that are not there, as 4; 9-12: a tree or a lane. The pipe runs on"),
            high=101_000,
        ),
    ] = ()
    tilt_deg: Annotated[
        float | None,
        Quantity(
            mark("tilt"), "°", mark("Of the mirror axis from the vertical"), low=0.0, high=85.0, digits=1
        ),
    ] = None
    facing_deg: Annotated[
        float | None,
        Quantity(
            mark("facing"),
            "°",
            mark("Azimuth the mirror faces, clockwise from true north"),
            low=-360.0,
            high=360.0,
            digits=1,
        ),
    ] = None
    stands_at_m: Annotated[
        float | None,
        Quantity(mark("stands at"), "m", mark("Height of the vertex above the ground"), low=0.05, high=10.0),
    ] = None

    @property
    def absent(self) -> tuple[int, ...]:
        """The empty places, counted from 0."""
        return tuple(number - self.first_number for number in self.left_out)

    @property
    def mirrors(self) -> int:
        """How many mirrors stand on it."""
        return self.count - len(self.left_out)

    @property
    def last_number(self) -> int:
        """The number of the last mirror."""
        return self.first_number + self.count - 1

    def with_count(self, count: int) -> "Line":
        """The line with another count of places from the same first one; what is left out beyond them is forgotten, and an
        empty place never ends the line. A count that no line can have is left for the rules to refuse."""
        if count < 1 or not self.left_out:
            return replace(self, count=count)
        last = self.first_number + count - 1
        while last in self.left_out:
            last -= 1
        left_out = tuple(one for one in self.left_out if one < last)
        return replace(self, count=last - self.first_number + 1, left_out=left_out)

    def numbered_from(self, first_number: int) -> "Line":
        """The line whose first mirror has another number: the same places stay empty."""
        by = first_number - self.first_number
        left_out = tuple(one + by for one in self.left_out)
        return replace(self, first_number=first_number, left_out=left_out)


PipeKey = Literal[
    "medium-15", "medium-20", "medium-25", "medium-32", "medium-40", "medium-50", "sch40-15", "sch40-20", "sch40-25", "sch40-32", "sch40-40", "sch40-50", "sch40-80", "sch40-100",
]  # fmt: skip
PIPE_SIZES = Choice(
    mark("pipe size"),
    "",
    mark("Standard steel tube: EN 10255 medium, or ASME B36.10M schedule 40"),
    words={
        key: "DN " + key.rpartition("-")[2] + (" medium" if key[0] == "m" else " sch 40")
        for key in get_args(PipeKey)
    },
)


@document
class Pipe:
    """The line's pipe, which carries the oil and every receiver."""

    TITLE: ClassVar[str] = mark("Pipe")

    size: Annotated[PipeKey, PIPE_SIZES] = "medium-20"
    insulation_mm: Annotated[
        float,
        Quantity(
            mark("insulation"),
            "mm",
            mark("Thickness around the pipe between receivers"),
            low=0.0,
            high=300.0,
            digits=0,
        ),
    ] = 40.0
    insulation_w_mk: Annotated[
        float,
        Quantity(
            mark("insulation conducts"),
            "W/m K",
            mark("Conductivity at its mean temperature when hot"),
            low=0.005,
            high=2.0,
            digits=3,
        ),
    ] = 0.06


@document
class Header:
    """The supply (hot) and return (cold) pipes that join the lines to the store.

    A route is drawn; an empty one follows the line ends by itself. Each line end is joined to the nearest point of its
    route, and the route to the store.
    """

    TITLE: ClassVar[str] = mark("Header")

    hot: tuple[Point, ...] = ()
    cold: tuple[Point, ...] = ()
    size: Annotated[PipeKey, PIPE_SIZES] = "medium-40"
    insulation_mm: Annotated[
        float,
        Quantity(
            mark("insulation"),
            "mm",
            mark("Thickness around both header pipes"),
            low=0.0,
            high=300.0,
            digits=0,
        ),
    ] = 80.0
    insulation_w_mk: Annotated[
        float,
        Quantity(
            mark("insulation conducts"),
            "W/m K",
            mark("Conductivity at its mean temperature when hot"),
            low=0.005,
            high=2.0,
            digits=3,
        ),
    ] = 0.06


@document
class Store:
    """The bed that holds the heat: for now, its place."""

    TITLE: ClassVar[str] = mark("Store")

    x_m: Annotated[
        float, Quantity(mark("store, x"), "m", mark("Middle of the store, east of the reference point"))
    ] = 0.0
    y_m: Annotated[
        float, Quantity(mark("store, y"), "m", mark("Middle of the store, north of the reference point"))
    ] = 0.0
    radius_m: Annotated[
        float,
        Quantity(
            mark("radius"), "m", mark("Of the round it stands on, insulation included"), low=0.2, high=50.0
        ),
    ] = 1.5


@document
class OilRow:
    """One row of the oil's table."""

    TITLE: ClassVar[str] = mark("Oil at a temperature")

    temperature_c: Annotated[float, Quantity(mark("temperature"), "°C", "", low=-60.0, high=500.0, digits=0)]
    density_kg_m3: Annotated[float, Quantity(mark("density"), "kg/m3", "", low=100.0, high=3000.0, digits=0)]
    heat_capacity_j_kgk: Annotated[
        float, Quantity(mark("heat capacity"), "J/kg K", "", low=500.0, high=10_000.0, digits=0)
    ]
    conductivity_w_mk: Annotated[
        float, Quantity(mark("conductivity"), "W/m K", "", low=0.01, high=2.0, digits=4)
    ]
    viscosity_mpa_s: Annotated[float, Quantity(mark("viscosity"), "mPa s", "", low=0.01, high=1e6, digits=3)]
    vapour_pressure_kpa: Annotated[
        float | None, Quantity(mark("vapour pressure"), "kPa", "", low=0.0, high=20_000.0, digits=2)
    ] = None


def _row(t: float, rho: float, cp: float, k: float, mu: float, p: float | None) -> OilRow:
    return OilRow(
        temperature_c=t,
        density_kg_m3=rho,
        heat_capacity_j_kgk=cp,
        conductivity_w_mk=k,
        viscosity_mpa_s=mu,
        vapour_pressure_kpa=p,
    )


@document
class Oil:
    """The heat-transfer oil by chemical class, and the temperatures it is used between."""

    TITLE: ClassVar[str] = mark("Oil")

    kind: Annotated[str, Text(mark("kind"), "", mark("Chemical class"))] = "light mineral oil"
    rows: tuple[OilRow, ...] = (
        _row(20.0, 861.0, 1881.0, 0.1337, 98.0, None),
        _row(200.0, 742.0, 2540.0, 0.1209, 1.22, None),
        _row(300.0, 666.0, 2901.0, 0.1134, 0.586, None),
    )
    inlet_c: Annotated[
        float,
        Quantity(mark("comes in at"), "°C", mark("Cold oil into the lines"), low=21.0, high=450.0, digits=0),
    ] = 220.0
    outlet_c: Annotated[
        float,
        Quantity(mark("goes out at"), "°C", mark("Hot oil out of the field"), low=0.0, high=450.0, digits=0),
    ] = 290.0
    bulk_limit_c: Annotated[
        float,
        Quantity(
            mark("oil's limit"),
            "°C",
            mark("Highest temperature its maker allows in the bulk"),
            low=50.0,
            high=500.0,
            digits=0,
        ),
    ] = 300.0
    film_limit_c: Annotated[
        float,
        Quantity(
            mark("film limit"),
            "°C",
            mark("Highest temperature its maker allows at a hot wall"),
            low=50.0,
            high=520.0,
            digits=0,
        ),
    ] = 330.0
    flash_c: Annotated[
        float,
        Quantity(
            mark("flash point"),
            "°C",
            mark("Its vapour can be lit from here on; by its data sheet"),
            low=0.0,
            high=500.0,
            digits=0,
        ),
    ] = 190.0
    least_flow_kg_s: Annotated[
        float,
        Quantity(
            mark("least flow"),
            "kg/s",
            mark("Of a line; below it the oil goes round without delivering"),
            low=0.0,
            high=10.0,
            digits=3,
        ),
    ] = 0.008
