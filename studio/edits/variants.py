"""Variants of a whole field along one of its measures: every pitch, every spacing, or its azimuth another."""

from collections.abc import Iterable
from math import ceil, floor, log10
from typing import Literal, get_args

from studio.design.design import Design
from studio.design.pitches import pitches
from studio.edits.arrange import turn_field
from studio.edits.edit import Edit
from studio.edits.geometry import front_line
from studio.edits.lines import scale_pitches, scale_spacings
from studio.edits.plant import plant_lines
from studio.errors import BadInputError
from studio.text import _

Over = Literal["pitch", "spacing", "azimuth"]
OVERS: tuple[Over, ...] = get_args(Over)
_SHARES = {"pitch": (0.6, 2.0), "spacing": (0.75, 1.6)}
"""Of the present value: from where to where one looks unless told otherwise."""
_AROUND_DEG = 90.0
_TURNS_DEG = (1.0, 2.0, 5.0, 10.0, 15.0, 30.0, 45.0, 90.0)
_STEPS = (1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0)
_SAME = 1e-9


def present_value(design: Design, over: Over) -> float:
    """What the design has: mean pitch (m), mean spacing (m), or the azimuth of its front line (degrees).

    Raises BadInputError where there are no lines, or no two that stand at a pitch.
    """
    if not design.lines:
        raise BadInputError(_("There is no line yet; place one or plant the plot first."))
    if over == "azimuth":
        return front_line(design).azimuth_deg % 360.0
    if over == "spacing":
        return sum(line.spacing_m for line in design.lines) / len(design.lines)
    gaps = pitches(design)
    if not gaps:
        raise BadInputError(
            _("No two lines stand at a pitch; curves over the pitch want two that run alike.")
        )
    return sum(gaps) / len(gaps)


def variant(
    design: Design, *, over: Over, value: float, planted: bool = False, facing_turns: bool = False
) -> Edit:
    """The field with mean pitch, mean spacing (m) or front line's azimuth (degrees) at ``value``.

    As it stands, pitches and spacings are scaled alike (front line, or middles of lines, and counts stay), or all lines
    turned about their middle; at the present value that is the design itself. ``planted``: the plot is planted anew at
    the value with pitch and azimuth else as they are, spacing the usual one, lines as long as the plot allows. Over the azimuth mirrors keep their
    facing, or with ``facing_turns`` turn with their lines. Raises BadInputError for a value that will not do.
    """
    here = present_value(design, over)
    if over != "azimuth" and not value > 0.0:
        raise BadInputError(_("{value:g} m will not do; more than 0 m would be right.").format(value=value))
    if planted:
        return _planted(design, over, value, facing_turns)
    if abs(value - here) < _SAME:
        return Edit(_("As it stands"), design)
    if over == "pitch":
        return scale_pitches(design, scale=value / here)
    if over == "spacing":
        return scale_spacings(design, scale=value / here)
    return turn_field(design, azimuth_deg=value, facing_turns=facing_turns)


def _planted(design: Design, over: Over, value: float, facing_turns: bool) -> Edit:
    azimuth = front_line(design).azimuth_deg
    pitch = value if over == "pitch" else present_value(design, "pitch")
    if over == "azimuth":
        azimuth = value % 360.0
        if facing_turns:
            design = turn_field(design, azimuth_deg=value, facing_turns=True).design
    return plant_lines(
        design, azimuth_deg=azimuth, pitch_m=pitch, spacing_m=value if over == "spacing" else None
    )


def usual_values(design: Design, over: Over, *, points: int) -> tuple[float, ...]:
    """Some ``points`` values around the present one, rising, at a round step; the present one is among them.

    Raises BadInputError as ``present_value``, and for less than 2 points.
    """
    here = present_value(design, over)
    _hold_points(points)
    if over == "azimuth":
        step = next((turn for turn in _TURNS_DEG if 2 * _AROUND_DEG / turn <= points), _TURNS_DEG[-1])
        each = floor(_AROUND_DEG / step)
        return tuple(round(here + place * step, 9) for place in range(-each, each + 1))
    low, high = (share * here for share in _SHARES[over])
    if over == "spacing":
        low = max(low, min(design.mirror.width_m, here))
    step = _round_step((high - low) / (points - 1))
    first, last = ceil(low / step - _SAME), floor(high / step + _SAME)
    if first * step > here - _SAME:
        first -= 1  # something lies to either side
    return _with_present((round(place * step, 9) for place in range(first, last + 1)), here)


def even_values(design: Design, over: Over, *, low: float, high: float, points: int) -> tuple[float, ...]:
    """So many values from ``low`` to ``high`` in even steps, and the present one where it lies between."""
    _hold_points(points)
    if not low < high:
        raise BadInputError(
            _("From {low:g} to {high:g} there is nothing; let the upper end lie above the lower one.").format(
                low=low, high=high
            )
        )
    here, step = present_value(design, over), (high - low) / (points - 1)
    values = [round(low + place * step, 9) for place in range(points)]
    return _with_present(values, here) if low <= here <= high else tuple(values)


def _with_present(values: Iterable[float], here: float) -> tuple[float, ...]:
    """The values with the present one among them, in place of one that is it but for rounding."""
    return tuple(sorted([*(value for value in values if abs(value - here) > _SAME), here]))


def _round_step(least: float) -> float:
    """The next of ``_STEPS`` times a power of ten."""
    unit = 10.0 ** floor(log10(least))
    return next(unit * times for times in _STEPS if unit * times >= least * (1 - _SAME))


def _hold_points(points: int) -> None:
    if not 2 <= points <= 200:
        raise BadInputError(_("{points} points will not do; 2 to 200 would be right.").format(points=points))
