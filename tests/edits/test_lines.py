"""Edits of lines: each gives a new design and a label, and leaves the old one as it was."""

from dataclasses import replace
from math import hypot

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.design.design import Design
from studio.design.field import Line
from studio.design.site import Ground
from studio.edits import lines
from studio.edits.edit import admit
from studio.edits.geometry import (
    front_line,
    last_vertex,
    level_length,
    middle,
    neighbour,
    pitch,
    usual_pitch,
)
from studio.edits.together import Things, add_things, delete_things
from studio.errors import BadInputError


def field(count: int = 3, pitch_m: float = 3.2, azimuth_deg: float = 90.0) -> Design:
    rows = tuple(
        Line(id=n + 1, x_m=0.0, y_m=n * pitch_m, azimuth_deg=azimuth_deg, count=20) for n in range(count)
    )
    return Design(lines=rows)


def test_place_line_counts_mirrors_by_spacing() -> None:
    edit = lines.place_line(Design(), x_m=1.0, y_m=2.0, azimuth_deg=90.0, length_m=13.6)
    line = edit.design.line(1)
    assert (line.count, line.spacing_m) == (11, 1.35)
    assert edit.label == "Place Line 1 with 11 mirrors"


def test_line_between_points_runs_from_the_first_to_the_second() -> None:
    line = lines.line_between(Design(), start=(0, 0), end=(0, 27.0)).design.line(1)
    assert line.azimuth_deg == pytest.approx(0.0)
    assert line.count == 21


def test_a_new_line_has_room_for_its_mirrors() -> None:
    wide = replace(Design(), mirror=replace(Design().mirror, width_m=2.0))
    line = lines.place_line(wide, x_m=0, y_m=0, count=2).design.line(1)
    assert line.spacing_m >= 2.0 + wide.motion.frame_room_m


def test_move_says_how_far() -> None:
    edit = lines.move_lines(field(), ids=[3], dx_m=0.0, dy_m=1.2)
    assert edit.label == "Move Line 3 by 1.20 m"
    assert edit.design.line(3).y_m == pytest.approx(7.6)
    assert edit.design.line(2) is field().line(2) or edit.design.line(2) == field().line(2)


def test_turning_keeps_the_middle_on_level_and_on_sloping_land() -> None:
    for slope in (0.0, 20.0):
        design = replace(field(), ground=Ground(slope_percent=slope, falls_towards_deg=200.0))
        before = middle(design.line(2), design.ground)
        turned = lines.turn_lines(design, ids=[2], angle_deg=25.0).design
        assert turned.line(2).azimuth_deg == pytest.approx(115.0)
        assert middle(turned.line(2), design.ground) == pytest.approx(before, abs=1e-9)


@pytest.mark.parametrize("end", ["drive", "far"])
def test_stretching_leaves_the_other_end_where_it_is(end: lines.End) -> None:
    design = field(azimuth_deg=40.0)
    line = design.line(1)
    stretched = lines.stretch_line(design, id=1, end=end, count=30).design.line(1)
    assert stretched.count == 30
    if end == "far":
        assert (stretched.x_m, stretched.y_m) == (line.x_m, line.y_m)
    else:
        assert last_vertex(stretched, design.ground) == pytest.approx(last_vertex(line, design.ground))


def test_stretching_to_a_length_takes_the_nearest_number_of_mirrors() -> None:
    design = field()
    assert lines.stretch_line(design, id=1, end="far", length_m=1.35 * 9 + 0.6).design.line(1).count == 10
    assert lines.stretch_line(design, id=1, end="far", length_m=1.35 * 9 + 0.7).design.line(1).count == 11
    assert lines.stretch_line(design, id=1, end="far", length_m=0.0).design.line(1).count == 1


def test_repeat_gives_new_ids_behind_the_line() -> None:
    edit = lines.repeat_lines(field(1), ids=[1], times=4, pitch_m=3.2)
    assert edit.label == "Repeat Line 1 four times at 3.20 m"
    assert [line.id for line in edit.design.lines] == [1, 2, 3, 4, 5]
    assert [line.y_m for line in edit.design.lines] == pytest.approx([0.0, 3.2, 6.4, 9.6, 12.8])
    assert {line.count for line in edit.design.lines} == {20}


def test_repeat_goes_behind_a_line_drawn_from_east_to_west() -> None:
    design = field(1, azimuth_deg=270.0)
    assert lines.repeat_lines(design, ids=[1], times=1, pitch_m=3.0).design.line(2).y_m == pytest.approx(3.0)


def test_a_block_is_repeated_with_the_pitch_between_blocks() -> None:
    design = field(2, pitch_m=3.0)
    edit = lines.repeat_lines(design, ids=[1, 2], times=1, pitch_m=4.0)
    assert [line.y_m for line in edit.design.lines] == pytest.approx([0.0, 3.0, 7.0, 10.0])


@pytest.mark.parametrize("times", [0, -1, 201])
def test_repeat_refuses_a_number_of_times_it_cannot_do(times: int) -> None:
    with pytest.raises(BadInputError, match="from 1 to 200"):
        lines.repeat_lines(field(1), ids=[1], times=times, pitch_m=3.0)


def test_the_neighbour_stands_in_front() -> None:
    design = field(3)
    found = neighbour(design, design.line(2))
    assert found is not None
    assert found.id == 1
    behind = neighbour(design, design.line(1))
    assert behind is not None
    assert behind.id == 2
    assert pitch(design, design.line(3)) == pytest.approx(3.2)


def test_set_pitch_moves_the_line_and_not_its_neighbour() -> None:
    edit = lines.set_pitch(field(), id=3, pitch_m=4.05)
    assert pitch(edit.design, edit.design.line(3)) == pytest.approx(4.05)
    assert edit.design.line(2) == field().line(2)


def test_set_pitch_needs_a_neighbour_and_a_distance() -> None:
    with pytest.raises(BadInputError, match="no parallel neighbour"):
        lines.set_pitch(field(1), id=1, pitch_m=3.0)
    with pytest.raises(BadInputError, match="more than 0 m"):
        lines.set_pitch(field(2), id=2, pitch_m=0.0)


@given(scale=st.floats(0.2, 4.0), azimuth=st.floats(0.0, 359.0))
def test_scaling_scales_every_pitch_alike_and_keeps_the_front_line(scale: float, azimuth: float) -> None:
    design = lines.turn_lines(field(4), ids=[1, 2, 3, 4], angle_deg=azimuth).design
    before = [pitch(design, line) for line in design.lines]
    front = front_line(design)
    after = lines.scale_pitches(design, scale=scale).design
    assert after.line(front.id) == front
    offsets = [hypot(a.x_m - front.x_m, a.y_m - front.y_m) for a in after.lines if a.id != front.id]
    origin = [hypot(a.x_m - front.x_m, a.y_m - front.y_m) for a in design.lines if a.id != front.id]
    assert offsets == pytest.approx([scale * value for value in origin], rel=1e-6)
    assert all(value is not None for value in before)


def test_scaling_back_gives_the_field_again() -> None:
    design = field(5)
    there = lines.scale_pitches(design, scale=1.25).design
    back = lines.scale_pitches(there, scale=0.8).design
    assert [line.y_m for line in back.lines] == pytest.approx([line.y_m for line in design.lines])


def test_delete_and_unknown_lines() -> None:
    assert [line.id for line in lines.delete_lines(field(), ids=[1, 3]).design.lines] == [2]
    with pytest.raises(BadInputError, match="There is no Line 9; there are: 1, 2, 3"):
        lines.move_lines(field(), ids=[9], dx_m=1.0, dy_m=0.0)


def test_length_on_sloping_land_is_shorter_on_the_plan() -> None:
    line = field(1).line(1)
    up = Ground(slope_percent=30.0, falls_towards_deg=270.0)
    assert level_length(line, up) == pytest.approx(19 * 1.35 / (1 + 0.3**2) ** 0.5)


def test_usual_pitch_clears_the_noon_sun_of_the_winter_solstice() -> None:
    """Unshaded rows: D = h (cos b + sin b / tan p); Duffie & Beckman. Worked by hand: h 1.44, b 36, p 30.56 deg."""
    from math import cos, radians, sin, tan

    needed = 1.44 * (cos(radians(36)) + sin(radians(36)) / tan(radians(90 - 36 - 23.44)))
    assert needed <= usual_pitch(Design()) < needed + 0.05


def test_an_edit_that_could_not_be_opened_again_is_refused() -> None:
    design = field(1)
    edit = lines.place_line(design, x_m=float("inf"), y_m=0.0)
    with pytest.raises(BadInputError):
        admit(design, edit)


def test_the_number_of_a_line_that_was_taken_away_is_not_given_again() -> None:
    """By whichever way it went and came."""
    design = field()
    gone = admit(design, lines.delete_lines(design, ids=[3])).design
    assert lines.next_id(gone) == 4
    assert lines.place_line(gone, x_m=0.0, y_m=9.0, count=4).design.lines[-1].id == 4
    cleared = delete_things(gone, things=Things(lines=(1, 2))).design
    assert lines.place_line(cleared, x_m=0.0, y_m=9.0, count=4).design.lines[0].id == 4
    pasted = add_things(cleared, lines=design.lines).design
    assert [line.id for line in pasted.lines] == [4, 5, 6]
    assert lines.next_id(admit(pasted, lines.delete_lines(pasted, ids=[4])).design) == 7
    repeated = lines.repeat_lines(gone, ids=[2], times=2, pitch_m=3.0).design
    assert [line.id for line in repeated.lines] == [1, 2, 4, 5]
