"""The shelf of mirrors: what of a design is one mirror, and a field built of another one."""

from dataclasses import replace

from studio.design.design import Design, Shelved
from studio.text import _


def of_field(design: Design, label: str = "") -> Shelved:
    """The mirror that the field is built of, with its receiver and its slide and roll, as the shelf holds it."""
    return Shelved(label=label, mirror=design.mirror, receiver=design.receiver, motion=design.motion)


def in_field(design: Design, shelved: Shelved) -> Design:
    """The same field, built of a mirror from the shelf: plot, lines, pipes and prices stay as they are."""
    return replace(design, mirror=shelved.mirror, receiver=shelved.receiver, motion=shelved.motion)


def called(shelved: Shelved, place: int) -> str:
    """What a mirror at ``place`` (from 0) on the shelf is called; one without a name by its number."""
    return shelved.label.strip() or _("mirror {number}").format(number=place + 1)
