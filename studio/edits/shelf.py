"""What a hand does to the shelf of mirrors. ``place`` on the shelf counts from 0."""

from dataclasses import replace

from studio.design.design import Design, Shelved
from studio.design.rules import MOST_ON_SHELF
from studio.design.shelf import called, in_field, of_field
from studio.edits.edit import Edit
from studio.errors import BadInputError
from studio.text import _


def put_on_shelf(design: Design, *, label: str = "") -> Edit:
    """Keep the field's mirror, with its receiver and its slide and roll, on the shelf; the field stays as it is."""
    if len(design.shelf) >= MOST_ON_SHELF:
        raise BadInputError(
            _("The shelf holds {most} mirrors and is full; take one off first.").format(most=MOST_ON_SHELF)
        )
    name = label.strip() or _free_name(design)
    shelf = (*design.shelf, of_field(design, name))
    return Edit(_("Put {name} on the shelf").format(name=name), replace(design, shelf=shelf))


def take_off_shelf(design: Design, *, place: int) -> Edit:
    """Take a mirror off the shelf; the field stays as it is."""
    name = called(_at(design, place), place)
    shelf = design.shelf[:place] + design.shelf[place + 1 :]
    return Edit(_("Take {name} off the shelf").format(name=name), replace(design, shelf=shelf))


def rename_on_shelf(design: Design, *, place: int, label: str) -> Edit:
    """Call a mirror on the shelf something else."""
    before, name = _at(design, place), label.strip()
    if not name:
        raise BadInputError(_("A mirror on the shelf needs a name, such as 15 ribs."))
    shelf = (*design.shelf[:place], replace(before, label=name), *design.shelf[place + 1 :])
    return Edit(_("Name the mirror on the shelf {name}").format(name=name), replace(design, shelf=shelf))


def build_of_shelved(design: Design, *, place: int) -> Edit:
    """Build the field of a mirror from the shelf. It stays on the shelf; lines keep where they stand."""
    shelved = _at(design, place)
    label = _("Build the field of {name}").format(name=called(shelved, place))
    return Edit(label, in_field(design, shelved))


def _free_name(design: Design) -> str:
    taken = {called(shelved, place) for place, shelved in enumerate(design.shelf)}
    names = (_("mirror {number}").format(number=number) for number in range(1, len(taken) + 2))
    return next(name for name in names if name not in taken)


def _at(design: Design, place: int) -> Shelved:
    if not 0 <= place < len(design.shelf):
        raise BadInputError(
            _("There is no mirror {place} on the shelf; there are {count}.").format(
                place=place + 1, count=len(design.shelf)
            )
        )
    return design.shelf[place]
