"""Several fields set in one step of undo."""

import pytest

from studio.design.design import Design
from studio.design.field import Line
from studio.design.mirror import Mirror
from studio.edits.edit import admit
from studio.edits.fields import set_field, set_fields
from studio.edits.registry import apply_edit
from studio.errors import BadInputError

DESIGN = Design(mirror=Mirror(ribs=9, tilt_deg=36.0), lines=(Line(id=1, x_m=0.0, y_m=0.0),))


def test_it_does_what_single_edits_do_one_after_the_other() -> None:
    edit = admit(
        DESIGN, set_fields(DESIGN, values={"mirror.tilt_deg": 31.5, "mirror.ribs": "13", "lines.1.count": 4})
    )
    one_by_one = DESIGN
    for path, value in (("mirror.tilt_deg", 31.5), ("mirror.ribs", 13), ("lines.1.count", 4)):
        one_by_one = set_field(one_by_one, path=path, value=value).design
    assert edit.design == one_by_one
    assert edit.label == "Set mirror, tilt to 31.5°; mirror, ribs to 13; Line 1, mirrors to 4"


def test_one_field_reads_as_a_single_edit() -> None:
    values = {"mirror.tilt_deg": "30 deg"}
    assert set_fields(DESIGN, values=values) == set_field(DESIGN, path="mirror.tilt_deg", value="30 deg")
    assert apply_edit(DESIGN, "set_fields", {"values": values}).design.mirror.tilt_deg == 30.0


def test_one_that_will_not_do_refuses_all() -> None:
    with pytest.raises(BadInputError, match="tilt"):
        admit(DESIGN, set_fields(DESIGN, values={"mirror.ribs": 13, "mirror.tilt_deg": 200.0}))
    with pytest.raises(BadInputError, match=r"There is no field mirror\.rib"):
        set_fields(DESIGN, values={"mirror.ribs": 13, "mirror.rib": 4})
    with pytest.raises(BadInputError, match="No field is named"):
        set_fields(DESIGN, values={})


def test_fields_that_only_do_together_are_let_in_together() -> None:
    """A sphere needs a long enough focus; alone, the shorter focus of a lower mirror would be refused."""
    sphere = admit(
        DESIGN, set_fields(DESIGN, values={"mirror.surface": "sphere", "mirror.focal_m": 0.5})
    ).design
    with pytest.raises(BadInputError, match="a circle ends at"):
        admit(sphere, set_field(sphere, path="mirror.focal_m", value=0.4))
    both = {"mirror.focal_m": 0.4, "mirror.height_m": 0.9}
    assert admit(sphere, set_fields(sphere, values=both)).design.mirror.height_m == 0.9
