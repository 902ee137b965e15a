"""What was found in a land file, what a person says about it, and what is taken of it."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from studio.design.site import NoBuild, Ring
from studio.files import doubts

Array = NDArray[np.float64]

LOCAL = "local"
"""As a coordinate system: plain lengths about a point of the land itself, x east, y north."""
TABLES = ("metres", "degrees", "traverse")
"""What a table of corners can hold: x and y, latitude and longitude, bearing and distance."""


@dataclass(frozen=True)
class How:
    """What a person says where a file is silent or wrong; empty means: as the file says.

    ``crs`` is anything that pyproj knows ("EPSG:2154", a WKT text) or ``LOCAL``; ``unit`` a unit of length for plain
    lengths; ``swap`` takes each pair the other way round; ``table`` is one of ``TABLES``; ``adjust`` spreads a traverse's
    misclosure by the compass rule; ``near`` (latitude, longitude) tells where the land should lie and ranks guesses.
    """

    crs: str = ""
    unit: str = ""
    swap: bool = False
    table: str = ""
    adjust: bool = False
    near: tuple[float, float] | None = None


Mend = doubts.Mend[How]
Doubt = doubts.Doubt[How]


@dataclass(frozen=True)
class LayerFound:
    """A layer of the file: how many areas, lines and points stand in it."""

    name: str
    areas: int
    lines: int
    points: int


@dataclass(frozen=True)
class SystemFound:
    """The coordinate system of a file.

    ``code`` is empty for plain lengths. ``said`` is True where the file or the person names it; ``sure`` is False where
    it was guessed and must be said before anything is taken. ``unit`` is that of the file's numbers.
    """

    name: str
    code: str
    unit: str
    said: bool
    sure: bool
    candidates: tuple[str, ...] = ()


@dataclass(frozen=True)
class Misclosure:
    """What a traverse lacks to come back to its beginning.

    ``length_m`` and ``bearing_deg`` (azimuth) lead from the beginning to where the last leg ends; ``perimeter_m`` is
    the sum of the legs; ``ratio`` is perimeter over length (inf when it closes).
    """

    length_m: float
    bearing_deg: float
    perimeter_m: float
    ratio: float
    adjusted: bool


@dataclass(frozen=True, eq=False)
class AreaFound:
    """One area of the file.

    ``rings`` are (n, 2), not closed, the outline first and then its holes: longitude and latitude in degrees of WGS 84,
    or metres where the land lies nowhere yet. ``area_m2`` is geodesic there (holes taken off), else plane.
    ``feature`` counts the file's features from 1; ``part`` of ``parts`` is the piece of it. ``refused`` says why the
    area cannot be taken; empty: it can.
    """

    number: int
    name: str
    layer: str
    feature: int
    part: int
    parts: int
    rings: tuple[Array, ...] = field(repr=False)
    area_m2: float
    width_m: float
    depth_m: float
    middle: tuple[float, float] | None
    doubts: tuple[str, ...] = ()
    refused: str = ""

    @property
    def corners(self) -> int:
        """Corners of the outline."""
        return len(self.rings[0])

    @property
    def holes(self) -> int:
        """How many holes the area has."""
        return len(self.rings) - 1


@dataclass(frozen=True, eq=False)
class LandLook:
    """What a file of land holds, before any of it is taken; ``may_hold_heights`` beside it, which another look reads."""

    name: str
    kind: str
    layers: tuple[LayerFound, ...]
    system: SystemFound
    areas: tuple[AreaFound, ...]
    doubts: tuple[Doubt, ...]
    misclosure: Misclosure | None
    how: How
    may_hold_heights: bool = False


@dataclass(frozen=True)
class LandChoice:
    """What is taken of a look.

    ``area`` is the number of the area that becomes the boundary (it may be left out when only one can be taken),
    ``no_build`` the numbers of areas that become no-build areas beside the ``holes`` of the boundary. ``about``
    (latitude, longitude) is a reference point to keep; without it the middle of the boundary becomes it.
    """

    area: int | None = None
    no_build: tuple[int, ...] = ()
    holes: bool = True
    about: tuple[float, float] | None = None


@dataclass(frozen=True)
class TakenLand:
    """Land in the site frame: metres, x east, y north of the reference point.

    ``latitude_deg`` and ``longitude_deg`` are None where the file does not say where on earth the land lies.
    ``area_m2`` is the area of the file (geodesic where it lies somewhere), holes off, before anything was simplified.
    ``told`` says in sentences what was done to it.
    """

    name: str
    boundary: Ring
    no_build: tuple[NoBuild, ...]
    latitude_deg: float | None
    longitude_deg: float | None
    area_m2: float
    told: tuple[str, ...]
