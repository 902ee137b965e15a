"""The header joins every line end to the store, by its drawn route or past the line ends."""

import pytest

from studio.design.design import Design
from studio.design.field import Header, Line, Store
from studio.study.header import header_of
from studio.study.place import place_lines

# a mirror 1.25 m wide and a stroke of 1.1 m each way: at full slide the pipe ends 2.825 m from the vertex
REACH = 1.25 / 2 + 2 * 1.1
NO_ROUTE = Header()


def _design(header: Header = NO_ROUTE) -> Design:
    lines = tuple(Line(id=n + 1, x_m=0.0, y_m=4.0 * n, spacing_m=1.5, count=11) for n in range(3))
    return Design(lines=lines, store=Store(x_m=30.0, y_m=4.0), header=header)


def test_without_a_route_it_passes_the_line_ends() -> None:
    design = _design()
    run = header_of(design, place_lines(design))
    passing = 15.0 + REACH + 0.5
    assert run.hot_m == pytest.approx(8.0 + 3 * 0.5 + (30.0 - passing))
    # the rows lie between: 0.72 m + 1 m clear of the last one, along it, and back to the store
    room = 0.72 + 1.0
    assert run.cold_m == pytest.approx(8.0 + 3 * 0.5 + room + 30.0 + REACH + 0.5 + 4.0 + room)


def test_a_drawn_route_is_followed() -> None:
    design = _design(header=Header(hot=((20.0, 0.0), (20.0, 8.0))))
    run = header_of(design, place_lines(design))
    assert run.hot_m == pytest.approx(8.0 + 3 * (20.0 - 15.0 - REACH) + 10.0)


def test_no_line_no_header() -> None:
    assert header_of(Design(), ()).length_m == 0.0
