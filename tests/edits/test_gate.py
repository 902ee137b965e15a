"""The one gate: no edit can make a design that does not open again."""

import dataclasses
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from studio.design.design import Design, Document
from studio.design.field import Line
from studio.design.fields import Choice, Count, Quantity
from studio.design.paths import known_fields
from studio.design.site import FileWeather
from studio.edits.edit import Edit, admit
from studio.edits.fields import set_field
from studio.edits.lines import repeat_lines
from studio.errors import BadInputError, StillfieldError
from studio.files.examples import example_path
from studio.files.site import open_site, read_site, write_site

DOCUMENT = open_site(example_path("small_dryer"))
DESIGN = DOCUMENT.design
FIELDS = tuple(known_fields(DESIGN))
TYPED = (
    "",
    "none",
    "–",
    "12 ft",
    '3/8"',
    "1,5",
    "nan",
    "1e400",
    "-0",
    "\x00",
    "\ud800",
    "=1+1",
    "x" * 3000,
    "²",
)


def values_of(declaration: Any) -> st.SearchStrategy[Any]:
    """What may be typed or given for a field: mostly values near its limits."""
    odd = st.sampled_from(TYPED) | st.none() | st.floats() | st.integers() | st.text(max_size=12)
    match declaration:
        case Quantity(low=low, high=high):
            return st.sampled_from([low, high]) | st.floats(low, high) | st.floats(low - 1, high + 1) | odd
        case Count(low=low, high=high):
            return st.integers(low - 1, high + 1) | odd
        case Choice(words=words):
            return st.sampled_from(list(words)) | odd
    return odd


edits = st.sampled_from(FIELDS).flatmap(
    lambda field: st.tuples(st.just(field.path), values_of(field.declaration))
)


@settings(max_examples=300, deadline=None)
@given(st.lists(edits, min_size=1, max_size=4))
def test_a_set_field_is_refused_in_one_sentence_or_the_design_opens_again(
    wanted: list[tuple[str, Any]],
) -> None:
    design = DESIGN
    for path, value in wanted:
        sentence = ""
        try:
            design = admit(design, set_field(design, path=path, value=value), assets=()).design
        except StillfieldError as error:
            sentence = str(error)
        assert "\n" not in sentence
        assert len(sentence) < 400
    document = dataclasses.replace(DOCUMENT, design=design)
    assert read_site(write_site(document)) == document


def refused(design: Design, *, before: Design = DESIGN) -> str:
    with pytest.raises(BadInputError) as caught:
        admit(before, Edit("edit", design))
    return str(caught.value)


def with_(section: str, **values: Any) -> Design:
    return dataclasses.replace(DESIGN, **{section: dataclasses.replace(getattr(DESIGN, section), **values)})


def test_a_weather_year_that_is_not_there_is_refused() -> None:
    edit = Edit("edit", with_("site", weather=FileWeather(asset="a" * 64)))
    with pytest.raises(BadInputError, match="no weather year “aaaaaaaaaaaa” in this file"):
        admit(DESIGN, edit, assets=["b" * 64])
    assert admit(DESIGN, edit, assets=["a" * 64]) is edit


def test_the_same_document_that_the_gate_refuses_does_not_open() -> None:
    wrong = (
        with_("mirror", surface="sphere", focal_m=0.3),
        with_("motion", roll_from_deg=29.0),
        with_("oil", outlet_c=400.0),
        with_("plot", boundary=((0.0, 0.0), (1.0, 1.0))),
        with_("receiver", fins=150),
        dataclasses.replace(DESIGN, lines=(DESIGN.lines[0], DESIGN.lines[0])),
        dataclasses.replace(
            DESIGN, lines=(dataclasses.replace(DESIGN.lines[0], azimuth_deg=0.0, tilt_deg=80.0),)
        ),
    )
    for design in wrong:
        sentence = refused(design)
        assert "\n" not in sentence
        with pytest.raises(StillfieldError):
            read_site(write_site(Document(design=design)))


def test_a_fault_between_a_changed_part_and_an_unchanged_one_is_found() -> None:
    """The ground is set, the lines are not: line and axis come too near each other all the same."""
    steep = dataclasses.replace(
        DESIGN,
        lines=tuple(dataclasses.replace(line, azimuth_deg=0.0, tilt_deg=63.0) for line in DESIGN.lines),
    )
    admit(DESIGN, Edit("edit", steep))
    sloping = dataclasses.replace(
        steep, ground=dataclasses.replace(steep.ground, slope_percent=60.0, falls_towards_deg=0.0)
    )
    assert "azimuth" in refused(sloping, before=steep)


def test_a_field_has_no_more_mirrors_and_lines_than_can_be_computed() -> None:
    line = Line(id=1, x_m=0.0, y_m=0.0, count=400)
    many = Design(lines=tuple(dataclasses.replace(line, id=n, y_m=3.0 * n) for n in range(1, 52)))
    assert refused(many, before=Design()) == (
        "Lines: 20400 mirrors in all will not do; a field of at most 20000 would be right."
    )
    short = dataclasses.replace(line, count=1)
    long = Design(lines=tuple(dataclasses.replace(short, id=n, y_m=3.0 * n) for n in range(1, 1002)))
    assert "a list of 1001 will not do; at most 1000" in refused(long, before=Design())
    with pytest.raises(BadInputError, match="20000"):
        admit(Design(), repeat_lines(Design(lines=(line,)), ids=[1], times=60, pitch_m=3.0))
