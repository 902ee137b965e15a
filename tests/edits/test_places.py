"""Places left out of lines: edits that make and keep them, rules that hold them, and numbers that survive."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from studio.design.design import Design
from studio.design.field import Line
from studio.design.site import Ground
from studio.edits.arrange import mirror_lines
from studio.edits.edit import admit
from studio.edits.fields import read_value, set_field, set_fields, set_line_field
from studio.edits.lines import repeat_lines, shorten_line, stretch_line, turn_lines
from studio.edits.places import in_ranges, lane_across, leave_out, put_back, standing
from studio.edits.registry import apply_edit
from studio.engine.shade.clip import aperture_corners
from studio.errors import BadInputError
from studio.study.place import place_line, row_of

ROW = Line(id=3, x_m=1.0, y_m=2.0, count=20, first_number=5, left_out=(8, 9, 15))


LEVEL = Ground()


def field(*lines: Line, ground: Ground = LEVEL) -> Design:
    return Design(lines=lines or (ROW,), ground=ground)


def vertices(design: Design, line_id: int = 3) -> dict[int, tuple[float, float]]:
    """Where each mirror that stands on a line stands, by its number."""
    line = design.line(line_id)
    placed = place_line(line, design.mirror, design.ground)
    numbers = placed.first_number + placed.there
    return {int(one): (float(x), float(y)) for one, (x, y, _z) in zip(numbers, placed.vertices()[placed.there], strict=True)}  # fmt: skip


def test_a_mirror_is_left_out_and_put_back() -> None:
    out = apply_edit(field(), "leave_out", {"id": 3, "mirrors": [12, 11]})
    assert out.label == "Leave out mirrors 11-12 of Line 3"
    assert out.design.line(3).left_out == (8, 9, 11, 12, 15)
    assert out.design.line(3).mirrors == 15
    back = apply_edit(out.design, "put_back", {"id": 3, "mirrors": [11, 12]})
    assert back.design == field()
    assert back.label == "Put back mirrors 11-12 of Line 3"
    assert apply_edit(field(), "put_back", {"id": 3, "mirrors": [15]}).label == "Put back mirror 15 of Line 3"


def test_no_other_mirror_changes_its_place_or_number() -> None:
    before = vertices(field())
    after = vertices(leave_out(field(), id=3, mirrors=[12]).design)
    del before[12]
    assert after == before


def test_a_line_that_loses_its_end_is_shortened_past_the_empty_places() -> None:
    """Without 5, 6, 7 the line begins at 10, for 8 and 9 are empty; without 24 it ends at 23."""
    before = vertices(field())
    edit = admit(field(), leave_out(field(), id=3, mirrors=[5, 6, 7, 24]))
    line = edit.design.line(3)
    assert (line.first_number, line.count, line.left_out) == (10, 14, (15,))
    after = vertices(edit.design)
    assert list(after) == [10, 11, 12, 13, 14, 16, 17, 18, 19, 20, 21, 22, 23]
    for one, place in after.items():
        assert place == pytest.approx(before[one], abs=1e-9)


@pytest.mark.parametrize("mirrors", [[4], [25], [8], []])
def test_mirrors_that_do_not_stand_there_cannot_be_left_out(mirrors: list[int]) -> None:
    with pytest.raises(BadInputError, match=r"Line 3 has no mirror (4|25|8|–); those from 5 to 24"):
        leave_out(field(), id=3, mirrors=mirrors)


def test_a_line_keeps_a_mirror() -> None:
    with pytest.raises(BadInputError, match="remove the line instead"):
        leave_out(field(), id=3, mirrors=list(standing(ROW)))
    with pytest.raises(BadInputError, match="Place 7 of Line 3 is not empty; left out are 8-9, 15"):
        put_back(field(), id=3, mirrors=[7])


@pytest.mark.parametrize(
    ("left_out", "said"),
    [
        ((5,), "5 will not do; a line ends with a mirror at either end; shorten the line instead"),
        ((10, 24), "shorten the line instead"),
        ((25,), "numbers of its own mirrors, 5 to 24"),
        ((4, 8), "numbers of its own mirrors, 5 to 24"),
        ((9, 8), "let the numbers rise, each named once"),
        ((8, 8), "let the numbers rise, each named once"),
    ],
)
def test_what_a_line_cannot_leave_out_is_refused(left_out: tuple[int, ...], said: str) -> None:
    with pytest.raises(BadInputError, match=f"Line 3, left out: .*{said}"):
        admit(field(), set_field(field(), path="lines.3.left_out", value=left_out))


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        ("", ()), ("–", ()), ("8", (8,)), ("8, 10-12", (8, 10, 11, 12)), ("10–12; 8", (8, 10, 11, 12)), ("8 9 9", (8, 9)),
        ("7..9", (7, 8, 9)),
    ],
)  # fmt: skip
def test_numbers_are_read_as_they_are_typed(typed: str, meant: tuple[int, ...]) -> None:
    edit = admit(field(), set_field(field(), path="lines.3.left_out", value=typed))
    assert edit.design.line(3).left_out == meant
    assert edit.label == f"Set Line 3, left out to {in_ranges(meant) or '–'}"


@pytest.mark.parametrize("typed", ["a tree", "8-", "9-7", "1-99999", "8.5", "3, x"])
def test_what_are_no_numbers_is_said(typed: str) -> None:
    with pytest.raises(BadInputError, match="numbers and ranges as 4, 9-12 would be right"):
        set_field(field(), path="lines.3.left_out", value=typed)


@given(st.sets(st.integers(0, 500), max_size=60))
def test_ranges_are_read_back(numbers: set[int]) -> None:
    rising = tuple(sorted(numbers))
    from studio.design.fields import Numbers

    assert read_value(Numbers("left out"), in_ranges(rising)) == rising


def test_a_line_counted_or_numbered_anew_keeps_its_empty_places() -> None:
    design = field()
    for edit in (
        set_field(design, path="lines.3.first_number", value=1),
        set_fields(design, values={"lines.3.first_number": 1}),
        set_line_field(design, ids=[3], name="first_number", value=1),
    ):
        line = admit(design, edit).design.line(3)
        assert (line.first_number, line.left_out) == (1, (4, 5, 11))
        assert line.absent == ROW.absent
    line = admit(design, set_field(design, path="lines.3.count", value=11)).design.line(3)
    assert (line.count, line.left_out) == (10, (8, 9)), "place 15 would end it, so that it ends at 14"
    with pytest.raises(BadInputError, match="mirrors"):
        admit(design, set_field(design, path="lines.3.count", value=0))


@settings(max_examples=60)
@given(st.sampled_from(["drive", "far"]), st.integers(1, 40), st.sampled_from([0.0, 8.0]))
def test_stretching_keeps_numbers_and_places(end: str, count: int, slope: float) -> None:
    """Of every mirror that stays, unless more are added at the drive end than there are numbers below the first."""
    design = field(ground=Ground(slope_percent=slope, falls_towards_deg=70.0))
    edit = admit(design, stretch_line(design, id=3, end="drive" if end == "drive" else "far", count=count))
    before, after, line = vertices(design), vertices(edit.design), edit.design.line(3)
    assert line.count <= count
    assert not set(line.left_out) & {line.first_number, line.last_number}
    shift = max(0, count - 24) if end == "drive" else 0
    if count >= 20:
        assert line.left_out == tuple(one + shift for one in ROW.left_out)
    stay = [one for one in before if one + shift in after]
    assert stay
    for one in stay:
        assert after[one + shift] == pytest.approx(before[one], abs=1e-8)
    if end == "drive":
        assert line.last_number == 24 + shift
    else:
        assert line.first_number == 5


def test_shortening_drops_empty_places_at_its_new_ends() -> None:
    """Places 3 to 10 are numbers 8 to 15: 8, 9 and 15 are empty."""
    edit = admit(field(), shorten_line(field(), id=3, first=3, count=8))
    line = edit.design.line(3)
    assert (line.first_number, line.count, line.left_out) == (10, 5, ())
    assert edit.label == "Keep mirrors 10 to 14 of Line 3"
    with pytest.raises(BadInputError, match="No mirror of Line 3 stands there"):
        shorten_line(field(), id=3, first=3, count=2)


def test_turned_mirrored_and_repeated_lines_keep_their_empty_places() -> None:
    design = field()
    for edit in (
        turn_lines(design, ids=[3], angle_deg=35.0),
        mirror_lines(design, ids=[3], start=(0.0, 0.0), end=(9.0, 4.0)),
        repeat_lines(design, ids=[3], times=2, pitch_m=3.0),
    ):
        assert all(line.left_out == ROW.left_out for line in admit(design, edit).design.lines), edit.label


# lanes ------------------------------------------------------------------------------------------------------------


def lines_of_a_field(ground: Ground) -> Design:
    lines = tuple(
        Line(id=n + 1, x_m=0.4 * n, y_m=3.1 * n, azimuth_deg=90.0 + 4.0 * n, count=24, first_number=1 + n)
        for n in range(5)
    )
    return Design(lines=lines, ground=ground)


@pytest.mark.parametrize("slope", [0.0, 12.0])
@pytest.mark.parametrize("end", [(16.0, 16.0), (8.0, 18.0)])
def test_a_lane_is_clear_and_takes_no_mirror_more(slope: float, end: tuple[float, float]) -> None:
    """Each aperture's corners on the plan against the lane's strip, by shapely."""
    design = lines_of_a_field(Ground(slope_percent=slope, falls_towards_deg=60.0))
    edit = admit(design, lane_across(design, start=(14.0, -3.0), end=end, width_m=3.0))
    strip = shapely.LineString([(14.0, -3.0), end]).buffer(1.5, cap_style="flat")
    gone = 0
    for line in design.lines:
        placed = place_line(line, design.mirror, design.ground)
        feet = shapely.polygons(aperture_corners(row_of(placed, design.mirror))[..., :2])
        met = np.flatnonzero(shapely.area(shapely.intersection(feet, strip)) > 1e-9)
        expected = tuple(int(place) + line.first_number for place in met)
        assert edit.design.line(line.id).left_out == expected
        gone += len(expected)
    assert gone >= 12
    assert edit.label == f"Leave a lane 3.00 m wide across 5 lines, without {gone} mirrors"


def test_a_lane_past_an_end_shortens_the_line() -> None:
    design = field(replace(ROW, left_out=()))
    edit = admit(design, lane_across(design, start=(1.0, -5.0), end=(1.0, 9.0), width_m=3.0))
    line = edit.design.line(3)
    assert (line.first_number, line.count, line.left_out) == (7, 18, ())


@pytest.mark.parametrize(
    ("start", "end", "width", "said"),
    [
        ((0.0, 40.0), (20.0, 40.0), 3.0, "meets no mirror"),
        ((0.0, -4.0), (0.0, -4.0), 3.0, "up to 100 m between two places"),
        ((5.0, -4.0), (5.0, 4.0), 0.0, "up to 100 m between two places"),
        ((5.0, -4.0), (5.0, 4.0), float("nan"), "up to 100 m between two places"),
        ((-5.0, 2.0), (40.0, 2.0), 3.0, "remove the line instead"),
    ],
)
def test_lanes_that_make_no_sense_are_refused(
    start: tuple[float, float], end: tuple[float, float], width: float, said: str
) -> None:
    with pytest.raises(BadInputError, match=said):
        lane_across(field(), start=start, end=end, width_m=width)
