"""The header joins every line end to the store, by its drawn route or past the line ends."""

import dataclasses
from itertools import pairwise

import pytest
import shapely
from shapely import LineString, MultiLineString, Polygon, box

from studio.design.design import Design
from studio.design.field import Header, Line, Store
from studio.design.site import NoBuild, Plot
from studio.study.assessment import HeaderRun
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


def _with_areas(design: Design, *areas: Polygon) -> tuple[Design, HeaderRun]:
    rings = tuple(
        NoBuild(ring=tuple((float(x), float(y)) for x, y in area.exterior.coords[:-1])) for area in areas
    )
    design = dataclasses.replace(design, plot=Plot(no_build=rings))
    return design, header_of(design, place_lines(design))


def test_it_goes_round_a_no_build_area_on_its_way_to_the_store() -> None:
    straight = header_of(_design(), place_lines(_design()))
    area = box(22.0, 1.0, 24.0, 6.0)
    _round, run = _with_areas(_design(), area)
    assert not any(LineString(way).intersects(area) for way in run.hot)
    # from the middle line's end past the two nearer corners, a quarter of a metre out, to the store
    passing, clear = 15.0 + REACH + 0.5, 0.25
    there = LineString(
        [(passing, 4.0), (22.0 - clear, 6.0 + clear), (24.0 + clear, 6.0 + clear), (30.0, 4.0)]
    )
    assert run.hot_m == pytest.approx(straight.hot_m - (30.0 - passing) + there.length)
    assert run.cold_m == pytest.approx(straight.cold_m)


def test_an_area_beside_the_way_changes_nothing() -> None:
    straight = header_of(_design(), place_lines(_design()))
    _beside, run = _with_areas(_design(), box(22.0, 4.1, 24.0, 6.0))
    assert run == straight


def test_its_route_past_the_line_ends_goes_round_areas_too() -> None:
    area = box(18.1, 1.0, 18.6, 3.0)
    _round, run = _with_areas(_design(), area)
    assert len(run.hot[0]) == 5
    assert not LineString(run.hot[0]).intersects(area)


def test_a_drawn_route_is_followed_through_an_area_but_joined_round_it() -> None:
    area = box(19.0, 3.0, 19.5, 5.0)
    design = _design(header=Header(hot=((20.0, 0.0), (20.0, 8.0))))
    _round, run = _with_areas(design, area, box(19.8, 5.5, 20.2, 6.5))
    assert run.hot[0] == ((20.0, 0.0), (20.0, 8.0))
    assert not any(LineString(way).intersects(area) for way in run.hot)


def test_a_store_in_an_area_is_reached_straight() -> None:
    _inside, run = _with_areas(_design(), box(28.0, 2.0, 32.0, 6.0))
    assert run == header_of(_design(), place_lines(_design()))


def test_past_lines_end_to_end_it_branches_and_crosses_no_row() -> None:
    """Two columns of three lines: a route through all line ends in their order would run along the rows."""
    west = tuple(Line(id=n + 1, x_m=0.0, y_m=4.0 * n, spacing_m=1.5, count=11) for n in range(3))
    east = tuple(Line(id=n + 4, x_m=25.0, y_m=4.0 * n, spacing_m=1.5, count=11) for n in range(3))
    design = Design(lines=west + east, store=Store(x_m=50.0, y_m=4.0))
    placed = place_lines(design)
    run = header_of(design, placed)
    middles = [LineString(line.vertices()[[0, -1], :2]) for line in placed]
    for side in (run.hot, run.cold):
        ways = MultiLineString(side)
        assert not any(ways.intersects(middle) for middle in middles)
        assert len(shapely.get_parts(shapely.line_merge(shapely.unary_union(ways)))) >= 3
    # both columns are passed, and between them the header runs once
    columns, stubs = 2 * 8.0, 6 * 0.5
    assert run.hot_m < columns + stubs + 2 * 25.0
    ends = shapely.points([(x + 15.0 + REACH, y) for x in (0.0, 25.0) for y in (0.0, 4.0, 8.0)])
    assert shapely.distance(MultiLineString(run.hot), ends).max() < 1e-9
    whole = shapely.unary_union(MultiLineString(run.hot).buffer(1e-6))
    assert whole.geom_type == "Polygon"
    assert whole.distance(shapely.Point(50.0, 4.0)) < 1e-9


def test_all_runs_of_a_planted_looking_field_hang_together() -> None:
    lines = tuple(
        Line(id=9 * n + k + 1, x_m=20.0 * k + 0.7 * n, y_m=3.2 * n, count=9)
        for n in range(5)
        for k in range(3)
    )
    design = Design(lines=lines, store=Store(x_m=-8.0, y_m=30.0))
    _areas, run = _with_areas(design, box(-9.0, 14.0, -5.0, 24.0))
    for side in (run.hot, run.cold):
        assert shapely.unary_union(MultiLineString(side).buffer(1e-6)).geom_type == "Polygon"
        assert all(one != other for way in side for one, other in pairwise(way))
        assert not MultiLineString(side).intersects(box(-9.0, 14.0, -5.0, 24.0))
