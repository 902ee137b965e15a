"""Rules between fields: each holds at its edge, and a wrong kind of value never breaks a rule."""

from typing import Any

import pytest

from studio.design.design import Design
from studio.design.rules import between_fields, of_a_size
from studio.design.validate import design_from_tree, tree_of

WRONG: tuple[Any, ...] = (
    None,
    True,
    0,
    -1,
    1e300,
    10**17,
    "x",
    [],
    [[0, 0]],
    [1, "a"],
    {},
    {"rows": 3},
    [None, {}],
)


def found(**parts: Any) -> dict[str, str]:
    """Path and what was found of every fault between fields."""
    return {fault.path: fault.found for fault in between_fields(parts)}


def test_a_design_as_it_comes_has_no_fault() -> None:
    assert between_fields(tree_of(Design())) == ()


@pytest.mark.parametrize(
    ("part", "good", "bad", "path"),
    [
        ("oil", {"inlet_c": 220.0, "outlet_c": 220.1}, {"inlet_c": 220.0, "outlet_c": 220.0}, "oil.outlet_c"),
        ("motion", {"roll_from_deg": 0.0, "roll_to_deg": 0.1}, {"roll_from_deg": 1.0, "roll_to_deg": 1.0}, "motion.roll_to_deg"),
        ("marks", {"winter_from_h": 0.0, "winter_to_h": 24.0}, {"winter_from_h": 14.0, "winter_to_h": 10.0}, "marks.winter_to_h"),
        ("lines", [{"id": 1}, {"id": 2}], [{"id": 1}, {"id": 1}], "lines[1].id"),
        ("lines", [{"count": 400}] * 50, [{"count": 400}] * 51, "lines"),
        ("plot", {"boundary": [[0, 0], [1, 0], [0, 1]]}, {"boundary": [[0, 0], [1, 0]]}, "plot.boundary"),
        ("plot", {"boundary": []}, {"boundary": [[0, 0], [1, 0], [2, 0]]}, "plot.boundary"),
        ("plot", {"no_build": [{"ring": [[0, 0], [2, 0], [2, 2], [0, 2]]}]}, {"no_build": [{"ring": [[0, 0], [2, 2], [2, 0], [0, 2]]}]}, "plot.no_build[0].ring"),
        ("obstacles", [{"kind": "block", "ring": [[0, 0], [2, 0], [2, 2]]}], [{"kind": "block", "ring": [[0, 0], [2, 0]]}], "obstacles[0].ring"),
        ("obstacles", [{"kind": "block", "ring": [[0, 0], [2, 0], [2, 2]]}], [{"kind": "block", "ring": []}], "obstacles[0].ring"),
        ("obstacles", [{"kind": "tree", "crown_base_m": 2.0, "height_m": 2.1}], [{"kind": "tree", "crown_base_m": 2.0, "height_m": 2.0}], "obstacles[0].height_m"),
        ("horizon", {"skyline": [[0.0, 1.0], [359.9, 1.0]]}, {"skyline": [[0.0, 1.0], [360.0, 1.0]]}, "horizon.skyline"),
        ("horizon", {"skyline": [[10.0, 1.0], [10.1, 1.0]]}, {"skyline": [[10.0, 1.0], [10.0, 2.0]]}, "horizon.skyline"),
        ("receiver", {"fins": 99, "fin_thickness_mm": 1.0, "window_height_m": 0.1}, {"fins": 100, "fin_thickness_mm": 1.0, "window_height_m": 0.1}, "receiver.fins"),
        ("mirror", {"surface": "sphere", "width_m": 3.0, "height_m": 4.0, "focal_m": 1.26}, {"surface": "sphere", "width_m": 3.0, "height_m": 4.0, "focal_m": 1.25}, "mirror.focal_m"),
        ("mirror", {"surface": "circles", "width_m": 3.0, "height_m": 2.0, "focal_m": 0.6, "focal_across_m": 0.8}, {"surface": "circles", "width_m": 3.0, "height_m": 2.0, "focal_m": 0.5, "focal_across_m": 0.8}, "mirror.focal_m"),
        ("mirror", {"surface": "circles", "width_m": 3.0, "height_m": 2.0, "focal_m": 0.6, "focal_across_m": 0.8}, {"surface": "circles", "width_m": 3.0, "height_m": 2.0, "focal_m": 0.6, "focal_across_m": 0.75}, "mirror.focal_across_m"),
        ("mirror", {"surface": "sphere", "width_m": 1.0, "height_m": 1.0, "focal_m": 1.3, "focal_across_m": 1.3}, {"surface": "sphere", "width_m": 1.0, "height_m": 1.0, "focal_m": 1.3, "focal_across_m": 1.4}, "mirror.focal_across_m"),
        ("mirror", {"width_m": 1.0, "rib_places_m": [-0.2, 0.3]}, {"width_m": 1.0, "rib_places_m": [0.3, -0.2]}, "mirror.rib_places_m"),
        ("mirror", {"width_m": 1.0, "rib_places_m": [-0.495, 0.495]}, {"width_m": 1.0, "rib_places_m": [-0.496, 0.3]}, "mirror.rib_places_m"),
        ("shelf", [{"mirror": {"width_m": 1.0, "rib_places_m": [0.1]}}], [{"mirror": {"width_m": 1.0, "rib_places_m": [0.6]}}], "shelf[0].mirror.rib_places_m"),
        ("mirror", {"surface": "paraboloid", "width_m": 3.0, "height_m": 4.0, "focal_m": 0.3}, {"surface": "sphere", "width_m": 3.0, "height_m": 4.0, "focal_m": 0.3}, "mirror.focal_m"),
    ],
)  # fmt: skip
def test_each_rule_holds_at_its_edge(part: str, good: Any, bad: Any, path: str) -> None:
    assert found(**{part: good}) == {}
    assert list(found(**{part: bad})) == [f"$.design.{path}"]


def oil(*rows: tuple[float, float], **values: float) -> dict[str, Any]:
    return {"rows": [{"temperature_c": t, "density_kg_m3": d} for t, d in rows], **values}


def test_the_oil_table_rises_reaches_and_swells() -> None:
    assert found(oil=oil((20, 860), (300, 660), inlet_c=20, outlet_c=300)) == {}
    assert "$.design.oil.rows" in found(oil=oil((20, 860)))
    assert "$.design.oil.rows" in found(oil=oil((20, 860), (20, 850)))
    assert set(found(oil=oil((100, 860), (200, 660), inlet_c=99, outlet_c=201))) == {
        "$.design.oil.inlet_c",
        "$.design.oil.outlet_c",
    }
    denser = found(oil=oil((20, 860), (200, 700), (300, 900), outlet_c=290))
    assert denser == {"$.design.oil.rows": "860 kg/m3 cold and 880 kg/m3 at the outlet"}
    assert found(oil=oil((20, 860), (200, 700), (300, 900), outlet_c=270)) == {}


def test_a_line_runs_across_the_axis_of_its_mirrors_and_takes_its_own_values_first() -> None:
    mirror, ground = {"tilt_deg": 70.0, "facing_deg": 180.0}, {"slope_percent": 0.0, "falls_towards_deg": 0.0}
    line = {"id": 7, "azimuth_deg": 0.0, "tilt_deg": None, "facing_deg": None}
    along = found(mirror=mirror, ground=ground, lines=[line])
    assert along == {"$.design.lines[0].azimuth_deg": "0° with mirrors tilted 70° that face 180°"}
    for change in ({"azimuth_deg": 90.0}, {"tilt_deg": 60.0}, {"facing_deg": 90.0}):
        assert found(mirror=mirror, ground=ground, lines=[{**line, **change}]) == {}


def test_a_wrong_kind_of_value_never_breaks_a_rule() -> None:
    whole = tree_of(Design())
    for section, part in whole.items():
        for value in WRONG:
            between_fields({**whole, section: value})
            design_from_tree({**whole, section: value})
            for key in part if isinstance(part, dict) else ():
                between_fields({**whole, section: {**part, key: value}})
                design_from_tree({**whole, section: {**part, key: value}})


def test_long_lists_and_groups_are_counted_and_not_gone_through() -> None:
    assert list(of_a_size({"a": [0] * 1000, "b": dict.fromkeys(map(str, range(200)))})) == []
    faults = list(of_a_size({"a": [0] * 1001, "b": {"c": dict.fromkeys(map(str, range(201)))}}))
    assert [(fault.path, fault.found) for fault in faults] == [
        ("$.design.a", "a list of 1001"),
        ("$.design.b.c", "a group of 201 fields"),
    ]
