"""Shade of receivers, pipes and frames, judged by convex hulls of their points and shapely's exact union."""

from dataclasses import dataclass, replace

import numpy as np
import pytest
import shapely
from shapely.geometry.base import BaseGeometry

from studio.engine.mirror.frame import Vector, mirror_axes
from studio.engine.shade.gear import GearShape, LineGear, pose_gear, same_gear
from studio.engine.shade.gear_shade import (
    GearShade,
    line_gear_shade,
    own_gear_of_line,
    own_gear_share,
)
from studio.engine.shade.lines import shade_of_lines
from studio.engine.shade.meeting import reached, reaches
from studio.engine.shade.rows import Floats, RowOfMirrors

# invented sizes of a small receiver, its pipe over the insulation and its frames
GEAR = GearShape(
    arm_m=1.235,
    pipe_diameter_m=0.12,
    overhang_m=0.8,
    receiver_width_m=0.24,
    receiver_height_m=0.20,
    receiver_depth_m=0.15,
    frame_width_m=0.03,
    pipe_offset_m=(0.10, 0.16),
)


SINGLE = 2e-7
"""What single precision leaves of a share."""


def sky(declinations: int = 7, hours: int = 13) -> Floats:
    """Suns (S, 3) over the year at latitude 35, higher than about half a degree."""
    decl, hour = np.meshgrid(
        np.radians(np.linspace(-23.45, 23.45, declinations)), np.radians(np.linspace(-85, 85, hours))
    )
    lat = np.radians(35.0)
    suns = np.stack(
        [
            -np.cos(decl) * np.sin(hour),
            np.cos(lat) * np.sin(decl) - np.sin(lat) * np.cos(decl) * np.cos(hour),
            np.sin(lat) * np.sin(decl) + np.cos(lat) * np.cos(decl) * np.cos(hour),
        ],
        axis=-1,
    ).reshape(-1, 3)
    return np.asarray(suns[suns[:, 2] > 0.01])


def field(
    number: int = 3, count: int = 6, *, along: Vector = (1.0, 0.0, 0.0), spacing: float = 1.35
) -> tuple[RowOfMirrors, ...]:
    """Lines 3.2 m apart, from south to north, or from west to east where they run north."""
    across = (1.0, 0.0) if abs(along[1]) > abs(along[0]) else (0.1, 1.0)
    return tuple(
        RowOfMirrors(
            first=(3.2 * place * across[0], 3.2 * place * across[1], 1.0),
            along=along,
            spacing_m=spacing,
            count=count,
            axes=mirror_axes(tilt_deg=35.0, facing_deg=180.0),
            width_m=1.25,
            height_m=1.44,
            plane_z_m=0.1,
        )
        for place in range(number)
    )


def poses(row: RowOfMirrors, suns: Floats) -> tuple[Floats, Floats]:
    """Slide and roll that follow the reflected sun, roughly, within a stroke of 1.1 m and 29 degrees."""
    sun = row.into_mirror_frame(suns)
    e = row.into_mirror_frame(np.array(row.along))
    square = np.cross(e, [0.0, 0.0, 1.0])
    slide = np.clip(-1.2 * sun @ e / np.maximum(sun[:, 2], 0.05), -1.1, 1.1)
    roll = np.degrees(np.arctan2(-(sun @ square) / np.linalg.norm(square), np.maximum(sun[:, 2], 0.05)))
    return slide, np.clip(roll, -29.0, 29.0)


def posed(rows: tuple[RowOfMirrors, ...], suns: Floats, gear: GearShape = GEAR) -> tuple[LineGear, ...]:
    return tuple(
        pose_gear(gear, row, suns, slide_m=poses(row, suns)[0], roll_deg=poses(row, suns)[1]) for row in rows
    )


@dataclass(frozen=True)
class Judge:
    """Projects bodies given by their points, cut at the plane of one target mirror, onto its aperture."""

    target: RowOfMirrors
    vertex: Floats
    sun: Floats

    def shadow(self, points: Floats) -> BaseGeometry:
        axes = np.array(self.target.axes)
        local = (points - self.vertex) @ axes.T - [0.0, 0.0, self.target.plane_z_m]
        sun = axes @ self.sun
        # the part of a convex body in front of a plane: its points there, and where its chords pass through
        front, back = local[local[:, 2] > 1e-9], local[local[:, 2] < 0]
        if not len(front):
            return shapely.Polygon()
        at = front[:, None, 2] / (front[:, None, 2] - back[None, :, 2])
        cut = (front[:, None] + at[..., None] * (back[None] - front[:, None])).reshape(-1, 3)
        kept = np.concatenate([front, cut])
        return shapely.MultiPoint(kept[:, :2] - sun[:2] * kept[:, 2:] / sun[2]).convex_hull


def box(middle: Floats, *sides: Floats) -> Floats:
    signs = np.stack(np.meshgrid(*[[-1.0, 1.0]] * len(sides)), axis=-1).reshape(-1, len(sides))
    return np.asarray(middle + signs @ np.stack(sides))


def round_bar(start: Floats, end: Floats, radius: float, sun: Floats) -> Floats:
    along = (end - start) / np.linalg.norm(end - start)
    one = np.cross(along, sun)
    one /= np.linalg.norm(one)
    turn = np.linspace(0, 2 * np.pi, 32, endpoint=False)[:, None]
    ring = radius * (np.cos(turn) * one + np.sin(turn) * np.cross(along, one))
    return np.concatenate([start + ring, end + ring])


def bodies_of(row: RowOfMirrors, gear: GearShape, pose: Floats, sun: Floats) -> list[Floats]:
    """Points of every receiver, frame and the pipe of one row, straight from the pose's definition."""
    x, y, z = np.array(row.axes)
    slide, e, phi = pose[0], np.array(row.along), np.radians(pose[1])
    arm = z * np.cos(phi) + np.cross(e, z) * np.sin(phi) + e * (e @ z) * (1 - np.cos(phi))
    square = np.cross(e, arm)
    square /= np.linalg.norm(square)
    out = np.cross(square, e)
    axis = np.array(gear.axis_m) @ np.stack([x, y, z])
    to_window = axis + gear.arm_m * arm
    to_pipe = to_window + gear.pipe_offset_m[0] * out + gear.pipe_offset_m[1] * square
    found = [
        box(
            vertex + to_window + slide * e + out * gear.receiver_depth_m / 2,
            e * gear.receiver_width_m / 2,
            square * gear.receiver_height_m / 2,
            out * gear.receiver_depth_m / 2,
        )
        for vertex in row.vertices()[row.there]
    ]
    first, last = row.vertices()[[0, -1]] + slide * e
    found.append(
        round_bar(
            first + to_pipe - gear.overhang_m * e,
            last + to_pipe + gear.overhang_m * e,
            gear.pipe_diameter_m / 2,
            sun,
        )
    )
    for gap in range(row.count + 1):
        if gap % gear.mirrors_per_frame == 0 or gap == row.count:
            foot = np.array(row.first) + (gap - 0.5) * row.spacing_m * e
            rod = round_bar(foot + axis, foot + to_pipe, gear.frame_width_m / 2, sun)
            found.append(rod)
    return found


def judged(
    rows: tuple[RowOfMirrors, ...], gear: GearShape, suns: Floats, place: int, sun: int
) -> tuple[Floats, Floats]:
    """Share of every mirror of row ``place`` in any shadow, and in that of mirrors alone."""
    target = rows[place]
    aperture = shapely.box(
        *-np.array([target.width_m, target.height_m]) / 2, *np.array([target.width_m, target.height_m]) / 2
    )
    things = [
        body for row in rows for body in bodies_of(row, gear, np.stack(poses(row, suns))[:, sun], suns[sun])
    ]
    panels = [
        box(
            vertex + row.plane_z_m * np.array(row.axes[2]),
            *np.array(row.axes[:2]) * [[row.width_m / 2], [row.height_m / 2]],
        )
        for row in rows
        for vertex in row.vertices()[row.there]
    ]
    every, mirrors = [], []
    for vertex in target.vertices()[target.there]:
        judge = Judge(target, vertex, suns[sun])
        dark = shapely.union_all([judge.shadow(points) for points in panels])
        both = shapely.union_all([dark, *(judge.shadow(points) for points in things)])
        every.append(both.intersection(aperture).area / aperture.area)
        mirrors.append(dark.intersection(aperture).area / aperture.area)
    return np.array(every), np.array(mirrors)


CASES = {
    "east-west": (field(), GEAR),
    "a frame per three mirrors": (field(2, 7), replace(GEAR, mirrors_per_frame=3)),
    "no overhang, axis off the vertex": (
        field(2),
        replace(GEAR, overhang_m=0.0, axis_m=(0.0, 0.1, 0.3), arm_m=0.95),
    ),
    "line askew of its mirrors": (field(2, along=(float(np.cos(0.3)), float(np.sin(0.3)), 0.0)), GEAR),
    "line that climbs": (field(2, along=(float(np.cos(0.05)), 0.0, float(np.sin(0.05)))), GEAR),
    "north-south": (field(2, 4, along=(0.0, 1.0, 0.0), spacing=2.2), GEAR),
    "lines unlike in tilt": (
        (replace(field(1)[0], axes=mirror_axes(tilt_deg=50.0, facing_deg=170.0)), field(2)[1]),
        GEAR,
    ),
    "places left out": (
        (replace(field(1, 7)[0], absent=(2, 3)), replace(field(2, 8)[1], absent=(1, 4, 5))),
        replace(GEAR, mirrors_per_frame=2),
    ),
    "places left out of lines unlike in tilt": (
        (
            replace(field(1)[0], axes=mirror_axes(tilt_deg=50.0, facing_deg=170.0), absent=(3,)),
            replace(field(2)[1], absent=(2, 3)),
        ),
        GEAR,
    ),
    "lines unlike in spacing": ((field(1, 5, spacing=1.5)[0], field(2, 4)[1]), GEAR),
}


@pytest.mark.parametrize("name", CASES)
def test_extra_shade_is_the_exact_union_of_outlines(name: str) -> None:
    rows, gear = CASES[name]
    suns = sky()
    suns = suns[rows[0].into_mirror_frame(suns)[:, 2] > 0.12][::6]
    shade = shade_of_lines(rows, suns)
    lines = posed(rows, suns, gear)
    place = len(rows) - 1
    got = line_gear_shade(lines[place], lines[:place], shade[place])
    errors, worst = [], []
    for sun in range(len(suns)):
        every, mirrors = judged(rows, gear, suns, place, sun)
        assert shade[place].by_mirror[sun, rows[place].there] == pytest.approx(mirrors, abs=1e-9)
        errors.append(got.extra[sun] - (every - mirrors).mean())
        worst.append(got.worst[sun] - every.max())
    assert len(errors) > 6
    assert np.abs(errors).max() < 0.004
    assert (np.abs(errors) < 0.002).mean() > 0.85
    assert abs(np.mean(errors)) < 0.0005
    assert np.abs(worst).max() < 0.012


def test_year_mean_of_the_usual_field_is_within_its_bounds() -> None:
    """Every sun within 0.002 of the aperture, the mean over the year within 0.0005."""
    rows = field(3, 8)
    suns = sky(7, 11)
    suns = suns[rows[0].into_mirror_frame(suns)[:, 2] > 0.05][::2]
    shade, lines = shade_of_lines(rows, suns), posed(rows, suns)
    own = own_gear_of_line(lines[2])
    got = line_gear_shade(lines[2], lines[:2], shade[2], own=own)
    exact = np.array([np.subtract(*judged(rows, GEAR, suns, 2, sun)).mean() for sun in range(len(suns))])
    assert np.abs(got.extra - exact).max() < 0.002
    assert abs((got.extra - exact).mean()) < 0.0005
    assert (got.extra > own.extra + 0.01).any()


def test_own_shade_alone_is_what_a_lone_line_gets() -> None:
    (row,) = field(1, 9)
    suns = sky()
    (line,) = posed((row,), suns)
    (mirrors,) = shade_of_lines((row,), suns)
    alone, own = line_gear_shade(line, (), mirrors), own_gear_of_line(line)
    assert alone.extra == pytest.approx(own.extra, abs=1e-12)
    assert alone.worst == pytest.approx(own.worst, abs=1e-12)


def test_interior_share_is_that_of_the_middle_of_a_long_row() -> None:
    (row,) = field(1, 3)
    suns = sky()
    slide, roll = poses(row, suns)
    interior = own_gear_share(GEAR, row, row.into_mirror_frame(suns), slide_m=slide, roll_deg=roll)
    long = replace(row, count=200)
    whole = own_gear_of_line(pose_gear(GEAR, long, suns, slide_m=slide, roll_deg=roll))
    bright = row.into_mirror_frame(suns)[:, 2] > 0.1
    assert np.abs(interior - whole.extra)[bright].max() < 0.003
    assert interior[bright].max() > 0.05


def test_shade_of_a_pipe_at_noon_is_its_diameter_over_the_height() -> None:
    """Sun along the mirror's axis: a bar as thick as d hides d / h of an aperture it spans. Shadows are kept in single precision."""
    (row,) = field(1, 9)
    bare = GearShape(1.2, 0.15, 2.0, 0.0, 0.0, 0.0, 0.0)
    share = own_gear_share(bare, row, np.array([[0.0, 0.0, 1.0]]), slide_m=np.zeros(1), roll_deg=np.zeros(1))
    assert share == pytest.approx([0.15 / 1.44], abs=SINGLE)


def test_shade_of_a_box_at_noon_is_its_face() -> None:
    (row,) = field(1, 9)
    bare = GearShape(1.2, 0.0, 0.0, 0.3, 0.2, 0.1, 0.0)
    for slide in (0.0, 0.2, row.spacing_m):
        share = own_gear_share(
            bare, row, np.array([[0.0, 0.0, 1.0]]), slide_m=np.array([slide]), roll_deg=np.zeros(1)
        )
        assert share == pytest.approx([0.3 * 0.2 / (1.25 * 1.44)], abs=SINGLE)


def test_roll_is_right_handed_about_the_line() -> None:
    """e east, mirror's axis up: a positive roll carries the arm to the south."""
    flat = RowOfMirrors(
        (0.0, 0.0, 0.0), (1.0, 0.0, 0.0), 1.35, 1, mirror_axes(tilt_deg=0.0, facing_deg=180.0), 1.25, 1.44
    )
    line = pose_gear(
        GEAR, flat, np.array([[0.0, 0.0, 1.0]]), slide_m=np.array([0.5]), roll_deg=np.array([90.0])
    )
    receiver = line.bodies.centre[0, 4]
    assert receiver == pytest.approx([0.5, -(1.235 + 0.075), 0.0], abs=1e-12)


def test_gear_far_to_the_north_adds_nothing() -> None:
    near, far = field(2)
    suns = sky()
    suns = suns[suns[:, 1] < 0]
    far = replace(far, first=(0.0, 60.0, 1.0))
    lines = posed((near, far), suns)
    mirrors = shade_of_lines((near, far), suns)[0]
    own = own_gear_of_line(lines[0])
    assert line_gear_shade(lines[0], (lines[1],), mirrors).extra == pytest.approx(own.extra, abs=1e-12)


def test_alike_lines_share_what_was_computed() -> None:
    rows = field(3)
    suns = sky()
    each = posed(rows, suns)
    shared = tuple(same_gear(each[0], row) for row in (replace(rows[0], count=9), *rows[1:]))
    shade = shade_of_lines(rows, suns)[2]
    apart = line_gear_shade(each[2], each[:2], shade)
    together = line_gear_shade(shared[2], (same_gear(shared[0], rows[0]), shared[1]), shade)
    assert together.extra == pytest.approx(apart.extra, abs=1e-12)
    with pytest.raises(ValueError, match="differ"):
        same_gear(each[0], replace(rows[1], spacing_m=1.5))


def test_a_line_along_the_mirrors_axis_has_no_roll() -> None:
    (row,) = field(1)
    upright = replace(row, along=row.axes[2])
    with pytest.raises(ValueError, match="cannot roll"):
        pose_gear(GEAR, upright, sky()[:1], slide_m=np.zeros(1), roll_deg=np.zeros(1))


def test_gear_without_sense_is_refused() -> None:
    with pytest.raises(ValueError, match="mirrors_per_frame"):
        replace(GEAR, mirrors_per_frame=0)
    with pytest.raises(ValueError, match="overhang"):
        replace(GEAR, overhang_m=-0.1)


def test_what_a_moved_line_does_not_reach_is_kept() -> None:
    rows, suns = field(3), sky()
    moved = (rows[0], replace(rows[1], first=(2.0, 3.9, 1.0)), rows[2])
    before, after = posed(rows, suns), posed(moved, suns)
    own = own_gear_of_line(after[2])
    shade, new_shade = shade_of_lines(rows, suns)[2], shade_of_lines(moved, suns)[2]
    earlier = line_gear_shade(before[2], before[:2], shade, own=own)
    holds = ~(reached(before[2], (before[1],))[0] | reached(after[2], (after[1],))[0])
    assert 0 < holds.sum() < len(suns)
    whole = line_gear_shade(after[2], after[:2], new_shade, own=own)
    part = line_gear_shade(after[2], after[:2], new_shade, own=own, kept=(earlier, holds))
    assert part.extra == pytest.approx(whole.extra, abs=1e-12)
    assert part.worst == pytest.approx(whole.worst, abs=1e-12)
    assert (whole.extra != earlier.extra).any()


def test_many_targets_at_once_are_reached_as_one_by_one() -> None:
    """Targets as long as the longest stand for shorter ones, so that now and then it says yes where one alone says no."""
    rows = field(4, 6)
    skew = replace(rows[3], along=(float(np.cos(0.1)), float(np.sin(0.1)), 0.0))
    lines = posed((*rows[:3], skew, replace(rows[2], count=3)), sky())
    caster, targets = lines[0], lines[1:]
    together = reaches(caster, targets)
    alone = np.array([reached(target, (caster,))[0] for target in targets])
    assert together.any()
    assert not together.all()
    assert (together | ~alone).all()
    assert (together == alone)[:3].all()


def test_no_sun_at_all_gives_no_shade() -> None:
    rows = field(2)
    suns = np.array([[0.0, 0.99, np.sqrt(1 - 0.99**2)]])  # behind the mirrors
    lines = posed(rows, suns)
    shade = shade_of_lines(rows, suns)
    got = line_gear_shade(lines[1], lines[:1], shade[1])
    assert isinstance(got, GearShade)
    assert shade[1].mean.tolist() == got.extra.tolist() == got.worst.tolist() == [0.0]
