"""Setting any declared field by its path, and applying a mend."""

from dataclasses import dataclass, field
from typing import Any

import pytest

from studio.design.design import Design
from studio.design.field import Line
from studio.design.paths import field_at, known_fields
from studio.design.site import NoBuild, Plot
from studio.design.validate import adapter
from studio.edits.edit import admit
from studio.edits.fields import set_field, set_line_field
from studio.edits.registry import EDITS, apply_edit, apply_mend
from studio.errors import BadInputError

DESIGN = Design(
    lines=(Line(id=3, x_m=0.0, y_m=0.0), Line(id=7, x_m=0.0, y_m=3.0)),
    plot=Plot(no_build=(NoBuild(name="well", ring=((0, 0), (1, 0), (1, 1))),)),
)


@pytest.mark.parametrize(
    ("path", "value", "got"),
    [
        ("mirror.ribs", "12", 12),
        ("mirror.width_m", "4 ft", 1.2192),
        ("mirror.width_m", 1.3, 1.3),
        ("mirror.rib_places_m", "-0,3; 0 30cm", (-0.3, 0.0, 0.3)),
        ("mirror.rib_places_m", "", ()),
        ("mirror.rib_places_m", (-0.1, 0.2), (-0.1, 0.2)),
        ("mirror.focal_across_m", "", None),
        ("lines.7.count", "24", 24),
        ("lines.3.tilt_deg", "38,5", 38.5),
        ("lines.3.tilt_deg", "", None),
        ("pipe.insulation_mm", "2 in", 50.8),
        ("pipe.size", "medium-25", "medium-25"),
        ("receiver.glass", "none", "none"),
        ("motion.roll", "set by hand", "held"),
        ("site.name", "Terrace", "Terrace"),
        ("site.weather.seed", "4", 4),
        ("site.weather.dni_kwh_m2_day.6", "8.1", 8.1),
        ("oil.rows.2.density_kg_m3", "740", 740.0),
        ("plot.no_build.1.name", "spring", "spring"),
        ("note", "all invented", "all invented"),
    ],
)
def test_sets(path: str, value: Any, got: Any) -> None:
    edit = admit(DESIGN, set_field(DESIGN, path=path, value=value))
    assert field_at(edit.design, path).value == (pytest.approx(got) if isinstance(got, float) else got)
    changed = [f.path for f, g in zip(known_fields(DESIGN), known_fields(edit.design), strict=True) if f != g]
    assert set(changed) <= {path}


def test_every_known_field_can_be_set_to_what_it_is() -> None:
    paths = list(known_fields(DESIGN))
    assert len(paths) > 150
    for known in paths:
        assert set_field(DESIGN, path=known.path, value=known.value).design == DESIGN, known.path
    assert adapter().validate_python(adapter().dump_python(DESIGN)) == DESIGN


@pytest.mark.parametrize(
    ("path", "near"),
    [
        ("mirror.rib", "mirror.ribs"),
        ("miror.ribs", "mirror.ribs"),
        ("mirror", "mirror.surface"),
        ("ribs", "mirror.ribs"),
        ("lines.9.count", "there are: 3, 7"),
        ("", "mirror.ribs"),
        ("plot.boundary", "There is no field"),
    ],
)
def test_an_unknown_path_names_what_is_near(path: str, near: str) -> None:
    with pytest.raises(BadInputError) as caught:
        set_field(DESIGN, path=path, value="1")
    assert near in str(caught.value)


@pytest.mark.parametrize(
    ("path", "value", "said"),
    [
        ("mirror.ribs", "11.5", "whole number"),
        ("mirror.ribs", "many", "“many” is no number"),
        ("pipe.size", "DN99", "medium-15, medium-20"),
        ("mirror.width_m", "", "needs a value"),
    ],
)
def test_a_value_that_will_not_do_is_told(path: str, value: str, said: str) -> None:
    with pytest.raises(BadInputError, match=said):
        set_field(DESIGN, path=path, value=value)


def test_out_of_range_is_refused_by_the_gate() -> None:
    with pytest.raises(BadInputError, match="from 2 to 60"):
        admit(DESIGN, set_field(DESIGN, path="mirror.ribs", value="600"))


def test_labels_read_as_undo_shows_them() -> None:
    assert set_field(DESIGN, path="mirror.ribs", value="12").label == "Set mirror, ribs to 12"
    assert set_field(DESIGN, path="lines.3.count", value="9").label == "Set Line 3, mirrors to 9"
    assert set_field(DESIGN, path="lines.3.tilt_deg", value="").label == "Set Line 3, tilt to as field"
    assert set_field(DESIGN, path="mirror.width_m", value="1.3").label == "Set mirror, width to 1.3 m"


def test_one_field_of_several_lines() -> None:
    edit = set_line_field(DESIGN, ids=[3, 7], name="tilt_deg", value="40°")
    assert [line.tilt_deg for line in edit.design.lines] == [40.0, 40.0]
    assert edit.label == "Set Lines 3 and 7, tilt to 40°"
    with pytest.raises(BadInputError, match="near it are tilt_deg"):
        set_line_field(DESIGN, ids=[3], name="tilt", value="40")


@dataclass(frozen=True)
class Advice:
    edit: str
    arguments: dict[str, Any] = field(default_factory=dict)


def test_a_mend_is_applied_by_its_key() -> None:
    edit = apply_mend(DESIGN, Advice("scale_pitches", {"scale": 1.5}))
    assert edit.design.line(7).y_m == pytest.approx(4.5)
    assert edit.label == "Widen pitches by 50.0 %"


def test_the_registry_says_what_it_knows() -> None:
    with pytest.raises(BadInputError, match="There is no edit plant"):
        apply_edit(DESIGN, "plant", {})
    with pytest.raises(BadInputError, match="set_field takes path, value; given were key"):
        apply_edit(DESIGN, "set_field", {"key": 1})
    assert "place_line" in EDITS
    assert all(edit.__doc__ for edit in EDITS.values())
