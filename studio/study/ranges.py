"""What a search may vary: fields by their path, between bounds."""

from dataclasses import dataclass
from math import isfinite

from studio.design.design import Design
from studio.design.fields import Count, Quantity
from studio.design.paths import FieldAt, field_at
from studio.errors import BadInputError
from studio.numbers_in import read_number
from studio.study.searching import Axis
from studio.text import _


@dataclass(frozen=True)
class Range:
    """A field that may be varied, by its path, and its bounds in the field's unit."""

    path: str
    low: float
    high: float


def range_of(design: Design, text: str) -> Range:
    """A range as it is typed: ``mirror.tilt_deg=20..50``, ``receiver.window_width_m=150 mm..0,3 m``."""
    path, given, bounds = text.partition("=")
    low, parted, high = bounds.partition("..")
    if not (given and parted):
        raise BadInputError(
            _("“{text}” is no range; mirror.tilt_deg=20..50 is how one looks.").format(text=text[:60])
        )
    field = field_at(design, path.strip())
    unit = field.declaration.unit
    return Range(field.path, read_number(low, unit).value, read_number(high, unit).value)


def ranged_field(design: Design, range_: Range) -> FieldAt:
    """The field that a range varies; BadInputError with one sentence where its bounds make no sense."""
    field = field_at(design, range_.path)
    declaration = field.declaration
    if not isinstance(declaration, Quantity | Count):
        raise BadInputError(
            _("{name} is no number, so it has no bounds to search between.").format(name=field.name)
        )
    if field.path.startswith("shelf."):
        raise BadInputError(
            _("{name} stands on the shelf and not in the field; vary the field's mirror.").format(
                name=field.name
            )
        )
    low, high = range_.low, range_.high
    if not (isfinite(low) and isfinite(high) and low < high):
        raise BadInputError(
            _(
                "{name}: bounds from {low:g} to {high:g} hold nothing; let the upper one lie above the lower one."
            ).format(name=field.name, low=low, high=high)
        )
    if low < declaration.low or high > declaration.high:
        raise BadInputError(
            _("{name}: bounds from {low:g} to {high:g} go beyond {least:g} to {most:g}.").format(
                name=field.name, low=low, high=high, least=declaration.low, most=declaration.high
            )
        )
    if isinstance(declaration, Count) and not (low == round(low) and high == round(high)):
        raise BadInputError(
            _("{name}: bounds from {low:g} to {high:g} will not do; whole numbers would be right.").format(
                name=field.name, low=low, high=high
            )
        )
    return field


def axis_of(field: FieldAt, range_: Range) -> Axis:
    """A field as the ways see it; a value has one digit more than the field shows (mirrors are set out no finer)."""
    declaration = field.declaration
    digits = declaration.digits + 1 if isinstance(declaration, Quantity) else 0
    return Axis(range_.low, range_.high, whole=isinstance(declaration, Count), digits=digits)


def start_of(field: FieldAt, axis: Axis) -> float:
    """The present value, or the middle of the bounds where there is none."""
    middle = 0.5 * (axis.low + axis.high)
    return axis.on_grid(middle if field.value is None else float(field.value))
