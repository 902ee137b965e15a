"""Counts, lengths, areas and litres against what a pencil gives."""

from math import cos, hypot, pi, radians, sin

import pytest

from studio.engine.parts.quantities import (
    Cut,
    PipeOfSize,
    cuts_for,
    film_of_mirror,
    header_supports,
    oil_content,
    parts_of_line,
    pipe_by_size,
    pipe_content_l,
    rods_of_mirror,
    whole_lines,
)
from studio.errors import BadInputError


def lengths(**given: float) -> dict[str, Cut]:
    cuts = rods_of_mirror(
        rib_arcs_m=(1.46,) * 11,
        width_m=1.25,
        height_m=1.44,
        stands_at_m=given.get("stands_at_m", 0.9),
        tilt_deg=given.get("tilt_deg", 35.0),
        rise_m=given.get("rise_m", 0.2),
    )
    return {cut.use: cut for cut in cuts}


def test_stand_follows_from_vertex_tilt_and_height() -> None:
    rods = lengths()
    edge, step, depth = 0.9 + 0.2 * cos(radians(35)), 0.72 * sin(radians(35)), 1.44 * cos(radians(35))
    assert rods["rib"] == Cut("rib", 1.52, 11)
    assert rods["spreader"] == Cut("spreader", 1.25, 2)
    assert rods["leg_low"].length_m == pytest.approx(edge - step + 0.3)
    assert rods["leg_high"].length_m == pytest.approx(edge + step + 0.3)
    assert rods["base"].length_m == pytest.approx(depth)
    assert rods["side_brace"].length_m == pytest.approx(hypot(depth, edge + step))
    assert rods["back_brace"].length_m == pytest.approx(hypot(1.25, edge + step))
    assert sum(cut.count for cut in rods.values()) == 11 + 2 + 2 + 2 + 2 + 2 + 1


def test_flat_mirror_stands_on_equal_legs_and_upright_one_needs_no_base() -> None:
    flat = lengths(tilt_deg=0.0)
    assert flat["leg_low"].length_m == flat["leg_high"].length_m == pytest.approx(0.9 + 0.2 + 0.3)
    assert "base" not in lengths(tilt_deg=90.0)


def test_low_edge_below_ground_keeps_only_the_part_in_the_ground() -> None:
    assert lengths(stands_at_m=0.1)["leg_low"].length_m == pytest.approx(0.3)


def test_tilt_to_either_side_takes_the_same_rods() -> None:
    assert lengths(tilt_deg=-35.0) == lengths(tilt_deg=35.0)


def test_ribs_of_a_sphere_differ_and_are_counted_by_length() -> None:
    cuts = rods_of_mirror(
        rib_arcs_m=(1.47, 1.46, 1.45, 1.46, 1.47),
        width_m=1.25,
        height_m=1.44,
        stands_at_m=0.9,
        tilt_deg=35,
        end_allowance_m=0.0,
    )
    assert [cut for cut in cuts if cut.use == "rib"] == [
        Cut("rib", 1.47, 2),
        Cut("rib", 1.46, 2),
        Cut("rib", 1.45, 1),
    ]
    assert cuts_for(10, cuts)[:2] == ((1.47, 20), (1.46, 20))


def test_film_strips_side_by_side_on_the_roll() -> None:
    film = film_of_mirror(
        ribs=11, width_m=1.25, rib_arc_m=1.46, roll_width_m=1.27, edge_turn_in_m=0.02, spoilt_share=0.05
    )
    assert (film.strips, film.strips_across_roll) == (10, 7)
    assert film.strip_width_m == pytest.approx(0.165)
    assert film.strip_length_m == pytest.approx(1.50)
    assert film.cut_area_m2 == pytest.approx(10 * 0.165 * 1.5)
    assert film.roll_length_m == pytest.approx(10 / 7 * 1.5 / 0.95)
    assert film.bought_area_m2 == pytest.approx(film.roll_length_m * 1.27)
    assert film.cut_area_m2 + film.edge_waste_m2 + film.spoilt_m2 == pytest.approx(film.bought_area_m2)


def test_strips_that_just_fill_the_roll_waste_no_edge() -> None:
    film = film_of_mirror(
        ribs=8, width_m=0.7, rib_arc_m=1.0, roll_width_m=0.7, edge_turn_in_m=0.0, spoilt_share=0.0
    )
    assert film.strips_across_roll == 7
    assert film.edge_waste_m2 == pytest.approx(0, abs=1e-12)
    assert film.bought_area_m2 == pytest.approx(0.7)


def test_curved_mirror_is_cut_to_its_widest_strip() -> None:
    film = film_of_mirror(ribs=11, width_m=1.25, rib_arc_m=1.46, roll_width_m=1.27, widest_spacing_m=0.128)
    assert film.strip_width_m == pytest.approx(0.168)


def test_line_and_its_sum() -> None:
    line = parts_of_line(
        mirrors=29, spacing_m=1.35, pipe_end_m=0.8, receiver_length_m=0.2, mirrors_per_frame=2
    )
    assert line.pipe_m == pytest.approx(28 * 1.35 + 1.6)
    assert line.insulation_m == pytest.approx(line.pipe_m - 29 * 0.2)
    assert (line.receivers, line.swing_frames, line.supports) == (29, 16, 16)
    assert (line.flexible_ends, line.drives, line.anchors) == (2, 1, 1)
    five = whole_lines([line] * 5)
    assert five.pipe_m == pytest.approx(5 * line.pipe_m)
    assert (five.receivers, five.swing_frames, five.flexible_ends, five.drives) == (145, 80, 10, 5)
    assert whole_lines([]).pipe_m == 0


def test_header_by_size_and_its_supports() -> None:
    runs = [("DN 32", 20.0), ("DN 40", 12.5), ("DN 32", 5.0), ("DN 50", 0.0)]
    assert pipe_by_size(runs) == (PipeOfSize("DN 32", 25.0), PipeOfSize("DN 40", 12.5))
    assert [header_supports(length, span_m=3.0) for length in (0.0, 0.5, 3.0, 3.1, 9.0)] == [0, 2, 2, 3, 4]


def test_oil_of_a_pipe_and_the_vessel_that_takes_its_growth() -> None:
    """897/715 kg/m3 is a heavy mineral oil at 20 and 300 degC: 25.5 % (mass is kept)."""
    litres = pipe_content_l(bore_m=0.0272, length_m=100)
    assert litres == pytest.approx(pi * 0.0136**2 * 1e5)
    oil = oil_content(line_l=litres, header_l=100, receivers_l=20, cold_kg_m3=897, hot_kg_m3=715)
    assert oil.circuit_l == pytest.approx(litres + 120)
    assert oil.expansion_l / oil.circuit_l == pytest.approx(0.255, abs=0.005)
    assert oil.vessel_l == pytest.approx(2 * oil.expansion_l)
    assert oil.reserve_l + oil.expansion_l == pytest.approx(0.75 * oil.vessel_l)
    assert oil.to_buy_l == pytest.approx(oil.circuit_l + 0.25 * oil.vessel_l)


def test_strip_wider_than_the_roll_is_said() -> None:
    with pytest.raises(BadInputError, match=r"0\.665 m .* wider than the film roll of 0\.500 m"):
        film_of_mirror(ribs=3, width_m=1.25, rib_arc_m=1.46, roll_width_m=0.5)


def test_what_cannot_be_counted_is_said() -> None:
    with pytest.raises(BadInputError, match="2 or more"):
        film_of_mirror(ribs=1, width_m=1.25, rib_arc_m=1.46, roll_width_m=1.27)
    with pytest.raises(BadInputError, match=r"spoilt share of film of 1\.0"):
        film_of_mirror(ribs=11, width_m=1.25, rib_arc_m=1.46, roll_width_m=1.27, spoilt_share=1.0)
    with pytest.raises(BadInputError, match="spreaders"):
        rods_of_mirror(rib_arcs_m=(1.4,), width_m=1, height_m=1, stands_at_m=1, tilt_deg=0, spreaders=1)
    with pytest.raises(BadInputError, match="mirror width: -1 m"):
        rods_of_mirror(rib_arcs_m=(1.4,), width_m=-1, height_m=1, stands_at_m=1, tilt_deg=0)
    with pytest.raises(BadInputError, match="0 mirrors"):
        parts_of_line(mirrors=0, spacing_m=1.35, pipe_end_m=0.8, receiver_length_m=0.2)
    with pytest.raises(BadInputError, match="not above cold"):
        oil_content(line_l=1, header_l=1, receivers_l=1, cold_kg_m3=700, hot_kg_m3=800)
    with pytest.raises(BadInputError, match="below hot"):
        oil_content(line_l=1, header_l=1, receivers_l=1, cold_kg_m3=800, hot_kg_m3=700, vessel_cold_share=0.8)
