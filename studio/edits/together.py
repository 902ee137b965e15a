"""What a hand does to several things at once, whatever they are: lines, no-build areas, obstacles, boundary, store.

Lines are named by their ids, areas and obstacles by their places in the list, counted from 0.
"""

from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace
from math import cos, hypot, radians, sin
from typing import TypeVar

import shapely

from studio.design.design import Design
from studio.design.field import Line
from studio.design.obstacles import AnyObstacle, Block, Fence, corners_of, with_corners
from studio.design.paths import line_of
from studio.design.site import NoBuild, Point, Ring
from studio.edits.edit import Edit
from studio.edits.geometry import line_names, middle, moved, turned
from studio.edits.lines import next_id
from studio.edits.obstacles import obstacle_at
from studio.errors import BadInputError
from studio.text import _, number

Move = Callable[[Point], Point]
T = TypeVar("T")


@dataclass(frozen=True)
class Things:
    """Some things of a design."""

    lines: tuple[int, ...] = ()
    no_build: tuple[int, ...] = ()
    obstacles: tuple[int, ...] = ()
    boundary: bool = False
    store: bool = False

    def __len__(self) -> int:
        return len(self.lines) + len(self.no_build) + len(self.obstacles) + self.boundary + self.store


def name_of(design: Design, things: Things) -> str:
    """Things as a label names them: 'Lines 1 and 4', 'shed', '5 things'."""
    if len(things) == len(things.lines):
        return line_names(things.lines)
    if len(things) > 1:
        return _("{count} things").format(count=len(things))
    if things.no_build:
        return _("no-build area {name}").format(name=design.plot.no_build[things.no_build[0]].name)
    if things.obstacles:
        return design.obstacles[things.obstacles[0]].name
    return _("the boundary") if things.boundary else _("the store")


def middle_of(design: Design, things: Things) -> Point:
    """The mean of the middles of things: of lines and fences half their length, of areas their centroids."""
    _hold(design, things)
    found = [middle(line_of(design, line_id), design.ground) for line_id in things.lines]
    rings = [design.plot.no_build[place].ring for place in things.no_build]
    for place in things.obstacles:
        one = design.obstacles[place]
        if isinstance(one, Block):
            rings.append(one.ring)
        elif isinstance(one, Fence):
            halfway = shapely.LineString(one.path).interpolate(0.5, normalized=True)
            found.append((float(halfway.x), float(halfway.y)))
        else:
            found.append(one.place)
    if things.boundary:
        rings.append(design.plot.boundary)
    for ring in rings:
        centre = shapely.Polygon(ring).centroid
        found.append((float(centre.x), float(centre.y)))
    if things.store:
        found.append((design.store.x_m, design.store.y_m))
    return sum(x for x, _y in found) / len(found), sum(y for _x, y in found) / len(found)


def move_things(design: Design, *, things: Things, dx_m: float, dy_m: float) -> Edit:
    """Move things east and north as one."""
    _hold(design, things)
    new = _carried(
        design,
        things,
        lambda point: moved(point, (dx_m, dy_m)),
        lambda line: replace(line, x_m=line.x_m + dx_m, y_m=line.y_m + dy_m),
    )
    label = _("Move {things} by {metres} m").format(
        things=name_of(design, things), metres=number(hypot(dx_m, dy_m), digits=2)
    )
    return Edit(label, new)


def turn_things(
    design: Design, *, things: Things, angle_deg: float, about: Sequence[float] | None = None
) -> Edit:
    """Turn things clockwise as one, about a point or about their middle. Mirrors keep facing where they face."""
    _hold(design, things)
    centre = middle_of(design, things) if about is None else (float(about[0]), float(about[1]))
    new = _carried(
        design,
        things,
        lambda point: turned(point, centre, angle_deg),
        lambda line: _line_to(
            design,
            line,
            turned(middle(line, design.ground), centre, angle_deg),
            line.azimuth_deg + angle_deg,
        ),
    )
    label = _("Turn {things} by {angle}°").format(
        things=name_of(design, things), angle=number(angle_deg, digits=1, sign=True)
    )
    return Edit(label, new)


def mirror_things(
    design: Design, *, things: Things, azimuth_deg: float, about: Sequence[float] | None = None
) -> Edit:
    """Reflect things about an axis of an azimuth through a point, or through their middle.

    A line's drive end stays its drive end, and its mirrors face where they faced. Rings keep their sense of rotation.
    """
    _hold(design, things)
    centre = middle_of(design, things) if about is None else (float(about[0]), float(about[1]))
    c, s = cos(2 * radians(azimuth_deg)), sin(2 * radians(azimuth_deg))

    def reflected(point: Point) -> Point:
        x, y = point[0] - centre[0], point[1] - centre[1]
        return centre[0] - c * x + s * y, centre[1] + s * x + c * y

    new = _carried(
        design,
        things,
        reflected,
        lambda line: _line_to(
            design, line, reflected(middle(line, design.ground)), 2.0 * azimuth_deg - line.azimuth_deg
        ),
        reverse=True,
    )
    label = _("Mirror {things} about {azimuth}°").format(
        things=name_of(design, things), azimuth=number(azimuth_deg % 360.0, digits=1)
    )
    return Edit(label, new)


def delete_things(design: Design, *, things: Things) -> Edit:
    """Take things away; a store stays, for there is always one."""
    _hold(design, things)
    plot = replace(
        design.plot,
        boundary=() if things.boundary else design.plot.boundary,
        no_build=_without(design.plot.no_build, things.no_build),
    )
    new = replace(
        design,
        lines=tuple(line for line in design.lines if line.id not in set(things.lines)),
        obstacles=_without(design.obstacles, things.obstacles),
        plot=plot,
    )
    return Edit(_("Remove {things}").format(things=name_of(design, replace(things, store=False))), new)


def add_things(
    design: Design,
    *,
    lines: Sequence[Line] = (),
    no_build: Sequence[NoBuild] = (),
    obstacles: Sequence[AnyObstacle] = (),
    dx_m: float = 0.0,
    dy_m: float = 0.0,
) -> Edit:
    """Put copies of things on the land, moved east and north; lines get the next numbers in their order."""
    count = len(lines) + len(no_build) + len(obstacles)
    if not count:
        raise BadInputError(_("There is nothing to put on the land; copy lines, areas or obstacles first."))
    by, first = (dx_m, dy_m), next_id(design)
    new = replace(
        design,
        lines=(
            *design.lines,
            *(
                replace(line, id=first + place, x_m=round(line.x_m + dx_m, 9), y_m=round(line.y_m + dy_m, 9))
                for place, line in enumerate(lines)
            ),
        ),
        obstacles=(*design.obstacles, *(_obstacle(one, lambda point: moved(point, by)) for one in obstacles)),
        plot=replace(
            design.plot,
            no_build=(
                *design.plot.no_build,
                *(replace(area, ring=_ring(area.ring, lambda point: moved(point, by))) for area in no_build),
            ),
        ),
    )
    name = line_names(range(first, first + len(lines))) if count == len(lines) else ""
    if not name:
        one = [*no_build, *obstacles]
        name = one[0].name if count == 1 else _("{count} things").format(count=count)
    return Edit(_("Paste {things}").format(things=name), new)


def _hold(design: Design, things: Things) -> None:
    """BadInputError where things name what is not there, or nothing."""
    if not len(things):
        raise BadInputError(_("Nothing is selected; select lines, areas or obstacles first."))
    for line_id in things.lines:
        line_of(design, line_id)
    for place in things.obstacles:
        obstacle_at(design, place)
    for place in things.no_build:
        if not 0 <= place < len(design.plot.no_build):
            raise BadInputError(
                _("There is no no-build area {number}; there are {count}.").format(
                    number=place + 1, count=len(design.plot.no_build)
                )
            )


def _carried(
    design: Design, things: Things, move: Move, line_to: Callable[[Line], Line], *, reverse: bool = False
) -> Design:
    """A design with things carried somewhere else; ``reverse`` where that turns rings round."""
    plot, store = design.plot, design.store
    areas = tuple(
        replace(area, ring=_ring(area.ring, move, reverse=reverse)) if place in things.no_build else area
        for place, area in enumerate(plot.no_build)
    )
    boundary = _ring(plot.boundary, move, reverse=reverse) if things.boundary else plot.boundary
    if things.store:
        x, y = move((store.x_m, store.y_m))
        store = replace(store, x_m=round(x, 9), y_m=round(y, 9))
    chosen = set(things.lines)
    return replace(
        design,
        lines=tuple(line_to(line) if line.id in chosen else line for line in design.lines),
        obstacles=tuple(
            _obstacle(one, move, reverse=reverse) if place in things.obstacles else one
            for place, one in enumerate(design.obstacles)
        ),
        plot=replace(plot, boundary=boundary, no_build=areas),
        store=store,
    )


def _line_to(design: Design, line: Line, centre: Point, azimuth_deg: float) -> Line:
    """A line with its middle at a point and another azimuth: on sloping land its length on the plan changes with it."""
    line = replace(line, azimuth_deg=round(azimuth_deg % 360.0, 9))
    x0, y0 = middle(line, design.ground)
    return replace(line, x_m=round(line.x_m + centre[0] - x0, 9), y_m=round(line.y_m + centre[1] - y0, 9))


def _ring(ring: Ring, move: Move, *, reverse: bool = False) -> Ring:
    carried = tuple((round(x, 9), round(y, 9)) for x, y in (move(corner) for corner in ring))
    return carried[::-1] if reverse else carried


def _obstacle(one: AnyObstacle, move: Move, *, reverse: bool = False) -> AnyObstacle:
    if isinstance(one, Block | Fence):
        return with_corners(one, _ring(corners_of(one), move, reverse=reverse and isinstance(one, Block)))
    x, y = move(one.place)
    return replace(one, place=(round(x, 9), round(y, 9)))


def _without(members: tuple[T, ...], places: Collection[int]) -> tuple[T, ...]:
    return tuple(member for place, member in enumerate(members) if place not in places)
