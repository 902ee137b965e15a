"""Several lines at once: aligned, spaced evenly, mirrored, turned to an azimuth. Fields are invented."""

import dataclasses
from collections.abc import Callable
from math import cos, radians, sin

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.design.design import Design
from studio.design.field import Line
from studio.design.site import Ground, Point
from studio.edits import arrange
from studio.edits.edit import admit
from studio.edits.geometry import first_vertex, last_vertex, level_length, middle, offset
from studio.edits.registry import EDITS, apply_edit
from studio.errors import BadInputError


def field(azimuth_deg: float = 90.0, slope_percent: float = 0.0) -> Design:
    """Four lines at uneven pitches (0, 3, 7, 12 m to the left), each begun elsewhere and of its own length."""
    x, y = sin(radians(azimuth_deg)), cos(radians(azimuth_deg))
    places = ((0.0, 0.0, 20), (2.5, 3.0, 14), (-4.0, 7.0, 9), (1.0, 12.0, 11))
    lines = tuple(
        Line(id=n + 1, x_m=u * x - v * y, y_m=u * y + v * x, azimuth_deg=azimuth_deg, count=count)
        for n, (u, v, count) in enumerate(places)
    )
    return Design(lines=lines, ground=Ground(slope_percent=slope_percent, falls_towards_deg=120.0))


def along(line: Line, point: tuple[float, float]) -> float:
    return point[0] * sin(radians(line.azimuth_deg)) + point[1] * cos(radians(line.azimuth_deg))


def pitches(design: Design) -> list[float]:
    lead = design.lines[0]
    return [offset(lead, line, design.ground) for line in design.lines]


@pytest.mark.parametrize("azimuth", [90.0, 35.0, 270.0])
@pytest.mark.parametrize("slope", [0.0, 12.0])
def test_lines_are_aligned_at_drive_ends_middles_or_far_ends(azimuth: float, slope: float) -> None:
    design = field(azimuth, slope)
    ends: dict[str, Callable[[Line], Point]] = {
        "drive": first_vertex,
        "middle": lambda line: middle(line, design.ground),
        "far": lambda line: last_vertex(line, design.ground),
    }
    for part, place in ends.items():
        edit = apply_edit(design, "align_lines", {"ids": [1, 2, 3, 4], "part": part, "to": 2})
        assert edit.label == f"Align 4 lines at their {'middles' if part == 'middle' else part + ' ends'}"
        assert edit.design.line(2) == design.line(2)
        wanted = along(design.line(2), place(design.line(2)))
        assert [along(line, place(line)) for line in edit.design.lines] == pytest.approx([wanted] * 4)
        assert pitches(edit.design) == pytest.approx(pitches(design))
        assert [line.count for line in edit.design.lines] == [20, 14, 9, 11]


def test_without_a_line_to_align_to_the_front_one_stays() -> None:
    edit = arrange.align_lines(field(), ids=[2, 3, 4])
    assert edit.design.line(2) == field().line(2)  # mirrors face south, and of these line 2 lies southernmost
    assert edit.design.line(1) == field().line(1)
    assert edit.label == "Align 3 lines at their drive ends"


def test_a_line_that_runs_the_other_way_is_aligned_by_its_own_ends() -> None:
    design = field()
    back = dataclasses.replace(design.line(2), azimuth_deg=270.0, x_m=30.0)
    design = dataclasses.replace(design, lines=(design.line(1), back))
    edit = arrange.align_lines(design, ids=[1, 2], part="drive", to=1)
    assert edit.design.line(2).x_m == pytest.approx(0.0)
    edit = arrange.align_lines(design, ids=[1, 2], part="far", to=1)
    assert last_vertex(edit.design.line(2), design.ground)[0] == pytest.approx(19 * 1.35)


def test_a_slanted_line_slides_along_itself() -> None:
    design = field()
    slanted = dataclasses.replace(design.line(2), azimuth_deg=60.0)
    design = dataclasses.replace(design, lines=(design.line(1), slanted))
    moved = arrange.align_lines(design, ids=[1, 2], to=1).design.line(2)
    assert moved.x_m == pytest.approx(0.0)
    assert moved.y_m == pytest.approx(3.0 - 2.5 / sin(radians(60.0)) * cos(radians(60.0)))


@pytest.mark.parametrize("azimuth", [90.0, 35.0, 270.0, 182.0])
def test_spacing_evenly_keeps_the_outermost_and_evens_the_pitches(azimuth: float) -> None:
    design = field(azimuth)
    edit = apply_edit(design, "space_evenly", {"ids": [4, 2, 1, 3]})
    assert edit.label == "Space 4 lines evenly, 4.00 m apart"
    assert pitches(edit.design) == pytest.approx([0.0, 4.0, 8.0, 12.0])
    assert (edit.design.line(1), edit.design.line(4)) == (design.line(1), design.line(4))
    for line in design.lines:  # none slides along itself
        assert along(line, first_vertex(edit.design.line(line.id))) == pytest.approx(
            along(line, first_vertex(line))
        )


def test_lines_end_to_end_stay_together_when_spaced() -> None:
    design = field()
    beside = dataclasses.replace(design.line(2), id=5, x_m=40.0)
    design = dataclasses.replace(design, lines=(*design.lines, beside))
    edit = arrange.space_evenly(design, ids=[1, 2, 3, 4, 5])
    assert [line.y_m for line in edit.design.lines] == pytest.approx([0.0, 4.0, 8.0, 12.0, 4.0])


def test_mirroring_about_an_axis() -> None:
    design = field()
    edit = apply_edit(design, "mirror_lines", {"ids": [1, 2], "start": (0.0, 20.0), "end": (5.0, 20.0)})
    assert edit.label == "Mirror Lines 1 and 2"
    assert [line.y_m for line in edit.design.lines] == pytest.approx([40.0, 37.0, 7.0, 12.0])
    assert [line.azimuth_deg for line in edit.design.lines] == pytest.approx([90.0] * 4)
    across = arrange.mirror_lines(design, ids=[1], start=(50.0, 0.0), end=(50.0, 9.0)).design.line(1)
    assert (across.azimuth_deg, across.x_m) == pytest.approx((270.0, 100.0))
    slant = arrange.mirror_lines(design, ids=[1], start=(0.0, 0.0), end=(1.0, 1.0)).design.line(1)
    assert slant.azimuth_deg % 360.0 == pytest.approx(0.0, abs=1e-9)


def test_mirroring_as_copies_leaves_the_lines_and_numbers_on() -> None:
    design = field()
    edit = arrange.mirror_lines(design, ids=[4, 1], start=(0.0, 20.0), end=(5.0, 20.0), copy=True)
    assert edit.design.lines[:4] == design.lines
    assert [(line.id, line.count) for line in edit.design.lines[4:]] == [(5, 20), (6, 11)]
    assert edit.label == "Mirror Lines 1 and 4 as copies"


coordinates = st.floats(-50.0, 50.0)


@given(
    st.tuples(coordinates, coordinates), st.tuples(coordinates, coordinates), st.floats(0.0, 360.0), st.sampled_from([0.0, 15.0])
)  # fmt: skip
def test_mirrored_twice_is_as_it_was(
    start: tuple[float, float], end: tuple[float, float], azimuth: float, slope: float
) -> None:
    if abs(start[0] - end[0]) + abs(start[1] - end[1]) < 0.1:
        return
    design = field(azimuth, slope)
    once = arrange.mirror_lines(design, ids=[1, 3], start=start, end=end).design
    twice = arrange.mirror_lines(once, ids=[1, 3], start=start, end=end).design
    for line in design.lines:
        assert first_vertex(twice.line(line.id)) == pytest.approx(first_vertex(line), abs=1e-6)
        there, here = middle(once.line(line.id), design.ground), middle(line, design.ground)
        if line.id in (1, 3):  # as far from the axis on the other side, and at the same place along it
            x, y = end[0] - start[0], end[1] - start[1]
            assert (there[0] - start[0]) * x + (there[1] - start[1]) * y == pytest.approx(
                (here[0] - start[0]) * x + (here[1] - start[1]) * y, abs=1e-4
            )
            assert (there[0] - start[0]) * y - (there[1] - start[1]) * x == pytest.approx(
                (here[1] - start[1]) * x - (here[0] - start[0]) * y, abs=1e-4
            )


def test_turning_to_an_azimuth_turns_all_as_one() -> None:
    design = field()
    edit = apply_edit(design, "turn_lines_to", {"ids": [1, 2, 3, 4], "azimuth_deg": 75.5})
    assert edit.label == "Turn 4 lines to 75.5°"
    assert {line.azimuth_deg for line in edit.design.lines} == {75.5}
    assert pitches(edit.design) == pytest.approx(pitches(design))
    assert [level_length(line, design.ground) for line in edit.design.lines] == pytest.approx(
        [level_length(line, design.ground) for line in design.lines]
    )
    about = arrange.turn_lines_to(design, ids=[1], azimuth_deg=0.0, about=(0.0, 0.0)).design.line(1)
    assert first_vertex(about) == pytest.approx((0.0, 0.0), abs=1e-9)


@pytest.mark.parametrize(
    ("key", "arguments", "said"),
    [
        ("align_lines", {"ids": [1]}, "This takes 2 lines or more; 1 selected"),
        ("align_lines", {"ids": [1, 2], "part": "side"}, "no side to align by; drive, middle, far"),
        ("align_lines", {"ids": [1, 2], "to": 9}, "9"),
        ("space_evenly", {"ids": [1, 2]}, "This takes 3 lines or more"),
        ("space_evenly", {"ids": [1, 1, 1]}, "1 selected"),
        ("mirror_lines", {"ids": [], "start": (0, 0), "end": (1, 1)}, "No line is selected"),
        ("mirror_lines", {"ids": [1], "start": (2, 2), "end": (2, 2)}, "two points apart"),
        ("turn_lines_to", {"ids": [], "azimuth_deg": 3.0}, "No line is selected"),
    ],
)
def test_what_cannot_be_arranged_is_told(key: str, arguments: dict[str, object], said: str) -> None:
    with pytest.raises(BadInputError, match=said):
        apply_edit(field(), key, arguments)


def test_lines_that_do_not_run_alike_have_no_pitch_and_no_common_end() -> None:
    design = field()
    square = dataclasses.replace(design.line(3), azimuth_deg=0.0)
    crossed = dataclasses.replace(design, lines=(*design.lines[:2], square))
    with pytest.raises(BadInputError, match="Line 3 does not run like Line 1"):
        arrange.space_evenly(crossed, ids=[1, 2, 3])
    with pytest.raises(BadInputError, match="Line 3 runs square to Line 1"):
        arrange.align_lines(crossed, ids=[1, 3])
    strip = dataclasses.replace(design.line(2), id=5, x_m=40.0)
    with pytest.raises(BadInputError, match="lie on 2 strips"):
        arrange.space_evenly(dataclasses.replace(design, lines=(*design.lines[:2], strip)), ids=[1, 2, 5])


def test_every_arrangement_is_registered_and_passes_the_gate() -> None:
    design = field()
    calls: dict[str, dict[str, object]] = {
        "align_lines": {"ids": [1, 2, 3]},
        "space_evenly": {"ids": [1, 2, 3]},
        "mirror_lines": {"ids": [1], "start": (0.0, 0.0), "end": (3.0, 1.0), "copy": True},
        "turn_lines_to": {"ids": [2, 3], "azimuth_deg": 80.0},
    }
    for key, arguments in calls.items():
        edit = EDITS[key](design, **arguments)
        assert admit(design, edit).design != design
