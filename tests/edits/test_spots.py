"""Measured heights by hand, and what lines do on them."""

from dataclasses import replace

import numpy as np
import pytest

from studio.design.design import Design
from studio.design.field import Line
from studio.design.heights import packed_heights
from studio.design.site import Ground, HeightGrid, Plot, SpotHeights
from studio.edits import spots
from studio.edits.edit import admit
from studio.edits.geometry import grade_of, ground_height, last_vertex, level_length
from studio.edits.lines import turn_lines
from studio.edits.plant import plant_lines
from studio.edits.registry import apply_edit
from studio.errors import BadInputError
from studio.study.place import place_lines

THREE = ((0.0, 0.0, 100.0), (40.0, 0.0, 102.0), (0.0, 40.0, 101.0))
LAND = Design(ground=Ground(slope_percent=3.0, heights=SpotHeights(spots=THREE, zero_m=100.0)))


def spots_of(design: Design) -> tuple[tuple[float, float, float], ...]:
    heights = design.ground.heights
    assert isinstance(heights, SpotHeights)
    return heights.spots


def test_three_spots_make_a_ground_and_two_do_not() -> None:
    edit = apply_edit(Design(), "set_spots", {"spots": [list(spot) for spot in THREE], "zero_m": 100.0})
    assert edit.label == "Set 3 spot heights"
    assert spots_of(edit.design) == THREE
    assert ground_height(edit.design.ground, 20.0, 0.0) == pytest.approx(1.0)
    with pytest.raises(BadInputError, match="at least three places"):
        admit(Design(), spots.set_spots(Design(), spots=THREE[:2]))


def test_a_spot_is_added_moved_raised_and_removed() -> None:
    more = spots.add_spot(LAND, x_m=40.0, y_m=40.0, height_m=103.5)
    assert more.label == "Place a spot 103.50 m high"
    assert ground_height(more.design.ground, 40.0, 40.0) == pytest.approx(3.5)
    moved = spots.move_spot(more.design, spot=3, x_m=38.0, y_m=41.0).design
    assert spots_of(moved)[3] == (38.0, 41.0, 103.5)
    raised = spots.set_spot_height(moved, spot=3, height_m=104.0)
    assert raised.label == "Set spot 4 to 104.00 m"
    assert spots_of(raised.design)[3] == (38.0, 41.0, 104.0)
    assert spots_of(spots.delete_spot(raised.design, spot=3).design) == THREE
    with pytest.raises(BadInputError, match="keeps 3 spots"):
        spots.delete_spot(LAND, spot=0)
    with pytest.raises(BadInputError, match="no spot 9; there are 3"):
        spots.move_spot(LAND, spot=8, x_m=0.0, y_m=0.0)
    with pytest.raises(BadInputError, match="one height each"):
        admit(LAND, spots.add_spot(LAND, x_m=0.0, y_m=0.0, height_m=7.0))


def test_heights_are_taken_away_and_the_slope_counts_again() -> None:
    edit = spots.clear_heights(LAND)
    assert edit.design.ground == Ground(slope_percent=3.0)
    assert ground_height(edit.design.ground, 0.0, 10.0) == pytest.approx(0.3)
    with pytest.raises(BadInputError, match="no measured heights"):
        spots.clear_heights(edit.design)
    with pytest.raises(BadInputError, match="no spot heights yet"):
        spots.add_spot(edit.design, x_m=0.0, y_m=0.0, height_m=1.0)


def test_a_grid_has_no_spots_to_move() -> None:
    grid = HeightGrid(step_m=5.0, columns=2, rows=2, cells=packed_heights(np.array([[1.0, 2.0], [1.0, 2.0]])))
    design = Design(ground=Ground(heights=grid))
    with pytest.raises(BadInputError, match="come from a grid"):
        spots.add_spot(design, x_m=0.0, y_m=0.0, height_m=1.0)
    assert spots.clear_heights(design).design.ground.heights is None


def test_where_a_line_ends_is_the_same_for_edits_and_for_the_study() -> None:
    design = replace(LAND, lines=(Line(id=1, x_m=2.0, y_m=3.0, azimuth_deg=70.0, spacing_m=1.5, count=20),))
    line, placed = design.lines[0], place_lines(design)[0]
    assert last_vertex(line, design.ground) == pytest.approx(tuple(placed.vertices()[-1][:2]))
    assert grade_of(line, design.ground) == pytest.approx(placed.along[2] / np.hypot(*placed.along[:2]))
    assert level_length(line, design.ground) < 19 * 1.5


def test_a_line_turned_end_for_end_stands_where_it_stood() -> None:
    design = replace(LAND, lines=(Line(id=1, x_m=2.0, y_m=3.0, azimuth_deg=70.0, spacing_m=1.5, count=20),))
    turned = turn_lines(design, ids=[1], angle_deg=180.0).design
    ends = last_vertex(design.lines[0], design.ground), (design.lines[0].x_m, design.lines[0].y_m)
    assert (turned.lines[0].x_m, turned.lines[0].y_m) == pytest.approx(ends[0], abs=1e-3)
    assert last_vertex(turned.lines[0], turned.ground) == pytest.approx(ends[1], abs=1e-3)


def test_lines_planted_on_uneven_ground_stay_inside_the_plot() -> None:
    y, x = np.mgrid[0:31, 0:31] * 4.0
    cells = packed_heights(3.0 * np.sin(x / 25.0) + 0.06 * y)
    grid = HeightGrid(x_m=-10.0, y_m=-10.0, step_m=4.0, rows=31, columns=31, cells=cells)
    plot = Plot(boundary=((0.0, 0.0), (90.0, 0.0), (90.0, 60.0), (0.0, 60.0)), setback_m=2.0)
    design = Design(ground=Ground(heights=grid), plot=plot)
    planted = plant_lines(design, azimuth_deg=80.0, pitch_m=4.0).design
    assert len(planted.lines) > 8
    for line in planted.lines:
        for px, py in ((line.x_m, line.y_m), last_vertex(line, planted.ground)):
            assert 2.0 < px < 88.0
            assert 2.0 < py < 58.0
