"""The section as display data: held against published formulas, a general library, and the plan of the same moment."""

from dataclasses import replace
from math import cos, hypot, radians, sin, tan

import numpy as np
import pvlib
import pytest

from studio.design.design import Design
from studio.design.field import Store
from studio.design.obstacles import Block, Fence, Horizon, Pole, Tree
from studio.design.site import Ground, NoBuild, Plot
from studio.drawings.moment import Sun, sun_at
from studio.drawings.plan import plan_drawing
from studio.drawings.section import profile_deg, section_drawing
from studio.drawings.section_cut import Cut, angle_to, first_cut, next_mirror, square_cut
from tests.drawings.section_rows import PITCH, SITE, WIDTH, across, at, line, rows


@pytest.mark.parametrize("azimuth", [0.0, 35.0, 90.0, 160.0, 250.0])
@pytest.mark.parametrize(("day", "clock_h"), [(355, 9.0), (80, 11.0), (172, 15.5)])
def test_the_profile_angle_is_the_projected_elevation_of_a_general_library(
    azimuth: float, day: int, clock_h: float
) -> None:
    """pvlib's projected solar zenith angle about a level axis square to the plane: 90 less its size is the profile angle."""
    sun = sun_at(SITE, day, clock_h)
    zenith = pvlib.shading.projected_solar_zenith_angle(
        90.0 - sun.elevation_deg, sun.azimuth_deg, axis_tilt=0.0, axis_azimuth=(azimuth - 90.0) % 360.0
    )
    angle, ahead = profile_deg(sun, azimuth)
    assert angle == pytest.approx(90.0 - abs(float(zenith)), abs=1e-6)
    assert ahead == (float(zenith) > 0)


def test_the_profile_angle_of_a_sun_in_the_plane_is_its_elevation() -> None:
    sun = Sun(30.0, 180.0, np.array([0.0, -cos(radians(30)), 0.5]), 12.0)
    (there, ahead), (back, behind) = profile_deg(sun, 180.0), profile_deg(sun, 0.0)
    assert [there, back] == pytest.approx([30.0, 30.0])
    assert ahead
    assert not behind
    assert profile_deg(sun, 90.0)[0] == pytest.approx(90.0)


@pytest.mark.parametrize("clock_h", [9.0, 10.5, 12.5])
def test_rows_at_the_unshaded_spacing_just_clear(clock_h: float) -> None:
    """D = h (cos b + sin b / tan p): the spacing of unshaded rows (Duffie & Beckman, Solar Engineering of Thermal

    Processes). At that pitch no light is lost, a centimetre closer some is.
    """
    angle = at(rows(3.0), across(pitch=3.0), clock_h=clock_h).sun.profile_deg
    assert angle is not None
    mirror = Design().mirror
    tilt = radians(mirror.tilt_deg)
    clear = mirror.height_m * (cos(tilt) + sin(tilt) / tan(radians(angle)))
    for pitch, shaded in ((clear + 1e-6, False), (clear - 0.01, True)):
        drawing = at(rows(pitch), across(pitch=pitch), clock_h=clock_h)
        back = line(drawing, 2).light
        assert (back.covered(by_pipe=False) > 0) == shaded
        assert (back.share > 1e-9) == shaded
        assert bool([one for one in drawing.shades if one.on == 2 and one.by == 1]) == (back.share > 5e-4)
        lowest = drawing.pitches[0].clears_deg
        assert lowest is not None
        assert (lowest > angle + 1e-6) == shaded
    exact = at(rows(clear), across(pitch=clear), clock_h=clock_h).pitches[0].clears_deg
    assert exact == pytest.approx(angle, abs=1e-6)


@pytest.mark.parametrize("clock_h", [8.5, 10.0, 12.3, 14.0])
def test_the_shaded_stretch_of_long_rows_is_that_of_a_general_library_and_of_the_plan(clock_h: float) -> None:
    """pvlib's one-dimensional shaded fraction of long rows; the plan's tint is of the same flat apertures."""
    design = rows(PITCH)
    drawing = at(design, across(), clock_h=clock_h)
    sun, mirror = drawing.sun.sun, design.mirror
    expected = pvlib.shading.shaded_fraction1d(
        90.0 - sun.elevation_deg, sun.azimuth_deg, axis_azimuth=90.0, shaded_row_rotation=mirror.tilt_deg,
        collector_width=mirror.height_m, pitch=PITCH,
    )  # fmt: skip
    one = line(drawing, 2)
    assert one.light.covered(by_pipe=False) == pytest.approx(float(expected), abs=1e-9)
    assert one.light.share == pytest.approx(float(expected), abs=1e-9)
    tints = plan_drawing(design, day_of_year=355, clock_h=clock_h).tints
    assert one.light.share == pytest.approx(float(tints[2][one.line.mirror]), abs=1e-12)


@pytest.mark.parametrize("clock_h", [8.2, 9.5, 15.0])
def test_shares_are_those_of_the_plan_whatever_the_lines(clock_h: float) -> None:
    """Lines of other tilt, height and azimuth; an obstacle too: what the section says of a mirror is its tint on the plan."""
    design = rows(PITCH, count=12, spacing=1.35)
    odd = replace(design.lines[1], tilt_deg=50.0, azimuth_deg=84.0, stands_at_m=1.1)
    tree = Tree(name="almond", place=(2.0, -4.0), crown_radius_m=1.5, crown_base_m=0.5, height_m=4.0)
    design = replace(design, lines=(design.lines[0], odd, design.lines[2]), obstacles=(tree,))
    drawing = at(design, across(), clock_h=clock_h)
    tints = plan_drawing(design, day_of_year=355, clock_h=clock_h).tints
    assert len(drawing.lines) == 3
    for one in drawing.lines:
        assert one.light.share == pytest.approx(float(tints[one.line.id][one.line.mirror]), abs=1e-12)
        named = sum(share for _id, share in one.light.by) + one.light.by_obstacles
        assert one.light.share <= named + 1e-3


def test_the_film_sags_as_its_parabola() -> None:
    """z = y² / 4 f over the vertex, a paraboloid's section through its axis."""
    one = line(at(rows(PITCH), across()), 2)
    tilt, focal = radians(Design().mirror.tilt_deg), Design().mirror.focal_m
    off = one.line.film - one.line.vertex
    # a mirror that faces south lies with its high edge to the north: up the slope is to the right
    along, deep = off @ [cos(tilt), sin(tilt)], off @ [-sin(tilt), cos(tilt)]
    assert deep == pytest.approx(along**2 / (4 * focal), abs=1e-9)
    assert np.ptp(along) == pytest.approx(Design().mirror.height_m)


def test_heights_gaps_and_the_shadow_follow_from_the_triangle() -> None:
    """Upper edge at stands-at + rim cos b + h/2 sin b; its shadow as long as that over tan p (a pole's shadow)."""
    design = rows(PITCH)
    drawing = at(design, across())
    mirror, angle = design.mirror, drawing.sun.profile_deg
    assert angle is not None
    tilt = radians(mirror.tilt_deg)
    chord = line(drawing, 2).line.chord
    top = float(chord[:, 1].max())
    assert float(np.ptp(chord[:, 1])) == pytest.approx(mirror.height_m * sin(tilt))
    shadow = line(drawing, 2).shadow
    assert shadow is not None
    assert shadow.length_m == pytest.approx(top / tan(radians(angle)), abs=1e-9)
    heights = {height.key: height.height_m for height in drawing.heights(2)}
    assert heights["vertex"] == pytest.approx(mirror.stands_at_m)
    assert heights["post"] == pytest.approx(mirror.stands_at_m)
    assert heights["low"] < heights["vertex"] < heights["high"] < heights["receiver"]
    pitch = drawing.pitches[0]
    assert [pitch.along_m, pitch.square_m] == pytest.approx([PITCH, PITCH])
    assert pitch.gap_m == pytest.approx(PITCH - mirror.height_m * cos(tilt))


def test_on_a_slope_heights_are_counted_from_the_ground_below_and_the_shadow_from_the_slope() -> None:
    design = replace(rows(PITCH), ground=Ground(slope_percent=6.0, falls_towards_deg=180.0))
    drawing = at(design, across())
    profile = drawing.ground.profile
    assert np.diff(profile[:, 1]) / np.diff(profile[:, 0]) == pytest.approx(0.06)
    assert drawing.ground.fall_percent() == pytest.approx(-6.0)
    one, heights = line(drawing, 2), {height.key: height for height in drawing.heights(2)}
    assert heights["vertex"].height_m == pytest.approx(design.mirror.stands_at_m)
    assert heights["low"].foot_m == pytest.approx(0.06 * (one.line.low[0] - 6.0))
    assert one.line.legs[:, 0, 1] == pytest.approx(0.06 * (one.line.legs[:, 0, 0] - 6.0))
    angle, shadow = drawing.sun.profile_deg, one.shadow
    assert shadow is not None
    assert shadow.high is not None
    assert angle is not None
    # the ray down from the upper edge, z0 - x tan p, meets the ground, g0 + 0.06 x
    high = one.line.chord[int(one.line.chord[:, 1].argmax())]
    over = high[1] - 0.06 * (high[0] - 6.0)
    assert shadow.length_m == pytest.approx(over / (tan(radians(angle)) + 0.06), abs=1e-6)


@pytest.mark.parametrize("turn", [10.0, 30.0, 55.0])
def test_an_oblique_cut_is_longer_by_one_over_the_cosine(turn: float) -> None:
    design = rows(PITCH)
    reach = 30.0
    way = (sin(radians(turn)), cos(radians(turn)))
    cut = Cut((-reach * way[0], PITCH - reach * way[1]), (reach * way[0], PITCH + reach * way[1]))
    assert angle_to(cut, 90.0) == pytest.approx(90.0 - turn)
    drawing = at(design, cut)
    pitch = drawing.pitches[0]
    assert pitch.along_m == pytest.approx(PITCH / cos(radians(turn)))
    assert pitch.square_m == pytest.approx(PITCH)
    assert pitch.gap_m == pytest.approx(at(design, across()).pitches[0].gap_m, abs=1e-9)
    assert line(drawing, 2).line.stretch == pytest.approx(1 / cos(radians(turn)))
    # long rows lose the same whichever way they are cut
    square = line(at(design, across()), 2).light
    assert line(drawing, 2).light.share == pytest.approx(square.share, abs=1e-9)


def test_the_other_side_shows_the_mirror_image() -> None:
    design, cut = rows(PITCH), across()
    here, there = at(design, cut), at(design, cut.flipped())
    assert there.cut.looks_deg == pytest.approx((here.cut.looks_deg + 180.0) % 360.0)
    for one in here.lines:
        other = line(there, one.line.id)
        assert other.line.vertex[0] == pytest.approx(cut.length_m - one.line.vertex[0])
        assert other.line.film[::-1] == pytest.approx(np.array([cut.length_m, 0.0]) + one.line.film * [-1, 1])
        assert other.light.share == pytest.approx(one.light.share)
    assert here.sun.profile_deg == pytest.approx(there.sun.profile_deg)
    assert here.sun.from_right != there.sun.from_right


def test_what_is_cut_is_the_mirror_nearest_to_it() -> None:
    design = rows(PITCH, count=9, spacing=1.35)
    cut = Cut((0.5, -5.0), (0.5, 12.0))
    one = line(at(design, cut), 1)
    assert one.line.mirror == 4
    assert one.line.number == 5
    assert one.line.off_m == pytest.approx(0.5)
    missed = at(design, Cut((30.0, -5.0), (30.0, 12.0)))
    assert missed.lines == ()
    assert missed.pitches == ()


def test_rays_end_on_what_stops_them() -> None:
    """A ray that a row in front stops ends on its chord, one that a pipe stops within its insulation; others come through."""
    drawing = at(rows(PITCH), across(), clock_h=9.3)
    front, one = line(drawing, 1), line(drawing, 2)
    light = one.line.placed.axes @ drawing.sun.sun.direction @ one.line.seen.see
    pipe = front.line.vertex + front.gear.pipe
    radius = float(np.hypot(*(front.gear.jacket - front.gear.pipe).T).max())
    low, run = front.line.chord[0], np.diff(front.line.chord, axis=0)[0]
    on_mirror = on_pipe = 0
    for foot, stop in zip(one.gear.feet, one.light.stops, strict=True):
        start = one.line.vertex + foot @ one.line.seen.see
        if not np.isfinite(stop):
            continue
        end = start + stop * light
        share = float((end - low) @ run / (run @ run))
        if 0 <= share <= 1 and abs(float(np.linalg.norm(end - low - share * run))) < 1e-9:
            on_mirror += 1
        else:
            assert hypot(*(end - pipe)) <= radius + 1e-9
            on_pipe += 1
    assert on_mirror > 0
    assert on_pipe > 0
    assert np.isinf(one.light.stops).any()
    assert np.isinf(front.light.stops).all(), "nothing stands before the first line but its own gear"


def test_a_cut_along_a_line_shows_all_of_it_with_its_stroke() -> None:
    design = rows(PITCH, count=9, spacing=1.35, lines=2)
    drawing = at(design, Cut((-8.0, 0.05), (8.0, 0.0)), day=172, clock_h=12.0)
    assert drawing.lines == ()
    (row,) = drawing.along
    assert row.line.id == 1
    assert len(row.line.films) == 9
    assert np.diff(row.line.vertices[:, 0]) == pytest.approx(1.35, abs=1e-4)
    stroke = design.motion.stroke_m
    assert float(np.ptp(row.gear.stroke[:, 0])) == pytest.approx(2 * stroke, abs=1e-3)
    out = float(np.ptp(row.stops[:, 0])) - (8 * 1.35 + WIDTH)
    assert out == pytest.approx(4 * stroke, abs=1e-2), "the pipe overhangs by its stroke and slides by it"
    assert len(row.light) == 9


def test_the_sun_below_the_horizon_or_behind_the_skyline_says_so() -> None:
    design = rows(PITCH)
    night = at(design, across(), clock_h=2.0)
    assert (night.sun.state, night.sun.profile_deg) == ("down", None)
    assert all(one.shadow is None and one.light.share == 0.0 and not one.gear.rays for one in night.lines)
    walled = replace(design, horizon=Horizon(skyline=((0.0, 60.0),)))
    assert at(walled, across()).sun.state == "behind the skyline"
    behind = at(design, across(), day=172, clock_h=5.6)
    assert behind.sun.state == "shines"
    assert not any(one.gear.lit for one in behind.lines), "a summer sun rises behind mirrors that face south"


def test_land_obstacles_and_store_along_the_cut() -> None:
    shed = Block(name="shed", ring=((-1.0, 12.0), (2.0, 12.0), (2.0, 15.0), (-1.0, 15.0)), height_m=2.5)
    wall = Block(name="wall", ring=((4.0, 0.0), (4.2, 0.0), (4.2, 5.0), (4.0, 5.0)), height_m=1.5)
    tree = Tree(name="almond", place=(1.0, -3.0), crown_radius_m=2.0, crown_base_m=1.0, height_m=5.0)
    mast = Pole(name="mast", place=(-30.0, 4.0), radius_m=0.1, height_m=9.0)
    design = replace(
        rows(PITCH, count=5),
        obstacles=(shed, wall, tree, mast),
        plot=Plot(
            boundary=((-20.0, -5.0), (20.0, -5.0), (20.0, 18.0), (-20.0, 18.0)),
            no_build=(NoBuild(name="well", ring=((-1.0, 9.0), (1.0, 9.0), (1.0, 11.0), (-1.0, 11.0))),),
        ),
        store=Store(x_m=3.0, y_m=16.0, radius_m=1.0),
    )
    cut = Cut((0.0, -6.0), (0.0, 20.0))
    ground = at(design, cut).ground
    assert list(ground.edges) == pytest.approx([1.0, 24.0])
    assert [(area.name, area.start_m, area.end_m) for area in ground.areas] == [("well", 15.0, 17.0)]
    found = {one.name: one for one in ground.obstacles}
    assert set(found) == {"shed", "wall", "almond"}, "the mast stands too far off"
    assert found["shed"].off_m == 0.0
    assert np.ptp(found["shed"].outlines[0], axis=0) == pytest.approx([3.0, 2.5])
    # looking west, what stands to the east stands before the cut
    assert found["wall"].off_m == pytest.approx(-4.0)
    crown = found["almond"].outlines[0]
    assert found["almond"].off_m == 0.0
    # an ellipsoid cut at half its radius is an ellipse of sqrt(1 - 1/4) of its size
    assert np.ptp(crown, axis=0) == pytest.approx(np.array([4.0, 4.0]) * np.sqrt(0.75), rel=1e-3)
    assert ground.store is not None
    assert ground.store[1] == pytest.approx(-3.0)


def test_headers_that_cross_the_cut_are_there_at_true_size() -> None:
    design = rows(PITCH, count=5)
    design = replace(
        design,
        header=replace(design.header, hot=((5.0, -4.0), (5.0, 9.0)), cold=((-8.0, -4.0), (-8.0, 9.0))),
        store=Store(x_m=5.0, y_m=-8.0),
    )
    drawing = at(design, Cut((-20.0, 1.2), (20.0, 1.2)))
    hot = [one for one in drawing.headers if one.hot]
    assert [float(one.middle[0]) for one in hot] == [pytest.approx(25.0)]
    assert hot[0].insulated_m == pytest.approx(hot[0].radius_m + design.header.insulation_mm / 1000)
    assert any(not one.hot for one in drawing.headers)


# cuts ------------------------------------------------------------------------------------------------------------


def test_the_first_cut_is_square_to_the_selected_line_and_crosses_all() -> None:
    design = rows(PITCH, count=9, spacing=1.35)
    cut = first_cut(design, (3,))
    assert cut == square_cut(design, 3)
    assert not cut.drawn
    assert angle_to(cut, 90.0) == pytest.approx(90.0)
    assert cut.looks_deg == pytest.approx(270.0), "mirrors that face south have their low edge on the left"
    assert [one.line.id for one in at(design, cut).lines] == [1, 2, 3]
    here = square_cut(design, 2, (3.0, 50.0))
    assert here.start[0] == pytest.approx(2.7), "the vertex nearest to the place"
    assert first_cut(Design(), ()).length_m > 1.0
    only = Design(plot=Plot(boundary=((0.0, 0.0), (30.0, 0.0), (30.0, 20.0), (0.0, 20.0))))
    assert first_cut(only, ()).length_m >= 20.0


def test_the_next_mirror_and_no_further() -> None:
    design = rows(PITCH, count=5, spacing=1.35)
    cut = square_cut(design, 2)
    assert next_mirror(design, 2, cut, 1).start[0] == pytest.approx(cut.start[0] + 1.35)
    assert next_mirror(design, 2, cut, -9).start[0] == pytest.approx(cut.start[0] - 2.7)
    assert cut.flipped().flipped() == cut


def test_a_fence_stands_upright_where_it_is_cut_and_shows_its_side_beside() -> None:
    across = Fence(name="wire", path=((0.0, -8.0), (6.0, -8.0)), height_m=1.6)
    beside = replace(across, path=((7.0, -12.0), (7.0, -2.0)))
    cut = Cut((3.0, -15.0), (3.0, 15.0))
    drawing = section_drawing(Design(obstacles=(across, beside)), cut, day_of_year=355, clock_h=12.0)
    met, aside = drawing.ground.obstacles
    along = met.outlines[0][:, 0]
    assert along.mean() == pytest.approx(7.0)
    assert np.ptp(along) < 0.1
    assert met.off_m == 0.0
    assert abs(aside.off_m) == pytest.approx(4.0)
    assert (aside.outlines[0][:, 0].min(), aside.outlines[0][:, 0].max()) == pytest.approx((3.0, 13.0))
