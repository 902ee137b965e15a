"""What a hand does to obstacles and to the skyline."""

from collections.abc import Sequence
from dataclasses import replace

from studio.design.design import Design
from studio.design.obstacles import (
    AnyObstacle,
    Block,
    Fence,
    Horizon,
    Obstacle,
    Pole,
    Tree,
    corners_of,
    with_corners,
)
from studio.edits.edit import Edit
from studio.edits.geometry import moved
from studio.edits.plot import ring_of
from studio.errors import BadInputError
from studio.numbers_in import read_number
from studio.text import MINUS, _


def _added(design: Design, label: str, obstacle: Obstacle) -> Edit:
    return Edit(label, replace(design, obstacles=(*design.obstacles, obstacle)))


def _replaced(design: Design, label: str, place: int, obstacle: Obstacle) -> Edit:
    before, after = design.obstacles[:place], design.obstacles[place + 1 :]
    return Edit(label, replace(design, obstacles=(*before, obstacle, *after)))


def obstacle_at(design: Design, obstacle: int) -> AnyObstacle:
    """The obstacle at a place of the list, counted from 0; BadInputError where there is none."""
    if not 0 <= obstacle < len(design.obstacles):
        raise BadInputError(
            _("There is no obstacle {number}; there are {count}.").format(
                number=obstacle + 1, count=len(design.obstacles)
            )
        )
    return design.obstacles[obstacle]


def add_block(
    design: Design, *, corners: Sequence[Sequence[float]], height_m: float = 3.0, name: str = ""
) -> Edit:
    """Draw a wall or a shed; corners are not closed."""
    block = Block(name=name or _("shed"), ring=ring_of(corners), height_m=float(height_m))
    return _added(design, _("Draw {name}").format(name=block.name), block)


def add_fence(
    design: Design, *, corners: Sequence[Sequence[float]], height_m: float = 1.8, name: str = ""
) -> Edit:
    """Draw a fence along a path of two corners or more."""
    path = tuple((float(x), float(y)) for x, y in corners)
    fence = Fence(name=name or _("fence"), path=path, height_m=float(height_m))
    return _added(design, _("Draw {name}").format(name=fence.name), fence)


def add_tree(design: Design, *, x_m: float, y_m: float, name: str = "") -> Edit:
    """Plant a tree where the middle of its crown stands."""
    tree = Tree(name=name or _("tree"), place=(float(x_m), float(y_m)))
    return _added(design, _("Place {name}").format(name=tree.name), tree)


def add_pole(design: Design, *, x_m: float, y_m: float, name: str = "") -> Edit:
    """Put up a pole."""
    pole = Pole(name=name or _("pole"), place=(float(x_m), float(y_m)))
    return _added(design, _("Place {name}").format(name=pole.name), pole)


def move_obstacle(design: Design, *, obstacle: int, dx_m: float, dy_m: float) -> Edit:
    """Move an obstacle."""
    one, by = obstacle_at(design, obstacle), (dx_m, dy_m)
    label = _("Move {name}").format(name=one.name)
    if isinstance(one, Block | Fence):
        corners = tuple(moved(corner, by) for corner in corners_of(one))
        return _replaced(design, label, obstacle, with_corners(one, corners))
    return _replaced(design, label, obstacle, replace(one, place=moved(one.place, by)))


def delete_obstacle(design: Design, *, obstacle: int) -> Edit:
    """Take an obstacle away."""
    label = _("Remove {name}").format(name=obstacle_at(design, obstacle).name)
    rest = design.obstacles[:obstacle] + design.obstacles[obstacle + 1 :]
    return Edit(label, replace(design, obstacles=rest))


def _cornered(design: Design, obstacle: int, corner: int) -> Block | Fence:
    one = obstacle_at(design, obstacle)
    if not isinstance(one, Block | Fence):
        raise BadInputError(_("{name} has no corners; move it as a whole.").format(name=one.name))
    count = len(corners_of(one))
    if not 0 <= corner < count:
        raise BadInputError(
            _("There is no corner {number}; {name} has {count}.").format(
                number=corner + 1, name=one.name, count=count
            )
        )
    return one


def move_obstacle_corner(design: Design, *, obstacle: int, corner: int, x_m: float, y_m: float) -> Edit:
    """Move one corner (counted from 0) of a wall, shed or fence."""
    one = _cornered(design, obstacle, corner)
    there = corners_of(one)
    corners = (*there[:corner], (float(x_m), float(y_m)), *there[corner + 1 :])
    label = _("Move corner {number} of {name}").format(number=corner + 1, name=one.name)
    return _replaced(design, label, obstacle, with_corners(one, corners))


def insert_obstacle_corner(design: Design, *, obstacle: int, after: int, x_m: float, y_m: float) -> Edit:
    """Put a corner on the edge behind corner ``after`` of a wall, shed or fence."""
    one = _cornered(design, obstacle, after)
    there = corners_of(one)
    corners = (*there[: after + 1], (float(x_m), float(y_m)), *there[after + 1 :])
    label = _("Insert a corner of {name}").format(name=one.name)
    return _replaced(design, label, obstacle, with_corners(one, corners))


def delete_obstacle_corner(design: Design, *, obstacle: int, corner: int) -> Edit:
    """Take one corner of a wall, shed or fence away; an area keeps three, a fence two."""
    one = _cornered(design, obstacle, corner)
    there, least = corners_of(one), 3 if isinstance(one, Block) else 2
    if len(there) <= least:
        raise BadInputError(
            _("{name} keeps {count} corners; remove it as a whole.").format(name=one.name, count=least)
        )
    label = _("Remove corner {number} of {name}").format(number=corner + 1, name=one.name)
    return _replaced(design, label, obstacle, with_corners(one, there[:corner] + there[corner + 1 :]))


def set_skyline(design: Design, *, points: Sequence[Sequence[float]]) -> Edit:
    """Another skyline: azimuth and elevation in degrees; azimuths are brought into one turn and sorted."""
    skyline = tuple(sorted((float(azimuth) % 360.0, float(elevation)) for azimuth, elevation in points))
    label = _("Set the skyline") if skyline else _("Level the skyline")
    return Edit(label, replace(design, horizon=Horizon(skyline=skyline)))


def type_skyline(design: Design, *, text: str) -> Edit:
    """Another skyline as it is typed: pairs of azimuth and elevation, set apart by semicolons. Empty: level."""
    points = []
    for pair in filter(None, (part.strip() for part in text.split(";"))):
        parts = pair.split()
        if len(parts) != 2:
            raise BadInputError(
                _("'{pair}' is no azimuth and elevation; 90 4.5; 120 8 is how a skyline looks.").format(
                    pair=pair[:40]
                )
            )
        points.append([read_number(part, "°").value for part in parts])
    return set_skyline(design, points=points)


def skyline_text(design: Design) -> str:
    """The skyline as it is typed."""
    pairs = (f"{azimuth:.10g} {elevation:.10g}" for azimuth, elevation in design.horizon.skyline)
    return "; ".join(pairs).replace("-", MINUS)
