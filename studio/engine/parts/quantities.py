"""What a mirror, a line, a header and the oil are made of: lengths, pieces, square metres, litres.

Pure functions on numbers; how bars are cut is in :mod:`studio.engine.parts.cutting`. The stand, the film's edges and
the filling of the expansion vessel are our own simple make, each marked where it is said; everything else is
counting and geometry.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, cos, floor, hypot, isfinite, pi, radians, sin

from studio.errors import BadInputError
from studio.text import _, number

STEEL_KG_M3 = 7850.0
"""Mass of steel that bar and tube tables are reckoned with (BS 4449:2005, ASME B36.10M)."""
_ROUNDING = 1e-9


@dataclass(frozen=True)
class Cut:
    """Pieces of one length cut from bar; ``use`` is one of the keys in ``rods_of_mirror``."""

    use: str
    length_m: float
    count: int


@dataclass(frozen=True)
class FilmOfMirror:
    """Film of one mirror: strips as cut, and what is bought for them."""

    strips: int
    strip_width_m: float
    strip_length_m: float
    strips_across_roll: int
    cut_area_m2: float
    bought_area_m2: float
    roll_length_m: float
    """Length of roll that one mirror takes; strips of neighbouring mirrors share the roll's width."""
    edge_waste_m2: float
    """Rest of the roll's width beside the strips."""
    spoilt_m2: float
    """Share that is spoilt in handling."""


@dataclass(frozen=True)
class LineParts:
    """What one line takes besides its mirrors."""

    pipe_m: float
    insulation_m: float
    receivers: int
    swing_frames: int
    supports: int
    flexible_ends: int
    drives: int
    anchors: int


@dataclass(frozen=True)
class PipeOfSize:
    """Metres of one pipe size."""

    size: str
    length_m: float


@dataclass(frozen=True)
class OilContent:
    """Litres of oil: what fills the circuit cold, how it grows, and what is bought."""

    line_l: float
    header_l: float
    receivers_l: float
    store_l: float
    expansion_l: float
    """Growth from cold to hot."""
    vessel_l: float
    """Size of the expansion vessel."""
    reserve_l: float
    """Oil that stands in the vessel cold."""

    @property
    def circuit_l(self) -> float:
        """Content of everything but the vessel."""
        return self.line_l + self.header_l + self.receivers_l + self.store_l

    @property
    def to_buy_l(self) -> float:
        """Cold filling of circuit and vessel."""
        return self.circuit_l + self.reserve_l


def rods_of_mirror(
    *,
    rib_arcs_m: Sequence[float],
    width_m: float,
    height_m: float,
    stands_at_m: float,
    tilt_deg: float,
    rise_m: float = 0.0,
    spreaders: int = 2,
    end_allowance_m: float = 0.03,
    in_ground_m: float = 0.3,
) -> tuple[Cut, ...]:
    """Rods of one mirror, by use.

    Parameters
    ----------
    rib_arcs_m
        Arc length of each rib along its curve, m.
    width_m, height_m
        Aperture along the mirror's x and y, m.
    stands_at_m, tilt_deg
        Height of the vertex above the ground, m; angle of the mirror axis from the vertical, degrees.
    rise_m
        Height of the aperture's edge above the vertex along the mirror axis, m (y2/4f on a paraboloid).
    spreaders
        Cross rods that tie the ribs: one at the low edge, one at the high edge, others evenly between; 2 or more.
    end_allowance_m, in_ground_m
        Added at each end of a rib for fixing it, and to each leg for its footing, m.

    Returns
    -------
    ``rib`` (equal lengths counted together), ``spreader``, ``leg_low``, ``leg_high``, ``base``, ``side_brace``,
    ``back_brace``.

    Notes
    -----
    The stand is our own simple make, a design assumption that no one has reckoned for wind: upright legs under the
    four corners, two at the low edge and two at the high edge; a base rod on the ground on each side from low leg to
    high leg; a brace on each side from the foot of the low leg to the head of the high leg; one brace across the two
    high legs. An edge at or below the ground leaves its legs with only the part in the ground. Tilts of either sign
    stand alike.

    Raises BadInputError for lengths that are not above 0 m, or fewer than two spreaders.
    """
    _above_zero(_("mirror width"), width_m)
    _above_zero(_("mirror height"), height_m)
    for arc in rib_arcs_m:
        _above_zero(_("rib length"), arc)
    if spreaders < 2:
        raise BadInputError(
            _("A mirror with {count} spreaders does not hold its ribs; give 2 or more").format(
                count=spreaders
            )
        )
    tilt = radians(abs(tilt_deg))
    half_step = height_m / 2 * sin(tilt)
    edge = stands_at_m + rise_m * cos(tilt)
    low = max(0.0, edge - half_step)
    high = max(0.0, edge + half_step)
    depth = height_m * cos(tilt)
    ribs: dict[float, int] = {}
    for arc in rib_arcs_m:
        length = round(arc + 2 * end_allowance_m, 4)
        ribs[length] = ribs.get(length, 0) + 1
    stand = (
        Cut("leg_low", low + in_ground_m, 2),
        Cut("leg_high", high + in_ground_m, 2),
        Cut("base", depth, 2),
        Cut("side_brace", hypot(depth, high), 2),
        Cut("back_brace", hypot(width_m, high), 1),
    )
    return (
        *(Cut("rib", length, count) for length, count in sorted(ribs.items(), reverse=True)),
        Cut("spreader", width_m, spreaders),
        *(cut for cut in stand if cut.length_m > _ROUNDING),
    )


def cuts_for(mirrors: int, cuts: Sequence[Cut]) -> tuple[tuple[float, int], ...]:
    """(length in m, count) of all pieces for so many equal mirrors, as the cutting stock takes them."""
    return tuple((cut.length_m, cut.count * mirrors) for cut in cuts)


def film_of_mirror(
    *,
    ribs: int,
    width_m: float,
    rib_arc_m: float,
    roll_width_m: float,
    edge_turn_in_m: float = 0.02,
    widest_spacing_m: float | None = None,
    spoilt_share: float = 0.05,
) -> FilmOfMirror:
    """Film of one mirror, its strips cut along the roll and nested side by side on the roll's width.

    Parameters
    ----------
    ribs, width_m
        Number of ribs; aperture along x, m. There is one strip less than ribs.
    rib_arc_m
        Arc length of the longest rib, m.
    roll_width_m
        Width of the film as it is sold, m.
    edge_turn_in_m
        Film turned in on each of the four sides of a strip, m (a design assumption).
    widest_spacing_m
        Widest distance between neighbouring ribs along the film, m; without it the spacing in plan. All strips are
        cut to it.
    spoilt_share
        Share of the bought film that is spoilt in handling, from 0 up to 1 (a design assumption).

    Raises BadInputError where a strip is wider than the roll, and for sizes that make no sense.
    """
    _above_zero(_("mirror width"), width_m)
    _above_zero(_("rib length"), rib_arc_m)
    _above_zero(_("width of the film roll"), roll_width_m)
    if ribs < 2:
        raise BadInputError(_("A mirror of {count} ribs holds no film; give 2 or more").format(count=ribs))
    if not 0 <= spoilt_share < 1:
        raise BadInputError(
            _("A spoilt share of film of {share} cannot be; give one from 0 up to 1").format(
                share=spoilt_share
            )
        )
    strips = ribs - 1
    spacing = width_m / strips if widest_spacing_m is None else widest_spacing_m
    strip_width = spacing + 2 * edge_turn_in_m
    strip_length = rib_arc_m + 2 * edge_turn_in_m
    across = floor(roll_width_m / strip_width + _ROUNDING)
    if across < 1:
        raise BadInputError(
            _(
                "A strip of {strip} m with its turned-in edges is wider than the film roll of {roll} m; "
                "choose more ribs or a wider roll"
            ).format(strip=number(strip_width, digits=3), roll=number(roll_width_m, digits=3))
        )
    cut_area = strips * strip_width * strip_length
    rolled_off = strips / across * strip_length
    roll_length = rolled_off / (1 - spoilt_share)
    return FilmOfMirror(
        strips=strips,
        strip_width_m=strip_width,
        strip_length_m=strip_length,
        strips_across_roll=across,
        cut_area_m2=cut_area,
        bought_area_m2=roll_length * roll_width_m,
        roll_length_m=roll_length,
        edge_waste_m2=rolled_off * roll_width_m - cut_area,
        spoilt_m2=(roll_length - rolled_off) * roll_width_m,
    )


def parts_of_line(
    *,
    mirrors: int,
    places: int | None = None,
    spacing_m: float,
    pipe_end_m: float,
    receiver_length_m: float,
    mirrors_per_frame: int = 2,
) -> LineParts:
    """What one line of ``mirrors`` takes: pipe from ``pipe_end_m`` before the first receiver to as far behind the last.

    Its mirrors stand at ``places``, as many unless some are left out; pipe and frames run on past those. A swing frame
    hangs in the gap before the first place, after every ``mirrors_per_frame`` places and after the last; each has its
    support (post and bearing). One drive at the drive end, one anchor, two flexible ends.
    Insulation covers the pipe between the receivers, which carry their own. Lengths in m.

    Raises BadInputError for counts below one and lengths that are not above 0 m.
    """
    _above_zero(_("spacing of the mirrors"), spacing_m)
    places = mirrors if places is None else places
    if not 1 <= mirrors <= places or mirrors_per_frame < 1:
        raise BadInputError(
            _(
                "A line of {mirrors} mirrors with a frame for each {each} cannot be counted; give 1 or more of both"
            ).format(mirrors=mirrors, each=mirrors_per_frame)
        )
    pipe = (places - 1) * spacing_m + 2 * pipe_end_m
    frames = ceil(places / mirrors_per_frame) + 1
    return LineParts(
        pipe_m=pipe,
        insulation_m=max(0.0, pipe - mirrors * receiver_length_m),
        receivers=mirrors,
        swing_frames=frames,
        supports=frames,
        flexible_ends=2,
        drives=1,
        anchors=1,
    )


def whole_lines(lines: Sequence[LineParts]) -> LineParts:
    """The sum of several lines' parts; all zero for none."""
    return LineParts(
        pipe_m=sum(line.pipe_m for line in lines),
        insulation_m=sum(line.insulation_m for line in lines),
        receivers=sum(line.receivers for line in lines),
        swing_frames=sum(line.swing_frames for line in lines),
        supports=sum(line.supports for line in lines),
        flexible_ends=sum(line.flexible_ends for line in lines),
        drives=sum(line.drives for line in lines),
        anchors=sum(line.anchors for line in lines),
    )


def pipe_by_size(runs: Sequence[tuple[str, float]]) -> tuple[PipeOfSize, ...]:
    """Metres of each size over all ``runs``, each (size, length in m), in the order in which sizes first appear.

    The header's insulation goes by the same metres.
    """
    metres: dict[str, float] = {}
    for size, length_m in runs:
        metres[size] = metres.get(size, 0.0) + length_m
    return tuple(PipeOfSize(size, length) for size, length in metres.items() if length > 0)


def header_supports(length_m: float, *, span_m: float) -> int:
    """Supports under a header of ``length_m``: one at each end and none farther apart than ``span_m``."""
    _above_zero(_("distance between supports"), span_m)
    return ceil(length_m / span_m - _ROUNDING) + 1 if length_m > 0 else 0


def pipe_content_l(*, bore_m: float, length_m: float) -> float:
    """Litres in a pipe: the volume of a cylinder."""
    return pi * bore_m**2 / 4 * length_m * 1000


def oil_content(
    *,
    line_l: float,
    header_l: float,
    receivers_l: float,
    store_l: float = 0.0,
    cold_kg_m3: float,
    hot_kg_m3: float,
    vessel_cold_share: float = 0.25,
    vessel_hot_share: float = 0.75,
) -> OilContent:
    """Oil to buy, with the expansion vessel that takes its growth.

    The oil is filled cold; its mass stays, so heated throughout it takes cold/hot of its volume (densities in kg/m3).
    That all of it is hot at once is the upper case. The vessel stands at ``vessel_cold_share`` when all is cold and at
    ``vessel_hot_share`` when all is hot: a quarter and three quarters (common practice, no source). Steel's own
    growth, some 1 % of volume, is left out on the safe side.

    Raises BadInputError for densities or shares that make no sense.
    """
    if not 0 < hot_kg_m3 <= cold_kg_m3:
        raise BadInputError(
            _(
                "Oil of {hot} kg/m3 hot and {cold} kg/m3 cold cannot be; hot must be above 0 and not above cold"
            ).format(hot=number(hot_kg_m3), cold=number(cold_kg_m3))
        )
    if not 0 <= vessel_cold_share < vessel_hot_share <= 1:
        raise BadInputError(
            _(
                "An expansion vessel filled to {cold} cold and {hot} hot cannot be; cold must be below hot, "
                "both from 0 to 1"
            ).format(cold=vessel_cold_share, hot=vessel_hot_share)
        )
    circuit = line_l + header_l + receivers_l + store_l
    expansion = circuit * (cold_kg_m3 / hot_kg_m3 - 1)
    vessel = expansion / (vessel_hot_share - vessel_cold_share)
    return OilContent(
        line_l=line_l,
        header_l=header_l,
        receivers_l=receivers_l,
        store_l=store_l,
        expansion_l=expansion,
        vessel_l=vessel,
        reserve_l=vessel * vessel_cold_share,
    )


def round_bar_kg_m(diameter_m: float) -> float:
    """Mass of a plain round steel bar, kg/m, on the mass basis of BS 4449:2005."""
    return pi * diameter_m**2 / 4 * STEEL_KG_M3


def tube_kg_m(*, outside_m: float, wall_m: float) -> float:
    """Mass of a plain-end steel tube, kg/m: W = 0.0246615 (D - t) t with D, t in mm (ASME B36.10M, EN 10220)."""
    return pi * (outside_m - wall_m) * wall_m * STEEL_KG_M3


def _above_zero(name: str, value: float) -> None:
    if not (isfinite(value) and value > 0):
        raise BadInputError(
            _("{name}: {value} m cannot be; give a length above 0 m").format(name=name, value=value)
        )
