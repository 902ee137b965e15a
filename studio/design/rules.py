"""Faults between fields: what no single limit can see and nothing can be computed with.

Each rule reads the plain tree of a design (as the site file holds it) and is silent about values that are not of the
right kind, so that faults between fields are found even when single fields are at fault. An edit and an opened file
pass the same rules.
"""

import dataclasses
from collections.abc import Callable, Iterator, Mapping, Sequence
from itertools import pairwise
from math import cos, hypot, isfinite, radians, sin
from typing import Any

from studio.design.rules_heights import heights_faults
from studio.errors import Fault
from studio.text import _

Tree = Mapping[str, Any]
MOST_IN_A_LIST, MOST_FIELDS, MOST_MIRRORS = 1000, 200, 20_000
"""Lines, corners and the like; fields of a group; mirrors of a field. Beyond them neither memory nor patience suffices."""
MOST_ON_SHELF = 40
"""Mirrors on the shelf: each is assessed like a field of its own."""
_LEAST_STRIP_M = 0.005
_COLD_C = 20.0
"""Where the oil is filled in, for the room it takes."""


def of_a_size(part: Any, path: str = "$.design") -> Iterator[Fault]:
    """Lists and groups that are too long to be looked at one by one, in a tree or in a part of a design."""
    if dataclasses.is_dataclass(part) and not isinstance(part, type):
        part = vars(part)
    if isinstance(part, Mapping):
        most, found, inner = (
            MOST_FIELDS,
            _("a group of {count} fields"),
            [(f".{k}"[:60], v) for k, v in part.items()],
        )
    elif isinstance(part, list | tuple):
        most, found, inner = (
            MOST_IN_A_LIST,
            _("a list of {count}"),
            [(f"[{k}]", v) for k, v in enumerate(part)],
        )
    else:
        return
    if len(inner) > most:
        name = path.rpartition(".")[2].replace("_", " ")
        yield Fault(
            path, name, found.format(count=len(inner)), _("at most {most} would be right").format(most=most)
        )
        return
    for step, value in inner:
        yield from of_a_size(value, path + step)


def between_fields(tree: Tree) -> tuple[Fault, ...]:
    """All faults between the fields of a design's tree, with paths below ``$.design``."""
    return tuple(fault for rule in _RULES for fault in rule(tree))


def _number(tree: Any, key: str) -> float | None:
    value = tree.get(key) if isinstance(tree, Mapping) else None
    if isinstance(value, bool) or not isinstance(value, int | float):
        return None
    return float(value) if abs(value) < 1e300 and isfinite(value) else None


def _in_order(section: str, low: str, high: str, name: str, wanted: str) -> Callable[[Tree], Iterator[Fault]]:
    def rule(tree: Tree) -> Iterator[Fault]:
        part = tree.get(section)
        least, most = _number(part, low), _number(part, high)
        if least is not None and most is not None and not least < most:
            yield Fault(f"$.design.{section}.{high}", _(name), f"{least:g} … {most:g}", _(wanted))

    return rule


def _line_numbers(tree: Tree) -> Iterator[Fault]:
    lines = tree.get("lines")
    seen: set[Any] = set()
    for place, line in enumerate(lines if isinstance(lines, Sequence) else ()):
        number = line.get("id") if isinstance(line, Mapping) else None
        if not isinstance(number, int) or isinstance(number, bool):
            continue
        if number in seen:
            yield Fault(
                f"$.design.lines[{place}].id",
                _("Line {number}").format(number=number),
                _("a second line with this number"),
                _("give each line a number of its own"),
            )
        seen.add(number)


def _corners(ring: Any) -> list[tuple[float, float]] | None:
    if not isinstance(ring, Sequence) or isinstance(ring, str):
        return None
    corners = []
    for corner in ring:
        if not isinstance(corner, Sequence) or isinstance(corner, str) or len(corner) != 2:
            return None
        if any(isinstance(c, bool) or not isinstance(c, int | float) or not abs(c) <= 1e9 for c in corner):
            return None
        corners.append((float(corner[0]), float(corner[1])))
    return corners


def _ring_fault(path: str, name: str, ring: Any) -> Iterator[Fault]:
    corners = _corners(ring)
    if not corners:
        return
    if len(corners) < 3:
        yield Fault(
            path,
            name,
            _("{count} corners").format(count=len(corners)),
            _("an area has three corners or more"),
        )
        return
    from shapely import Polygon, is_valid_reason

    reason = is_valid_reason(Polygon(corners))
    if reason != "Valid Geometry":
        place = reason.partition("[")[2].rstrip("]")
        found = _("its edges cross or touch near {place}").format(place=place or corners[0])
        yield Fault(path, name, found, _("move a corner so that no edges cross"))


def _rings(tree: Tree) -> Iterator[Fault]:
    plot = tree.get("plot")
    if not isinstance(plot, Mapping):
        return
    yield from _ring_fault("$.design.plot.boundary", _("Plot boundary"), plot.get("boundary"))
    areas = plot.get("no_build")
    for place, area in enumerate(areas if isinstance(areas, Sequence) and not isinstance(areas, str) else ()):
        if isinstance(area, Mapping):
            name = _("No-build area {name}").format(name=area.get("name", place + 1))
            yield from _ring_fault(f"$.design.plot.no_build[{place}].ring", name, area.get("ring"))


def _named(tree: Tree, key: str) -> Iterator[tuple[int, Mapping[str, Any]]]:
    """Members of a list of groups with their places."""
    members = tree.get(key)
    if isinstance(members, Sequence) and not isinstance(members, str):
        yield from ((place, one) for place, one in enumerate(members) if isinstance(one, Mapping))


def _obstacles(tree: Tree) -> Iterator[Fault]:
    for place, one in _named(tree, "obstacles"):
        path, name = (
            f"$.design.obstacles[{place}]",
            _("Obstacle {name}").format(name=one.get("name", place + 1)),
        )
        if one.get("kind") == "block":
            if one.get("ring", ()) in ((), []):
                yield Fault(
                    f"{path}.ring", name, _("no corners"), _("a wall or shed has three corners or more")
                )
            yield from _ring_fault(f"{path}.ring", name, one.get("ring"))
        path_of_fence = _corners(one.get("path", ())) if one.get("kind") == "fence" else None
        if path_of_fence is not None and len(set(path_of_fence)) < 2:
            found = _("{count} corners").format(count=len(set(path_of_fence)))
            yield Fault(f"{path}.path", name, found, _("a fence has two corners or more"))
        base, top = _number(one, "crown_base_m"), _number(one, "height_m")
        if one.get("kind") == "tree" and base is not None and top is not None and not base < top:
            found = _("a crown from {base:g} m up to {top:g} m").format(base=base, top=top)
            yield Fault(f"{path}.height_m", name, found, _("the crown ends above where it begins"))


def _skyline(tree: Tree) -> Iterator[Fault]:
    horizon = tree.get("horizon")
    points = _corners(horizon.get("skyline")) if isinstance(horizon, Mapping) else None
    if not points:
        return
    azimuths = [azimuth for azimuth, _elevation in points]
    if any(later <= earlier for earlier, later in pairwise(azimuths)) or azimuths[-1] - azimuths[0] >= 360.0:
        yield Fault(
            "$.design.horizon.skyline",
            _("Horizon, azimuths of the skyline"),
            ", ".join(f"{azimuth:g}" for azimuth in azimuths[:12]),
            _("let them rise from point to point and not come round to the first again"),
        )


def _oil_rows(tree: Tree) -> Iterator[Fault]:
    oil = tree.get("oil")
    rows = oil.get("rows") if isinstance(oil, Mapping) else None
    if not isinstance(rows, Sequence) or isinstance(rows, str):
        return
    if len(rows) < 2:
        found = _("{count} rows").format(count=len(rows))
        yield Fault("$.design.oil.rows", _("Oil, table"), found, _("a table has two temperatures or more"))
        return
    known = _column(rows, "temperature_c")
    if known is None:
        return
    if any(later <= earlier for earlier, later in pairwise(known)):
        found = ", ".join(f"{t:g}" for t in known[:12])
        yield Fault(
            "$.design.oil.rows",
            _("Oil, temperatures of the table"),
            found,
            _("let them rise from row to row"),
        )
        return
    for key, name in (("inlet_c", _("Oil, comes in at")), ("outlet_c", _("Oil, goes out at"))):
        value = _number(oil, key)
        if value is not None and not known[0] <= value <= known[-1]:
            wanted = _("a temperature within the oil's table, {low:g} to {high:g} °C").format(
                low=known[0], high=known[-1]
            )
            yield Fault(f"$.design.oil.{key}", name, f"{value:g} °C", wanted)
    yield from _oil_swells(oil, known, _column(rows, "density_kg_m3"))


def _column(rows: Sequence[Any], key: str) -> list[float] | None:
    """One column of a table; None where a number of it is missing or wrong."""
    found = [number for row in rows if (number := _number(row, key)) is not None]
    return found if len(found) == len(rows) else None


def _oil_swells(oil: Any, temperatures: list[float], densities: list[float] | None) -> Iterator[Fault]:
    outlet = _number(oil, "outlet_c")
    if densities is None or outlet is None:
        return
    cold, hot = (_between(at, temperatures, densities) for at in (_COLD_C, outlet))
    if hot > cold:
        yield Fault(
            "$.design.oil.rows",
            _("Oil, densities of the table"),
            _("{cold:g} kg/m3 cold and {hot:g} kg/m3 at the outlet").format(cold=cold, hot=hot),
            _("hot oil is no denser than cold oil"),
        )


def _between(at: float, places: list[float], values: list[float]) -> float:
    """A table's value, straight between its rows and level beyond them."""
    if at <= places[0]:
        return values[0]
    for (low, left), (high, right) in pairwise(zip(places, values, strict=True)):
        if at <= high:
            return left + (right - left) * (at - low) / (high - low)
    return values[-1]


def _fins_leave_room(tree: Tree) -> Iterator[Fault]:
    receiver = tree.get("receiver")
    fins, thickness, window = (
        _number(receiver, key) for key in ("fins", "fin_thickness_mm", "window_height_m")
    )
    if fins is None or thickness is None or window is None:
        return
    if fins * thickness >= 1000 * window:
        yield Fault(
            "$.design.receiver.fins",
            _("Receiver, fins"),
            _("{count:g} fins of {mm:g} mm in a window {window:g} mm high").format(
                count=fins, mm=thickness, window=1000 * window
            ),
            _("fewer or thinner fins, so that the oil has channels"),
        )


def _mirrors(tree: Tree) -> Iterator[tuple[str, Mapping[str, Any]]]:
    """The field's mirror and those on the shelf, each with its path."""
    if isinstance(mirror := tree.get("mirror"), Mapping):
        yield "$.design.mirror", mirror
    shelf = tree.get("shelf")
    for place, one in enumerate(shelf if isinstance(shelf, Sequence) and not isinstance(shelf, str) else ()):
        if isinstance(one, Mapping) and isinstance(mirror := one.get("mirror"), Mapping):
            yield f"$.design.shelf[{place}].mirror", mirror


def _shelf_has_room(tree: Tree) -> Iterator[Fault]:
    shelf = tree.get("shelf")
    if isinstance(shelf, list | tuple) and len(shelf) > MOST_ON_SHELF:
        found = _("{count} mirrors").format(count=len(shelf))
        wanted = _("a shelf of at most {most} would be right").format(most=MOST_ON_SHELF)
        yield Fault("$.design.shelf", _("Shelf"), found, wanted)


def _circles_reach(tree: Tree) -> Iterator[Fault]:
    for path, mirror in _mirrors(tree):
        width, height, focal = (_number(mirror, key) for key in ("width_m", "height_m", "focal_m"))
        if width is None or height is None or focal is None:
            continue
        across = _number(mirror, "focal_across_m")
        surface = mirror.get("surface")
        if surface == "sphere" and across is not None and across != focal:
            yield Fault(
                f"{path}.focal_across_m",
                _("Mirror, focal length across"),
                _("{across:g} m on a sphere of {focal:g} m").format(across=across, focal=focal),
                _("leave it empty, or choose equal circles or a paraboloid"),
            )
        reaches = {
            "sphere": ((hypot(width, height) / 2, focal, "focal_m", _("Mirror, focal length")),),
            "circles": (
                (height / 2, focal, "focal_m", _("Mirror, focal length")),
                (
                    width / 2,
                    focal if across is None else across,
                    "focal_across_m",
                    _("Mirror, focal length across"),
                ),
            ),
        }
        for edge, length, key, name in reaches.get(str(surface), ()):
            if edge >= 2 * length:
                yield Fault(
                    f"{path}.{key}",
                    name,
                    _("{focal:g} m with an edge {edge:.3g} m from the axis").format(focal=length, edge=edge),
                    _("a circle ends at {end:g} m; a longer focal length or a smaller mirror").format(
                        end=2 * length
                    ),
                )


def _ribs_in_order(tree: Tree) -> Iterator[Fault]:
    for path, mirror in _mirrors(tree):
        width, places = _number(mirror, "width_m"), mirror.get("rib_places_m")
        if width is None or not isinstance(places, Sequence) or isinstance(places, str) or not places:
            continue
        if any(isinstance(x, bool) or not isinstance(x, int | float) for x in places):
            continue
        all_of_them = [-width / 2, *places, width / 2]
        if any(right - left < _LEAST_STRIP_M for left, right in pairwise(all_of_them)):
            yield Fault(
                f"{path}.rib_places_m",
                _("Mirror, inner ribs"),
                "; ".join(f"{x:g}" for x in places[:12]),
                _(
                    "let them rise from rib to rib within ±{edge:g} m, none nearer than 5 mm to the next"
                ).format(edge=width / 2),
            )


def _not_too_many_mirrors(tree: Tree) -> Iterator[Fault]:
    lines = tree.get("lines")
    total = sum(_number(line, "count") or 0.0 for line in lines) if isinstance(lines, Sequence) else 0.0
    if total > MOST_MIRRORS:
        found = _("{count:.0f} mirrors in all").format(count=total)
        wanted = _("a field of at most {most} would be right").format(most=MOST_MIRRORS)
        yield Fault("$.design.lines", _("Lines"), found, wanted)


_MOST_ALONG_AXIS = 0.9
"""Cosine between a line and its mirrors' axis above which its receivers cannot roll about the line any more."""


def _lines_across_axis(tree: Tree) -> Iterator[Fault]:
    mirror, lines, ground = tree.get("mirror"), tree.get("lines"), tree.get("ground")
    # the grade over measured heights is looked at by a finding, line_along_axis
    sloping = ground if isinstance(ground, Mapping) and ground.get("heights") is None else None
    slope, falls = _number(sloping, "slope_percent") or 0.0, _number(sloping, "falls_towards_deg") or 0.0
    for place, line in enumerate(lines if isinstance(lines, Sequence) and not isinstance(lines, str) else ()):
        tilt, facing = (
            found if (found := _number(line, key)) is not None else _number(mirror, key)
            for key in ("tilt_deg", "facing_deg")
        )
        azimuth = _number(line, "azimuth_deg")
        if tilt is None or facing is None or azimuth is None:
            continue
        grade = -slope / 100 * cos(radians(azimuth - falls))
        level = sin(radians(tilt)) * cos(radians(azimuth - facing))
        if abs(level + grade * cos(radians(tilt))) / hypot(1.0, grade) > _MOST_ALONG_AXIS:
            yield Fault(
                f"$.design.lines[{place}].azimuth_deg",
                _("Line {number}, azimuth").format(number=line.get("id", place + 1)),
                _("{azimuth:g}° with mirrors tilted {tilt:g}° that face {facing:g}°").format(
                    azimuth=azimuth, tilt=tilt, facing=facing
                ),
                _("turn the line or lower the tilt, so that the receivers can roll about the line"),
            )


_RULES: tuple[Callable[[Tree], Iterator[Fault]], ...] = (
    _in_order("oil", "inlet_c", "outlet_c", "Oil, goes out at", "the oil goes out hotter than it comes in"),
    _in_order(
        "motion",
        "roll_from_deg",
        "roll_to_deg",
        "Slide and roll, roll to",
        "the upper limit lies above the lower one",
    ),
    _in_order(
        "marks",
        "winter_from_h",
        "winter_to_h",
        "Marks of the checks, winter check to",
        "the check ends after it begins",
    ),
    _line_numbers,
    _rings,
    _obstacles,
    _skyline,
    _oil_rows,
    _fins_leave_room,
    _shelf_has_room,
    _circles_reach,
    _ribs_in_order,
    _not_too_many_mirrors,
    _lines_across_axis,
    heights_faults,
)
