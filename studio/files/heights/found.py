"""What was found in a file of heights, what a person says about it, and what would be taken of it."""

from dataclasses import dataclass, field

from studio.design.site import HeightGrid, SpotHeights
from studio.files import doubts
from studio.files.land.found import Array, How, SystemFound

LOWEST_M, HIGHEST_M = -500.0, 9000.0
"""No land lies beyond (Dead Sea shore -430 m, Everest 8,849 m); a site file keeps none."""


@dataclass(frozen=True)
class HeightsHow:
    """What a person says where a file of heights is silent or wrong; empty means: as the file says.

    ``land`` is said of x and y (system, unit, order, table), ``height_unit`` of the heights. ``zero_m`` is the height
    that counts as zero. ``at`` (x, y) is where the south-west corner of plain lengths lies, metres from the reference
    point. ``void`` is a value of the file that stands for no height. ``move_site`` brings the site to the heights.
    ``attribute`` is the attribute of a map's lines and points that holds their heights.
    """

    land: How = field(default_factory=How)
    height_unit: str = ""
    zero_m: float | None = None
    at: tuple[float, float] | None = None
    void: float | None = None
    move_site: bool = False
    attribute: str = ""


Mend = doubts.Mend[HeightsHow]
Doubt = doubts.Doubt[HeightsHow]


@dataclass(frozen=True, eq=False)
class TakenHeights:
    """Heights in the site frame as a design holds them.

    ``picture`` (rows from south to north, columns) are the heights to be shown, m, NaN where there is none, each place
    ``picture_step_m`` from the next. ``slopes_percent`` are the least, the middle and the largest slope. ``largest_shift_m``
    is the largest difference between a height of the file and the taken heights at its place. ``latitude_deg`` and
    ``longitude_deg`` are set where the site is to be brought there. ``told`` says in sentences what was done.
    """

    heights: SpotHeights | HeightGrid
    told: tuple[str, ...]
    slopes_percent: tuple[float, float, float]
    largest_shift_m: float
    picture: Array = field(repr=False)
    picture_step_m: float
    latitude_deg: float | None = None
    longitude_deg: float | None = None


@dataclass(frozen=True, eq=False)
class HeightsLook:
    """What a file of heights holds and what would be taken of it about a site.

    ``size`` says how many heights there are and how far they reach. ``lowest_m`` and ``highest_m`` are of the heights
    that were read (about the site). ``middle`` is (latitude, longitude) or None where the file says no place. ``taken``
    is None where something must be said first; ``refused`` tells what. ``raster`` tells whether a skyline can be
    worked out from it. ``attribute`` of a map is the one whose values the heights are, ``attributes`` all that may be.
    """

    name: str
    kind: str
    size: str
    system: SystemFound
    lowest_m: float
    highest_m: float
    middle: tuple[float, float] | None
    doubts: tuple[Doubt, ...]
    taken: TakenHeights | None
    refused: str
    raster: bool
    how: HeightsHow
    attribute: str = ""
    attributes: tuple[str, ...] = ()
