"""What stands on the land or round it and throws shadows: obstacles, and the skyline."""

from dataclasses import replace
from typing import Annotated, ClassVar, Literal

from studio.design.fields import ByKind, Count, Quantity, Text, document, mark
from studio.design.site import Ring

ObstacleName = Annotated[
    str, Text(mark("name"), "", mark("What it is called on screen and paper"), longest=60)
]
_Place = tuple[
    Annotated[float, Quantity(mark("place, x"), "m", mark("Middle, east of the reference point"))],
    Annotated[float, Quantity(mark("place, y"), "m", mark("Middle, north of the reference point"))],
]


@document
class Block:
    """A wall or a shed: upright sides on a ring, its top running with the ground below it."""

    TITLE: ClassVar[str] = mark("Wall or shed")

    kind: Literal["block"] = "block"
    name: ObstacleName = "shed"
    ring: Ring = ()
    height_m: Annotated[
        float, Quantity(mark("height"), "m", mark("Above the ground, all round"), low=0.05, high=200.0)
    ] = 3.0


@document
class Fence:
    """A fence: an upright screen along a path, its top running with the ground, no thicker than a line.

    What is open in a thin screen is open from every side, so its share of light is the same for every sun.
    """

    TITLE: ClassVar[str] = mark("Fence")

    kind: Literal["fence"] = "fence"
    name: ObstacleName = "fence"
    path: Ring = ()
    height_m: Annotated[
        float, Quantity(mark("height"), "m", mark("Above the ground, all along"), low=0.05, high=50.0)
    ] = 1.8
    passes: Annotated[
        float,
        Quantity(
            mark("light passed"),
            "",
            mark("Share of direct light that comes through: the open share of its area"),
            low=0.0,
            high=1.0,
        ),
    ] = 0.8


@document
class Tree:
    """A tree: a crown as an ellipsoid on its tip, through which some light comes; the trunk is left out."""

    TITLE: ClassVar[str] = mark("Tree")

    kind: Literal["tree"] = "tree"
    name: ObstacleName = "tree"
    place: _Place = (0.0, 0.0)
    crown_radius_m: Annotated[
        float, Quantity(mark("crown radius"), "m", mark("Where the crown is widest"), low=0.1, high=50.0)
    ] = 2.5
    crown_base_m: Annotated[
        float,
        Quantity(mark("crown begins"), "m", mark("Lowest leaves above the ground"), low=0.0, high=150.0),
    ] = 2.0
    height_m: Annotated[
        float, Quantity(mark("height"), "m", mark("Top of the crown above the ground"), low=0.1, high=150.0)
    ] = 8.0
    passes_in_leaf: Annotated[
        float,
        Quantity(
            mark("light passed in leaf"),
            "",
            mark("Share of direct light that comes through"),
            low=0.0,
            high=1.0,
        ),
    ] = 0.15
    passes_bare: Annotated[
        float,
        Quantity(
            mark("light passed bare"),
            "",
            mark("Share of direct light that comes through without leaves; an evergreen passes the same"),
            low=0.0,
            high=1.0,
        ),
    ] = 0.6
    leaf_from_day: Annotated[
        int, Count(mark("in leaf from"), mark("day"), mark("Day of the year, 1 to 365"), low=1, high=365)
    ] = 105
    leaf_to_day: Annotated[
        int,
        Count(
            mark("in leaf to"),
            mark("day"),
            mark("Day of the year; before the first one where leaves stay over the turn of the year"),
            low=1,
            high=365,
        ),
    ] = 305


@document
class Pole:
    """A pole or mast: an upright round rod."""

    TITLE: ClassVar[str] = mark("Pole")

    kind: Literal["pole"] = "pole"
    name: ObstacleName = "pole"
    place: _Place = (0.0, 0.0)
    radius_m: Annotated[
        float, Quantity(mark("radius"), "m", mark("Half its thickness"), low=0.005, high=20.0, digits=3)
    ] = 0.1
    height_m: Annotated[
        float, Quantity(mark("height"), "m", mark("Above the ground"), low=0.05, high=300.0)
    ] = 6.0


AnyObstacle = Block | Fence | Tree | Pole
Obstacle = Annotated[AnyObstacle, ByKind()]
OBSTACLES: dict[str, type[Block] | type[Fence] | type[Tree] | type[Pole]] = {
    "block": Block, "fence": Fence, "tree": Tree, "pole": Pole,
}  # fmt: skip
"""Kinds of obstacle by the word the file marks them with."""


def corners_of(one: AnyObstacle) -> Ring:
    """The corners of a wall, a shed or a fence; what is round has none."""
    if isinstance(one, Block):
        return one.ring
    return one.path if isinstance(one, Fence) else ()


def with_corners(one: Block | Fence, corners: Ring) -> Block | Fence:
    """The same with other corners."""
    return replace(one, ring=corners) if isinstance(one, Block) else replace(one, path=corners)


SkylinePoint = tuple[
    Annotated[
        float,
        Quantity(mark("azimuth"), "°", mark("Clockwise from true north"), low=0.0, high=360.0, digits=1),
    ],
    Annotated[
        float, Quantity(mark("elevation"), "°", mark("Of the skyline there"), low=-10.0, high=85.0, digits=1)
    ],
]


@document
class Horizon:
    """Elevation of the skyline by azimuth, straight from point to point and on round; empty where it is level."""

    TITLE: ClassVar[str] = mark("Horizon")

    skyline: tuple[SkylinePoint, ...] = ()
