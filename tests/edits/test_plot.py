"""Edits of the land, header and store."""

import pytest

from studio.design.design import Design
from studio.edits import header, plot
from studio.edits.edit import admit
from studio.errors import BadInputError

SQUARE = [(0, 0), (10, 0), (10, 10), (0, 10)]


def test_a_closed_ring_is_opened() -> None:
    edit = plot.set_boundary(Design(), corners=[*SQUARE, (0, 0)])
    assert len(edit.design.plot.boundary) == 4
    assert edit.label == "Draw the boundary"
    assert plot.set_boundary(edit.design, corners=SQUARE).label == "Draw the boundary anew"


def test_corners_move_come_and_go() -> None:
    design = plot.set_boundary(Design(), corners=SQUARE).design
    moved = plot.move_corner(design, corner=2, x_m=12, y_m=13).design
    assert moved.plot.boundary[2] == (12, 13)
    more = plot.insert_corner(design, after=0, x_m=5, y_m=-2).design
    assert more.plot.boundary[1] == (5, -2)
    assert plot.delete_corner(more, corner=1).design == design


def test_an_area_keeps_three_corners() -> None:
    design = plot.set_boundary(Design(), corners=SQUARE[:3]).design
    with pytest.raises(BadInputError, match="keeps three corners"):
        plot.delete_corner(design, corner=0)
    with pytest.raises(BadInputError, match="corner 8"):
        plot.move_corner(design, corner=7, x_m=0, y_m=0)


def test_crossing_edges_are_refused_with_their_place() -> None:
    edit = plot.set_boundary(Design(), corners=[(0, 0), (10, 10), (10, 0), (0, 10)])
    with pytest.raises(BadInputError, match="cross"):
        admit(Design(), edit)


def test_no_build_areas() -> None:
    design = plot.add_no_build(Design(), corners=SQUARE, name="well").design
    design = plot.move_no_build(design, area=0, dx_m=1, dy_m=2).design
    assert design.plot.no_build[0].ring[0] == (1, 2)
    edit = plot.rename_no_build(design, area=0, name="spring")
    assert edit.label == "Name the no-build area spring"
    assert plot.delete_no_build(edit.design, area=0).design.plot.no_build == ()
    with pytest.raises(BadInputError, match="no no-build area 2; there are 1"):
        plot.delete_no_build(edit.design, area=1)


def test_setback_header_and_store() -> None:
    edit = plot.set_setback(Design(), metres=3)
    assert edit.design.plot.setback_m == 3.0
    assert edit.label == "Set the setback to 3.00 m"
    routed = header.set_header_route(Design(), side="hot", points=[(0, 0), (5, 0)]).design
    assert routed.header.hot == ((0.0, 0.0), (5.0, 0.0))
    assert header.clear_header(routed, side="cold").design == routed
    assert header.clear_header(routed).design.header.hot == ()
    assert header.move_store(Design(), x_m=4, y_m=5).design.store.x_m == 4
