"""What a hand does to the land: boundary, no-build areas, setback."""

from collections.abc import Sequence
from dataclasses import replace

from studio.design.design import Design
from studio.design.site import NoBuild, Plot, Ring
from studio.edits.edit import Edit
from studio.edits.geometry import moved
from studio.errors import BadInputError
from studio.text import _, number


def _with_plot(design: Design, label: str, plot: Plot) -> Edit:
    return Edit(label, replace(design, plot=plot))


def ring_of(corners: Sequence[Sequence[float]]) -> Ring:
    """Corners as a ring, which is not closed: a last corner that repeats the first is left out."""
    ring = tuple((float(x), float(y)) for x, y in corners)
    if len(ring) > 1 and ring[0] == ring[-1]:
        ring = ring[:-1]
    return ring


def set_boundary(design: Design, *, corners: Sequence[Sequence[float]]) -> Edit:
    """Draw the plot's boundary; corners are not closed."""
    label = _("Draw the boundary") if not design.plot.boundary else _("Draw the boundary anew")
    return _with_plot(design, label, replace(design.plot, boundary=ring_of(corners)))


def move_boundary(design: Design, *, dx_m: float, dy_m: float) -> Edit:
    """Move the whole boundary; what stands on the land stays."""
    ring = tuple(moved(corner, (dx_m, dy_m)) for corner in design.plot.boundary)
    return _with_plot(design, _("Move the boundary"), replace(design.plot, boundary=ring))


def clear_boundary(design: Design) -> Edit:
    """Take the boundary away."""
    return _with_plot(design, _("Remove the boundary"), replace(design.plot, boundary=()))


def _area(design: Design, area: int | None) -> Ring:
    if area is None:
        return design.plot.boundary
    if not 0 <= area < len(design.plot.no_build):
        raise BadInputError(
            _("There is no no-build area {number}; there are {count}.").format(
                number=area + 1, count=len(design.plot.no_build)
            )
        )
    return design.plot.no_build[area].ring


def _with_ring(design: Design, label: str, area: int | None, ring: Ring) -> Edit:
    if area is None:
        return _with_plot(design, label, replace(design.plot, boundary=ring))
    areas = list(design.plot.no_build)
    areas[area] = replace(areas[area], ring=ring)
    return _with_plot(design, label, replace(design.plot, no_build=tuple(areas)))


def _corner(ring: Ring, corner: int) -> int:
    if not 0 <= corner < len(ring):
        raise BadInputError(
            _("There is no corner {number}; the area has {count}.").format(number=corner + 1, count=len(ring))
        )
    return corner


def move_corner(design: Design, *, corner: int, x_m: float, y_m: float, area: int | None = None) -> Edit:
    """Move one corner (counted from 0) of the boundary, or of no-build area ``area``."""
    ring = _area(design, area)
    at = _corner(ring, corner)
    label = _("Move corner {number}").format(number=at + 1)
    return _with_ring(design, label, area, (*ring[:at], (x_m, y_m), *ring[at + 1 :]))


def insert_corner(design: Design, *, after: int, x_m: float, y_m: float, area: int | None = None) -> Edit:
    """Put a corner on the edge behind corner ``after``."""
    ring = _area(design, area)
    at = _corner(ring, after) + 1
    return _with_ring(design, _("Insert a corner"), area, (*ring[:at], (x_m, y_m), *ring[at:]))


def delete_corner(design: Design, *, corner: int, area: int | None = None) -> Edit:
    """Take one corner away; an area keeps three."""
    ring = _area(design, area)
    at = _corner(ring, corner)
    if len(ring) <= 3:
        raise BadInputError(_("An area keeps three corners; remove the whole area instead."))
    label = _("Remove corner {number}").format(number=at + 1)
    return _with_ring(design, label, area, ring[:at] + ring[at + 1 :])


def add_no_build(design: Design, *, corners: Sequence[Sequence[float]], name: str = "") -> Edit:
    """Draw an area where nothing is built."""
    area = NoBuild(name=name or _("no-build"), ring=ring_of(corners))
    plot = replace(design.plot, no_build=(*design.plot.no_build, area))
    return _with_plot(design, _("Draw a no-build area"), plot)


def move_no_build(design: Design, *, area: int, dx_m: float, dy_m: float) -> Edit:
    """Move a no-build area."""
    ring = tuple(moved(corner, (dx_m, dy_m)) for corner in _area(design, area))
    label = _("Move no-build area {name}").format(name=design.plot.no_build[area].name)
    return _with_ring(design, label, area, ring)


def rename_no_build(design: Design, *, area: int, name: str) -> Edit:
    """Call a no-build area something else."""
    _area(design, area)
    areas = list(design.plot.no_build)
    areas[area] = replace(areas[area], name=name)
    label = _("Name the no-build area {name}").format(name=name)
    return _with_plot(design, label, replace(design.plot, no_build=tuple(areas)))


def delete_no_build(design: Design, *, area: int) -> Edit:
    """Let an area be built on again."""
    _area(design, area)
    areas = design.plot.no_build
    label = _("Remove no-build area {name}").format(name=areas[area].name)
    return _with_plot(design, label, replace(design.plot, no_build=areas[:area] + areas[area + 1 :]))


def set_setback(design: Design, *, metres: float) -> Edit:
    """Keep another strip free inside the boundary."""
    label = _("Set the setback to {metres} m").format(metres=number(metres, digits=2))
    return _with_plot(design, label, replace(design.plot, setback_m=float(metres)))
