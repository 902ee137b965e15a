"""Stage: what the checks notice, each with its sentence, its place and what would mend it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING

from studio.study.assessment import PlacedLine
from studio.study.build_checks import build_findings
from studio.study.clearance import ground_findings
from studio.study.drive_checks import drive_findings
from studio.study.findings import Finding, Mend, numbered
from studio.study.ground_checks import land_findings
from studio.study.heat import oil_of, receiver_of
from studio.study.light import LOSSES
from studio.study.optics import errors_of
from studio.study.reaching import Surroundings
from studio.study.room import room_findings
from studio.study.swing import swing_findings
from studio.text import _, number, percent

if TYPE_CHECKING:
    from studio.study.assess import Worked


def findings_of(work: Worked, figures: Mapping[str, float | None]) -> tuple[Finding, ...]:
    """Every finding of a design, in order of severity, numbered."""
    found: list[Finding] = []
    found += room_findings(work)
    found += build_findings(work.design)
    found += drive_findings(work.design, work.placed)
    found += ground_findings(work.design, work.placed)
    found += land_findings(work)
    found += swing_findings(work.design, work.placed)
    found += _winter(work, figures)
    found += _obstacles(work)
    found += _hot(work)
    found += _film_of_oil(work)
    found += _oil(work)
    found += _goods(work)
    found += _weather(work)
    found += _limits(work)
    return numbered(found)


_WORTH_TELLING = 0.005
"""Of a line's light on the winter day: what obstacles and horizon must take to be told beside mirrors."""


def _winter(work: Worked, figures: Mapping[str, float | None]) -> Iterator[Finding]:
    marks = work.design.marks
    hours = _("{start} to {end} h solar").format(
        start=number(marks.winter_from_h, digits=0), end=number(marks.winter_to_h, digits=0)
    )
    pitch, mean = figures["passing_pitch_m"], figures["mean_pitch_m"]
    for line, winter, every in zip(work.placed, work.winter, work.winter_with_all, strict=True):
        if winter.mean <= marks.winter_limit:
            continue
        by = ", ".join(_("Line {id}").format(id=caster) for caster, _share in winter.by[:2])
        detail = _("by {casters}").format(casters=by) if by else _("by its own mirrors")
        if every > winter.with_gear + _WORTH_TELLING:
            detail = _("{by} · {share} % with pipes, obstacles and horizon").format(
                by=detail, share=percent(every)
            )
        mend = None
        if pitch is not None and mean:
            detail = _("{by} · passes at pitch {pitch} m").format(by=detail, pitch=number(pitch, digits=2))
            mend = Mend(
                _("Widen all pitches to {pitch} m").format(pitch=number(pitch, digits=2)),
                "scale_pitches",
                {"scale": pitch / mean},
            )
        middle = line.first + line.along * line.spacing_m * (line.count - 1) / 2
        yield Finding(
            key="winter_shade",
            severity="caution",
            sentence=_("Line {id} shaded {share} % on the shortest day, {hours}").format(
                id=line.id, share=percent(winter.mean), hours=hours
            ),
            detail=detail,
            value=winter.mean,
            place=(float(middle[0]), float(middle[1])),
            line_id=line.id,
            mend=mend,
        )


def _obstacles(work: Worked) -> Iterator[Finding]:
    limit = work.design.marks.obstacle_limit
    for line, light, around in zip(work.placed, work.lights, work.around, strict=True):
        if not around.alone:
            continue
        on_aperture = float(light.facing_kwh.sum() - light.losses_kwh[0].sum())
        lost = float(light.losses_kwh[LOSSES.index("obstacles")].sum())
        if lost <= limit * on_aperture:
            continue
        worst = [work.design.obstacles[place].name for place, _share in around.alone[:2]]
        middle = line.first + line.along * line.spacing_m * (line.count - 1) / 2
        yield Finding(
            key="obstacle_shade",
            severity="caution",
            sentence=_("Line {id} loses {share} % of its year's light to obstacles").format(
                id=line.id, share=percent(lost / on_aperture)
            ),
            detail=_(
                "most by {names} · {limit} % is the mark; move or shorten the line, or lower what stands there"
            ).format(names=", ".join(worst), limit=percent(limit)),
            value=lost / on_aperture,
            place=(float(middle[0]), float(middle[1])),
            line_id=line.id,
            mend=_shortened(line, around, limit),
        )


_WORTH_KEEPING = 0.4
"""Of a line's mirrors: a stretch shorter than this is no mend but another line."""


def _shortened(line: PlacedLine, around: Surroundings, limit: float) -> Mend | None:
    """The longest stretch of a line that keeps the mark, where it is most of the line."""
    if around.obstacles is None:
        return None
    first, count = around.obstacles.clear_stretch(limit)
    if not _WORTH_KEEPING * line.count <= count < line.count:
        return None
    numbers = line.first_number + first, line.first_number + first + count - 1
    return Mend(
        _("Keep mirrors {first} to {last} only").format(first=numbers[0], last=numbers[1]),
        "shorten_line",
        {"id": line.id, "first": first, "count": count},
    )


def _hot(work: Worked) -> Iterator[Finding]:
    hot, oil = work.hot, work.design.oil
    if hot is None:
        return
    yield Finding(
        key="concentrated_light",
        severity="caution",
        sentence=_("Each spot reaches {flux} kW/m2: it burns skin and eyes and lights dry grass").format(
            flux=number(hot.peak_kw_m2, digits=0)
        ),
        detail=_("Cover mirrors before work at the focus; local codes and a licensed person decide"),
        value=hot.peak_kw_m2,
        unit="kW/m2",
    )
    if hot.stagnation_c > oil.film_limit_c:
        yield Finding(
            key="stagnation",
            severity="caution",
            sentence=_(
                "Without flow a receiver reaches {hot} °C, above the oil's film limit of {limit} °C"
            ).format(hot=number(hot.stagnation_c, digits=0), limit=number(oil.film_limit_c, digits=0)),
            detail=_("Receivers must leave the spot by themselves when pump or power stops"),
            value=hot.stagnation_c,
            unit="°C",
        )


def _film_of_oil(work: Worked) -> Iterator[Finding]:
    """The oil at the hottest wall: peak flux of the best sun, on the oil that goes out, at the most flow of a line."""
    hot, oil = work.hot, work.design.oil
    flow = work.heat.most_line_flow_kg_s
    if hot is None or flow <= 0.0:
        return
    receiver, table = receiver_of(work.design), oil_of(work.design)
    film = receiver.film_w_m2k(table, oil.outlet_c, flow)
    peak = 1000.0 * hot.peak_kw_m2 * work.shares.absorptance
    wall = float(receiver.film_peak_c(oil.outlet_c, peak, film))
    if wall > oil.film_limit_c:
        yield Finding(
            key="oil_film",
            severity="caution",
            sentence=_(
                "Where the spot is strongest the oil's film may reach {wall} °C, above its limit of {limit} °C"
            ).format(wall=number(wall, digits=0), limit=number(oil.film_limit_c, digits=0)),
            detail=_("The oil cracks there: a wider spot, more fins, more flow or a cooler outlet helps"),
            value=wall,
            unit="°C",
        )


def _oil(work: Worked) -> Iterator[Finding]:
    oil = work.design.oil
    if oil.outlet_c > oil.bulk_limit_c:
        yield Finding(
            key="oil_too_hot",
            severity="stop",
            sentence=_("The oil goes out at {hot} °C, above its limit of {limit} °C").format(
                hot=number(oil.outlet_c, digits=0), limit=number(oil.bulk_limit_c, digits=0)
            ),
            detail=_("Lower the outlet, or choose an oil that allows it"),
            value=oil.outlet_c,
            unit="°C",
            mend=Mend(
                _("Let it go out at {limit} °C").format(limit=number(oil.bulk_limit_c, digits=0)),
                "set_field",
                {"path": "oil.outlet_c", "value": oil.bulk_limit_c},
            ),
        )
    if work.placed and oil.outlet_c > oil.flash_c:
        yield Finding(
            key="oil_above_flash",
            severity="note",
            sentence=_("The oil runs above its flash point of {flash} °C").format(
                flash=number(oil.flash_c, digits=0)
            ),
            detail=_(
                "Usual in a closed system; a leak can burn. Pressure, relief and fire codes need a licensed person"
            ),
            value=oil.outlet_c,
            unit="°C",
        )
    pressures = [row.vapour_pressure_kpa for row in oil.rows if row.vapour_pressure_kpa is not None]
    if pressures and max(pressures) > 100.0 and work.placed:
        yield Finding(
            key="oil_pressure",
            severity="caution",
            sentence=_(
                "This oil boils within its table at normal pressure: the circuit is a pressure system"
            ),
            detail=_("Pressure equipment is for licensed persons and local codes"),
            value=max(pressures),
            unit="kPa",
        )


def _goods(work: Worked) -> Iterator[Finding]:
    for sentence in work.shopping.faults:
        yield Finding(key="cannot_be_cut", severity="stop", sentence=sentence)
    if work.shopping.missing:
        missing = ", ".join(work.shopping.missing[:3])
        more = len(work.shopping.missing) - 3
        yield Finding(
            key="price_missing",
            severity="note",
            sentence=_("Prices are missing: {names}").format(names=missing)
            + (_(" and {count} more").format(count=more) if more > 0 else ""),
            detail=_("Money and heat cost count only what has a price"),
            value=float(len(work.shopping.missing)),
        )
    if work.placed and not work.heat.year.outlet_kwh > 0:
        yield Finding(
            key="no_heat",
            severity="caution",
            sentence=_("No line ever gets warm enough to deliver heat at {hot} °C").format(
                hot=number(work.design.oil.outlet_c, digits=0)
            ),
            detail=_(
                "Losses of receivers and pipe eat the light; lower temperatures, more mirrors or better insulation help"
            ),
            value=0.0,
        )


def _weather(work: Worked) -> Iterator[Finding]:
    if work.sky.rescaled_months:
        months = ", ".join(str(month) for month in work.sky.rescaled_months)
        yield Finding(
            key="weather_rescaled",
            severity="note",
            sentence=_(
                "The monthly sums of months {months} are above the clear sky's; the sky was scaled up"
            ).format(months=months),
            detail=_("Check the sums: kWh/m2 a day of direct normal light"),
            value=float(len(work.sky.rescaled_months)),
        )


def _limits(work: Worked) -> Iterator[Finding]:
    """Where the studio itself knows less: what a reader of its numbers should be told."""
    if work.optics and not errors_of(work.design).gaussian_sun_serves:
        yield Finding(
            key="sharp_sun",
            severity="note",
            sentence=_("With such small errors the sun's sharp rim counts; its spot is taken as blurred"),
            detail=_("Blur other than the sun's is under 2 mrad per axis (2 mm per metre)"),
        )
