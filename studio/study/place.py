"""Stage one: where every line stands, in the site frame."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely

from studio.design.design import Design
from studio.design.field import Line
from studio.design.mirror import Mirror
from studio.design.site import Ground
from studio.engine.ground.straight import Straight
from studio.engine.mirror.film import dynamic_pressure_pa
from studio.engine.mirror.form import MirrorForm, edge_depth
from studio.engine.mirror.frame import Vector, mirror_axes
from studio.engine.motion.place import line_direction
from studio.engine.shade.rows import RowOfMirrors
from studio.ground import straight_of, surface_of
from studio.study.assessment import Array, PlacedLine


@dataclass(frozen=True)
class Stand:
    """How the mirrors of a line stand: the line's own values where it has them, else the field's."""

    tilt_deg: float
    facing_deg: float
    stands_at_m: float


def stand_of(line: Line, mirror: Mirror) -> Stand:
    """The stand of a line's mirrors."""
    return Stand(
        tilt_deg=mirror.tilt_deg if line.tilt_deg is None else line.tilt_deg,
        facing_deg=mirror.facing_deg if line.facing_deg is None else line.facing_deg,
        stands_at_m=mirror.stands_at_m if line.stands_at_m is None else line.stands_at_m,
    )


def form_of(mirror: Mirror) -> MirrorForm:
    """The mirror's form as the engine takes it."""
    edge = mirror.width_m / 2
    ribs = (-edge, *mirror.rib_places_m, edge)
    return MirrorForm(
        surface=mirror.surface,
        width_m=mirror.width_m,
        height_m=mirror.height_m,
        focal_m=mirror.focal_m,
        ribs=len(ribs) if mirror.rib_places_m else mirror.ribs,
        tension_ratio=mirror.pull_along_n_m / mirror.pull_across_n_m,
        focal_across_m=mirror.focal_across_m,
        rib_places_m=ribs if mirror.rib_places_m else (),
        pressure_per_m=dynamic_pressure_pa(mirror.wind_on_film_m_s) / mirror.pull_across_n_m,
    )


def place_line(line: Line, mirror: Mirror, ground: Ground) -> PlacedLine:
    """A line where it stands. It keeps its own straight grade (``studio.engine.ground.straight``)."""
    return placed_on(line, mirror, straight_of(line, ground))


def placed_on(line: Line, mirror: Mirror, straight: Straight) -> PlacedLine:
    """A line on the straight way that it takes over its ground."""
    stand = stand_of(line, mirror)
    return PlacedLine(
        id=line.id,
        first=np.array([line.x_m, line.y_m, straight.level_m + stand.stands_at_m]),
        along=line_direction(line.azimuth_deg, straight.grade_percent),
        axes=np.array(mirror_axes(tilt_deg=stand.tilt_deg, facing_deg=stand.facing_deg)),
        spacing_m=line.spacing_m,
        count=line.count,
        first_number=line.first_number,
        absent=line.absent,
    )


def ground_height(ground: Ground, x_m: float, y_m: float) -> float:
    """Height of the land (m) in the site frame."""
    return float(surface_of(ground).height_at(x_m, y_m))


def place_lines(design: Design) -> tuple[PlacedLine, ...]:
    """Every line of a design where it stands."""
    return tuple(place_line(line, design.mirror, design.ground) for line in design.lines)


def row_of(placed: PlacedLine, mirror: Mirror) -> RowOfMirrors:
    """A placed line as shade sees it."""
    x, y, z = placed.axes
    return RowOfMirrors(
        first=_vector(placed.first),
        along=_vector(placed.along),
        spacing_m=placed.spacing_m,
        count=placed.count,
        axes=(_vector(x), _vector(y), _vector(z)),
        width_m=mirror.width_m,
        height_m=mirror.height_m,
        plane_z_m=edge_depth(form_of(mirror)),
        absent=placed.absent,
    )


def _vector(values: Array) -> Vector:
    return float(values[0]), float(values[1]), float(values[2])


def up_the_slope(along: Array) -> Array:
    """Unit vector (3,) in the mirror frame, square to a line's e (3,) and to the mirror axis, towards + y (else + x)."""
    square = np.cross(along, (0.0, 0.0, 1.0))
    square /= np.linalg.norm(square)
    upward = square[1] if abs(square[1]) > 1e-9 else square[0]
    return np.asarray(square if upward >= 0 else -square)


def overhang_m(design: Design) -> float:
    """How far the pipe runs past the first and the last receiver: half a mirror and the stroke."""
    return design.mirror.width_m / 2 + design.motion.stroke_m


def swept_m(design: Design) -> float:
    """How far the pipe's end reaches past the vertices of a line's end mirrors at full slide.

    In the middle of its stroke the pipe runs half a mirror and the stroke past them, so that it never leaves the
    frame beside the end mirror; full slide adds the stroke once more.
    """
    return design.mirror.width_m / 2 + 2 * design.motion.stroke_m


def field_area_m2(placed: Sequence[PlacedLine], mirror: Mirror) -> float:
    """Area of the convex hull of all apertures as the plan shows them; 0 without lines."""
    if not placed:
        return 0.0
    half = np.array([[x * mirror.width_m, y * mirror.height_m] for x in (-0.5, 0.5) for y in (-0.5, 0.5)])
    first = np.stack([line.first for line in placed])
    run = np.array([(line.count - 1) * line.spacing_m for line in placed])
    last = first + run[:, None] * np.stack([line.along for line in placed])
    around = half @ np.stack([line.axes[:2] for line in placed])
    corners = np.concatenate([first[:, None] + around, last[:, None] + around])[..., :2]
    return float(shapely.LineString(corners.reshape(-1, 2)).convex_hull.area)  # far sooner made than points
