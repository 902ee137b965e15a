"""What is told at the foot of the plan: the place under the pointer, the grid's step, how the land lies."""

from studio.design.site import Point, Site
from studio.desk.plan.land import GRID_PARTS
from studio.desk.plan.told import told_of
from studio.desk.state import State
from studio.drawings.on_earth import FARTHEST_M, degrees_of_site
from studio.text import _, number

_DIGITS = 6
"""Of degrees: a tenth of a metre."""


def told_at_foot(state: State, at: Point | None, grid_m: float | None) -> list[str]:
    """What is told; ``grid_m`` is the step that catches while the grid is shown. Parts in the order in which they are left out for want of room, the last one first."""
    *place, slope = told_of(state.shown.ground, at)
    parts = [*place, *(on_earth(state.shown.site, at) if at is not None else ())]
    if grid_m:
        parts.append(
            _("grid {step} m, by {fine} m").format(step=f"{GRID_PARTS * grid_m:g}", fine=f"{grid_m:g}")
        )
    return [*parts, slope]


def on_earth(site: Site, at: Point) -> list[str]:
    """Latitude and longitude of a place; nothing where it is too far from the reference point to be told."""
    if max(abs(at[0]), abs(at[1])) > FARTHEST_M:
        return []
    ((longitude, latitude),) = degrees_of_site(
        [at], latitude_deg=site.latitude_deg, longitude_deg=site.longitude_deg
    )
    north = _("{degrees}° N") if latitude >= 0 else _("{degrees}° S")
    east = _("{degrees}° E") if longitude >= 0 else _("{degrees}° W")
    return [
        north.format(degrees=number(abs(float(latitude)), digits=_DIGITS))
        + " "
        + east.format(degrees=number(abs(float(longitude)), digits=_DIGITS))
    ]


def empty_hint(state: State) -> str:
    """How to begin where there is no plot or no line yet."""
    if not state.shown.plot.boundary:
        return _("Draw the plot with P: click its corners or type their distances")
    if not state.shown.lines:
        return _("Place a line with L")
    return ""
