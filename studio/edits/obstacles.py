"""What a hand does to obstacles and to the skyline."""

from collections.abc import Sequence
from dataclasses import replace

from studio.design.design import Design
from studio.design.obstacles import Block, Horizon, Obstacle, Pole, Tree
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


def obstacle_at(design: Design, obstacle: int) -> Block | Tree | Pole:
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
    if isinstance(one, Block):
        ring = tuple(moved(corner, by) for corner in one.ring)
        return _replaced(design, label, obstacle, replace(one, ring=ring))
    return _replaced(design, label, obstacle, replace(one, place=moved(one.place, by)))


def delete_obstacle(design: Design, *, obstacle: int) -> Edit:
    """Take an obstacle away."""
    label = _("Remove {name}").format(name=obstacle_at(design, obstacle).name)
    rest = design.obstacles[:obstacle] + design.obstacles[obstacle + 1 :]
    return Edit(label, replace(design, obstacles=rest))


def _block(design: Design, obstacle: int, corner: int) -> Block:
    one = obstacle_at(design, obstacle)
    if not isinstance(one, Block):
        raise BadInputError(_("{name} has no corners; move it as a whole.").format(name=one.name))
    if not 0 <= corner < len(one.ring):
        raise BadInputError(
            _("There is no corner {number}; {name} has {count}.").format(
                number=corner + 1, name=one.name, count=len(one.ring)
            )
        )
    return one


def move_obstacle_corner(design: Design, *, obstacle: int, corner: int, x_m: float, y_m: float) -> Edit:
    """Move one corner (counted from 0) of a wall or shed."""
    one = _block(design, obstacle, corner)
    ring = (*one.ring[:corner], (float(x_m), float(y_m)), *one.ring[corner + 1 :])
    label = _("Move corner {number} of {name}").format(number=corner + 1, name=one.name)
    return _replaced(design, label, obstacle, replace(one, ring=ring))


def insert_obstacle_corner(design: Design, *, obstacle: int, after: int, x_m: float, y_m: float) -> Edit:
    """Put a corner on the edge behind corner ``after`` of a wall or shed."""
    one = _block(design, obstacle, after)
    ring = (*one.ring[: after + 1], (float(x_m), float(y_m)), *one.ring[after + 1 :])
    label = _("Insert a corner of {name}").format(name=one.name)
    return _replaced(design, label, obstacle, replace(one, ring=ring))


def delete_obstacle_corner(design: Design, *, obstacle: int, corner: int) -> Edit:
    """Take one corner of a wall or shed away; it keeps three."""
    one = _block(design, obstacle, corner)
    if len(one.ring) <= 3:
        raise BadInputError(_("{name} keeps three corners; remove it as a whole.").format(name=one.name))
    ring = one.ring[:corner] + one.ring[corner + 1 :]
    label = _("Remove corner {number} of {name}").format(number=corner + 1, name=one.name)
    return _replaced(design, label, obstacle, replace(one, ring=ring))


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
