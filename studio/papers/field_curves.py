"""Curves over a whole field as they leave: a table on the terminal, JSON, CSV."""

from pathlib import Path
from typing import Any

from studio.design.design import Design
from studio.design.fields import mark
from studio.edits.variants import Over
from studio.papers.drive_csv import rows_as_csv
from studio.papers.materials_csv import Cell
from studio.papers.terminal import broken, table_of, terminal
from studio.papers.together import write_together
from studio.study.field_curves import KEYS, CurvePoint, FieldCurve, best_point
from studio.study.figures import FIGURES, shown, unit_of
from studio.text import _, number, percent, pretty

UNITS: dict[Over, str] = {"pitch": "m", "spacing": "m", "azimuth": "°"}
_KEYS: dict[Over, str] = {"pitch": "mean_pitch_m", "spacing": "mean_spacing_m", "azimuth": "azimuth_deg"}
_COLUMNS = ("annual_heat_kwh", "heat_per_mirror_kwh", "shade_loss_winter", "ground_cover", "pipe_length_m",
            "capital_cost", "heat_cost_per_kwh")  # fmt: skip
_HEADS = {
    "annual_heat_kwh": mark("heat"), "heat_per_mirror_kwh": mark("a mirror"), "shade_loss_winter": mark("winter"),
    "ground_cover": mark("cover"), "land_use": mark("land use"), "pipe_length_m": mark("pipe"),
    "capital_cost": mark("money"), "heat_cost_per_kwh": mark("heat cost"),
}  # fmt: skip


def name_of(over: Over) -> str:
    """What a curve is drawn over."""
    return {"pitch": _("mean pitch"), "spacing": _("mean spacing"), "azimuth": _("azimuth of the lines")}[
        over
    ]


def how_made(over: Over, *, planted: bool, facing_turns: bool) -> str:
    """How the points of a curve are made, in a sentence."""
    if planted:
        made = _("At each point the plot is planted anew, lines as long as it allows.")
    elif over == "pitch":
        made = _("All pitches are scaled alike; the front line and all counts stay.")
    elif over == "spacing":
        made = _("All spacings are scaled alike; the middles of lines and all counts stay.")
    else:
        made = _("The whole field is turned about its middle; plot, obstacles and store stay.")
    if over != "azimuth":
        return made
    return (
        f"{made} {_('Mirrors turn with their lines.') if facing_turns else _('Mirrors keep their facing.')}"
    )


def curve_tree(
    curve: FieldCurve, design: Design, over: Over, *, planted: bool, facing_turns: bool
) -> dict[str, Any]:
    """A curve as plain dicts and lists; figures in the units of the figures' list, money in the currency."""
    best = best_point(curve.points)
    return {
        "over": over,
        "unit": UNITS[over],
        "planted": planted,
        "facing_turns": facing_turns,
        "currency": design.prices.currency,
        "present": {"value": curve.here, **_brings(curve.present)},
        "passing_pitch_m": curve.passing_pitch_m,
        "winter_limit": design.marks.winter_limit,
        "best": None if best is None else best.value,
        "points": [
            {
                "value": point.value,
                "label": point.label,
                **(_brings(point.brings) if point.brings is not None else {}),
                "cannot": point.cannot,
            }
            for point in curve.points
        ],
    }


def _brings(brings: Any) -> dict[str, Any]:
    return {
        **brings.figures,
        "worst_line": brings.worst_line,
        "passes": brings.passes,
        "stops": list(brings.stops),
        "stop_count": brings.stop_count,
    }


def write_curve(
    curve: FieldCurve, over: Over, target: Path, *, overwrite: bool = False, decimal_comma: bool | None = None
) -> tuple[Path, ...]:
    """A row a point under a row of keys, empty where a figure is not known. Raises WriteError as ``write_together``."""
    rows: list[tuple[Cell, ...]] = [
        (_KEYS[over], *KEYS, "worst_line", "passes", "stop_count", "present", "why")
    ]
    for point in curve.points:
        brings = point.brings
        told: tuple[Cell, ...] = (None, None, None)
        if brings is not None:
            told = (brings.worst_line, "yes" if brings.passes else "no", brings.stop_count)
        rows.append(
            (
                point.value,
                *(point.figure(key) for key in KEYS),
                *told,
                "yes" if _is_here(curve, point) else None,
                _why(point) or None,
            )
        )
    return write_together(
        target.parent, {target.name: rows_as_csv(rows, decimal_comma=decimal_comma)}, overwrite=overwrite
    )


def _why(point: CurvePoint) -> str:
    """Why it cannot be made, or must not be built."""
    return point.cannot or (point.brings.stops[0] if point.brings is not None and point.brings.stops else "")


def print_curve(curve: FieldCurve, design: Design, over: Over, *, planted: bool, facing_turns: bool) -> None:
    """The curve as a table with its marks, and sentences about them."""
    console = terminal()
    currency = design.prices.currency
    title = _("Over the {name}, {unit}").format(name=name_of(over), unit=UNITS[over])
    columns = tuple("land_use" if planted and key == "ground_cover" else key for key in _COLUMNS)
    table = table_of(title, "", *(_(_HEADS[key]) for key in columns), "")
    table.columns[-1].justify = "left"
    table.add_row(UNITS[over], *(pretty(unit_of(FIGURES[key], currency)) for key in columns), "")
    best, marked = best_point(curve.points), False
    for point in curve.points:
        if over == "pitch" and not planted and curve.passing_pitch_m is not None:
            if not marked and curve.points[0].value < curve.passing_pitch_m <= point.value:
                passing = number(curve.passing_pitch_m, digits=2)
                table.add_row(passing, *("·" for _key in columns), _("passes from here"))
            marked = marked or curve.passing_pitch_m <= point.value
        table.add_row(
            value_text(over, point.value),
            *(shown(FIGURES[key], point.figure(key)) for key in columns),
            _marks(curve, point, best),
        )
    console.print(table)
    console.print()
    for sentence in sentences(curve, design, over, planted=planted, facing_turns=facing_turns):
        console.print(broken(pretty(sentence), after="  ", width=console.width))


def value_text(over: Over, value: float) -> str:
    """A value as a person reads it, without its unit."""
    return number(value % 360.0, digits=1) if over == "azimuth" else number(value, digits=2)


def told_value(over: Over, value: float) -> str:
    """A value with its unit."""
    return f"{value_text(over, value)}{'' if over == 'azimuth' else ' '}{UNITS[over]}"


def _is_here(curve: FieldCurve, point: CurvePoint) -> bool:
    return abs(point.value - curve.here) < 1e-9


def _marks(curve: FieldCurve, point: CurvePoint, best: CurvePoint | None) -> str:
    words = []
    if _is_here(curve, point):
        words.append(_("now"))
    if point is best:
        words.append(_("best"))
    if point.brings is None:
        words.append(_("cannot"))
    elif point.brings.stop_count:
        words.append(_("stop"))
    elif not point.brings.passes:
        words.append(_("fails"))
    return ", ".join(words)


def sentences(
    curve: FieldCurve, design: Design, over: Over, *, planted: bool, facing_turns: bool
) -> list[str]:
    """How it is made, what its marks mean, and why points cannot be or must not be built."""
    marks = design.marks
    said = [how_made(over, planted=planted, facing_turns=facing_turns)]
    if planted:
        here = number(curve.present.figures["mirrors"], digits=0)
        said.append(_("The field as it stands has {count} mirrors.").format(count=here))
    if over == "pitch":
        said.append(passing_sentence(curve.passing_pitch_m, design))
    said.append(
        _("fails: the line that is shaded most loses more than {limit} % in the winter check.").format(
            limit=percent(marks.winter_limit, digits=0)
        )
    )
    best = best_point(curve.points)
    if best is not None:
        cost = best.figure("heat_cost_per_kwh") is not None
        said.append(
            _("best: the least heat cost of what may be built.")
            if cost
            else _("best: the most heat of what may be built; without prices there is no heat cost.")
        )
    for point in curve.points:
        why = _why(point)
        if why and not any(why in one for one in said):
            said.append(f"{told_value(over, point.value)}: {why}")
    return said


def passing_sentence(pitch_m: float | None, design: Design) -> str:
    """Who says which pitch passes."""
    limit = percent(design.marks.winter_limit, digits=0)
    if pitch_m is None:
        return _("No pitch passes the winter check (mark {limit} %), all pitches scaled alike.").format(
            limit=limit
        )
    return _(
        "The winter check says: from a mean pitch of {pitch} m every line passes (mark {limit} %), all pitches of the field as it stands scaled alike."
    ).format(pitch=number(pitch_m, digits=2), limit=limit)
