"""Where the places of a file of heights lie in the site frame, and back."""

from dataclasses import dataclass
from math import atan2, degrees, hypot

import numpy as np

from studio.design.design import Design
from studio.drawings.on_earth import degrees_of_site, site_of_degrees
from studio.files.land.found import Array
from studio.files.land.systems import Decided, degrees_of, places_of
from studio.text import _

_LEAST_MARGIN_M = 60.0
_MARGIN_SHARE = 0.25
_ALONE_M = 250.0
"""How far about the reference point heights are taken where the design has no plot yet."""


@dataclass(frozen=True)
class Placing:
    """From a file's coordinates to site metres.

    ``reference`` is the site's (latitude, longitude). For plain lengths ``shift`` (x, y) is added to their metres.
    """

    decided: Decided
    reference: tuple[float, float]
    shift: tuple[float, float] = (0.0, 0.0)

    def to_site(self, places: Array) -> Array:
        """Site metres (n, 2) of coordinates (n, 2) of the file; inf where there are none."""
        lengths = (places[:, ::-1] if self.decided.swap else places) * self.decided.scale
        if self.decided.crs is None:
            moved: Array = lengths + np.array(self.shift)
            return moved
        world = degrees_of(lengths, self.decided.crs)
        sound = np.isfinite(world).all(axis=1)
        placed = np.full(world.shape, np.inf)
        if sound.any():
            latitude, longitude = self.reference
            near = (
                np.abs((world[:, 0] - longitude + 180) % 360 - 180) < 60
            )  # the far side has no place in the frame
            near &= sound
            if near.any():
                placed[near] = site_of_degrees(world[near], latitude_deg=latitude, longitude_deg=longitude)
        return placed

    def to_file(self, site: Array) -> Array:
        """Coordinates (n, 2) of the file of site metres (n, 2)."""
        if self.decided.crs is None:
            lengths: Array = (site - np.array(self.shift)) / self.decided.scale
        else:
            latitude, longitude = self.reference
            return self.from_world(degrees_of_site(site, latitude_deg=latitude, longitude_deg=longitude))
        return lengths[:, ::-1] if self.decided.swap else lengths

    def from_world(self, world: Array) -> Array:
        """Coordinates (n, 2) of the file of longitude and latitude (n, 2)."""
        assert self.decided.crs is not None
        lengths: Array = places_of(world, self.decided.crs) / self.decided.scale
        return lengths[:, ::-1] if self.decided.swap else lengths

    def world(self, places: Array) -> Array | None:
        """Longitude and latitude (n, 2) of coordinates of the file; None for plain lengths."""
        if self.decided.crs is None:
            return None
        lengths = (places[:, ::-1] if self.decided.swap else places) * self.decided.scale
        return degrees_of(lengths, self.decided.crs)


def extent_of(design: Design) -> tuple[float, float, float, float]:
    """Least x and y, largest x and y (m) of what the design has on the land; about the reference point without a plot."""
    places = [*design.plot.boundary, *((line.x_m, line.y_m) for line in design.lines)]
    if not design.plot.boundary:
        places += [(-_ALONE_M, -_ALONE_M), (_ALONE_M, _ALONE_M)]
    low, high = np.min(places, axis=0), np.max(places, axis=0)
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])


def with_margin(
    extent: tuple[float, float, float, float], step_m: float
) -> tuple[float, float, float, float]:
    """The extent and its surroundings: a quarter of it, three steps of the source, 60 m, whichever is most."""
    x0, y0, x1, y1 = extent
    margin = max(_LEAST_MARGIN_M, _MARGIN_SHARE * max(x1 - x0, y1 - y0), 3.0 * step_m)
    return x0 - margin, y0 - margin, x1 + margin, y1 + margin


def outline(box: tuple[float, float, float, float], parts: int = 24) -> Array:
    """Places (n, 2) along the rim of a box and in its middle."""
    x0, y0, x1, y1 = box
    along = np.linspace(0.0, 1.0, parts)
    x, y = x0 + along * (x1 - x0), y0 + along * (y1 - y0)
    sides = [
        np.column_stack((x, np.full(parts, y0))), np.column_stack((x, np.full(parts, y1))),
        np.column_stack((np.full(parts, x0), y)), np.column_stack((np.full(parts, x1), y)),
        np.array([[(x0 + x1) / 2, (y0 + y1) / 2]]),
    ]  # fmt: skip
    return np.concatenate(sides)


def told_offset(site: Array) -> str:
    """How far and which way a place (2,) lies from the reference point."""
    if not np.isfinite(site).all():
        return _("on the other side of the earth")
    ways = (_("north"), _("north-east"), _("east"), _("south-east"), _("south"), _("south-west"), _("west"),
            _("north-west"))  # fmt: skip
    way = ways[round(degrees(atan2(site[0], site[1])) / 45) % 8]
    return _("{length} {way}").format(length=told_length(hypot(*site)), way=way)


def told_length(metres: float) -> str:
    """A length on the land in metres or kilometres."""
    if metres >= 10_000:
        return f"{metres / 1000:,.0f} km"
    return f"{metres / 1000:.1f} km" if metres >= 1000 else f"{metres:.0f} m"
