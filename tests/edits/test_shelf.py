"""Edits of the shelf of mirrors."""

import dataclasses

import pytest

from studio.design.design import Design, Document, Shelved
from studio.design.field import Line
from studio.design.mirror import Mirror
from studio.design.rules import MOST_ON_SHELF
from studio.design.shelf import in_field, of_field
from studio.edits import shelf
from studio.edits.edit import Edit, admit
from studio.edits.fields import set_field
from studio.edits.registry import apply_edit
from studio.errors import BadInputError, StillfieldError
from studio.files.site import read_site, write_site

DESIGN = Design(mirror=Mirror(ribs=9), lines=(Line(id=1, x_m=0.0, y_m=0.0),))


def with_two() -> Design:
    first = shelf.put_on_shelf(DESIGN, label="nine ribs").design
    more = dataclasses.replace(first, mirror=Mirror(ribs=15))
    return shelf.put_on_shelf(more).design


def test_put_on_the_shelf() -> None:
    edit = admit(DESIGN, shelf.put_on_shelf(DESIGN, label=" nine ribs "))
    assert edit.label == "Put nine ribs on the shelf"
    assert edit.design.shelf == (of_field(DESIGN, "nine ribs"),)
    assert dataclasses.replace(edit.design, shelf=()) == DESIGN


def test_without_a_name_it_gets_one_that_is_free() -> None:
    design = DESIGN
    for _turn in range(3):
        design = shelf.put_on_shelf(design).design
    assert [one.label for one in design.shelf] == ["mirror 1", "mirror 2", "mirror 3"]
    design = shelf.take_off_shelf(design, place=0).design
    assert shelf.put_on_shelf(design).design.shelf[-1].label == "mirror 1"


def test_take_off_and_rename() -> None:
    edit = shelf.take_off_shelf(with_two(), place=0)
    assert edit.label == "Take nine ribs off the shelf"
    assert [one.mirror.ribs for one in edit.design.shelf] == [15]
    renamed = admit(with_two(), shelf.rename_on_shelf(with_two(), place=1, label="fifteen"))
    assert renamed.label == "Name the mirror on the shelf fifteen"
    assert [one.label for one in renamed.design.shelf] == ["nine ribs", "fifteen"]
    assert renamed.design.shelf[1].mirror == with_two().shelf[1].mirror


def test_build_the_field_of_one() -> None:
    design = with_two()
    edit = apply_edit(design, "build_of_shelved", {"place": 0})
    assert edit.label == "Build the field of nine ribs"
    assert edit.design.mirror == Mirror(ribs=9)
    assert edit.design == in_field(design, design.shelf[0])
    assert edit.design.lines == design.lines
    assert edit.design.shelf == design.shelf


def test_a_shelved_mirror_is_changed_by_its_path_and_the_field_is_not() -> None:
    edit = admit(with_two(), set_field(with_two(), path="shelf.1.mirror.ribs", value="7"))
    assert edit.design.shelf[0].mirror.ribs == 7
    assert edit.design.mirror == with_two().mirror


@pytest.mark.parametrize("place", [-1, 2, 99])
def test_a_place_that_is_not_there_is_told(place: int) -> None:
    edits = {"take_off_shelf": {}, "rename_on_shelf": {"label": "x"}, "build_of_shelved": {}}
    for key, more in edits.items():
        with pytest.raises(BadInputError, match=f"no mirror {place + 1} on the shelf; there are 2"):
            apply_edit(with_two(), key, {"place": place, **more})


def test_a_name_is_wanted_and_not_too_long() -> None:
    with pytest.raises(BadInputError, match="needs a name"):
        shelf.rename_on_shelf(with_two(), place=0, label="  ")
    with pytest.raises(BadInputError, match="at most 60 characters"):
        admit(with_two(), shelf.rename_on_shelf(with_two(), place=0, label="x" * 61))


def test_the_shelf_is_full_at_some_forty() -> None:
    full = dataclasses.replace(DESIGN, shelf=tuple(Shelved(label=str(n)) for n in range(MOST_ON_SHELF)))
    admit(DESIGN, Edit("edit", full))
    with pytest.raises(BadInputError, match="is full; take one off first"):
        shelf.put_on_shelf(full)
    over = dataclasses.replace(full, shelf=(*full.shelf, Shelved(label="more")))
    with pytest.raises(BadInputError, match="at most 40"):
        admit(full, Edit("edit", over))
    with pytest.raises(StillfieldError, match="41 mirrors"):
        read_site(write_site(Document(design=over)))


def test_a_mirror_that_its_field_does_not_take_is_refused_when_it_is_built_of() -> None:
    """A sphere that ends before the mirror does cannot stand on the shelf; one that the line does not suit can."""
    along = dataclasses.replace(DESIGN, lines=(dataclasses.replace(DESIGN.lines[0], azimuth_deg=0.0),))
    steep = dataclasses.replace(along, shelf=(Shelved(label="steep", mirror=Mirror(tilt_deg=80.0)),))
    admit(along, Edit("edit", steep))
    with pytest.raises(BadInputError, match="turn the line or lower the tilt"):
        apply_edit(steep, "build_of_shelved", {"place": 0})
    flat = dataclasses.replace(DESIGN, shelf=(Shelved(mirror=Mirror(surface="sphere", focal_m=0.3)),))
    with pytest.raises(BadInputError, match="a circle ends at"):
        admit(DESIGN, Edit("edit", flat))


def test_a_shelf_is_kept_in_the_file() -> None:
    document = Document(design=with_two())
    assert read_site(write_site(document)) == document
