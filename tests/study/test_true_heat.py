"""Yearly heat of small fields, live and the slow way on days spread over the year, printed by field."""

import dataclasses
import os
from collections.abc import Mapping
from dataclasses import dataclass
from math import cos, radians, sin
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from studio.design.design import Document
from studio.files.examples import example_path
from studio.files.site import open_site
from studio.study import assess
from studio.study import heat as heat_stage
from studio.study.assess import Assessor
from studio.study.assessment import HeaderRun
from studio.study.heat import FieldHeat
from studio.study.light import LineLight
from studio.study.sky import Sky
from tests.study.slow_heat import SlowDays, slow_days

FULL = os.environ.get("STILLFIELD_FULL") == "1"
EVERY, RAYS, SEED = (5, 300, 11) if FULL else (61, 300, 11)
"""Days between two that are worked out the slow way, and rays a mirror and quarter hour."""
FIELDS: Mapping[str, tuple[float, float]] = {  # azimuth, pitch
    "small example": (90.0, 3.0),
    "turned by 25 degrees": (65.0, 3.2),
    "flatter, from south to north": (0.0, 3.4),
}
TILTS: Mapping[str, float] = {"flatter, from south to north": 15.0}
MOST_APART = 0.005

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Live:
    """What the live way works out hour by hour: light that lines absorb (8760, L) and the field's heat, W."""

    absorbed_w: Floats
    outlet_w: Floats
    header: HeaderRun


def live_year(doc: Document, monkeypatch: pytest.MonkeyPatch) -> Live:
    kept: list[Live] = []

    def seen(
        design: Any,
        placed: Any,
        header: HeaderRun,
        sky: Sky,
        lights: tuple[LineLight, ...],
        *a: Any,
        **k: Any,
    ) -> FieldHeat:
        heat = heat_stage.heat_of(design, placed, header, sky, lights, *a, **k)
        absorbed = np.zeros((8760, len(lights)))
        absorbed[sky.hour] = np.stack([light.absorbed_w for light in lights], axis=1)
        kept.append(Live(absorbed, heat.year.outlet_w, header))
        return heat

    monkeypatch.setattr(assess, "heat_of", seen)
    figures = Assessor().assess(doc, calendar=False).figures
    assert figures["annual_heat_kwh"] == pytest.approx(kept[0].outlet_w.sum() / 1000, rel=1e-9)
    return kept[0]


def field(name: str) -> Document:
    """The small example, or its lines at another azimuth and pitch, as many mirrors in each."""
    doc = open_site(example_path("small_dryer"))
    azimuth, pitch = FIELDS[name]
    if azimuth == 90.0:
        return doc
    along = np.array([sin(radians(azimuth)), cos(radians(azimuth))])
    lines = tuple(
        dataclasses.replace(
            line,
            azimuth_deg=azimuth,
            x_m=float(4.0 + along[1] * pitch * place),
            y_m=float(4.0 - along[0] * pitch * place),
        )
        for place, line in enumerate(doc.design.lines)
    )
    mirror = dataclasses.replace(doc.design.mirror, tilt_deg=TILTS.get(name, doc.design.mirror.tilt_deg))
    motion = dataclasses.replace(doc.design.motion, stroke_m=2.0, roll_from_deg=-60.0, roll_to_deg=60.0)
    return dataclasses.replace(
        doc, design=dataclasses.replace(doc.design, lines=lines, mirror=mirror, motion=motion)
    )


def days_of_year(every: int) -> list[int]:
    return list(range(every // 2 + 1, 365, every))


def slow_and_live(doc: Document, live: Live, every: int) -> tuple[SlowDays, Floats, Floats]:
    """The slow days, and what the live way absorbs and brings on the same days (D,), kWh."""
    days = days_of_year(every)
    by_day = live.absorbed_w.reshape(365, 24, -1)
    before = by_day[[day - 1 for day in days]]
    slow = slow_days(doc, live.header, days, before, rays_per_mirror=RAYS, seed=SEED)
    return slow, by_day[days].sum(axis=(1, 2)) / 1000, live.outlet_w.reshape(365, 24)[days].sum(axis=1) / 1000


@pytest.mark.parametrize("name", FIELDS)
def test_yearly_heat_agrees_within_half_a_per_cent(
    name: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    doc = field(name)
    live = live_year(doc, monkeypatch)
    slow, absorbed, outlet = slow_and_live(doc, live, EVERY)
    curved_apart = absorbed.sum() / slow.absorbed_curved.sum() - 1
    light_apart, apart = absorbed.sum() / slow.absorbed.sum() - 1, outlet.sum() / slow.outlet.sum() - 1
    with capsys.disabled():
        print(
            f"\n{name}: heat of {len(outlet)} days {outlet.sum():.1f} kWh live, {slow.outlet.sum():.1f} slow: "
            f"{apart:+.2%} (light {light_apart:+.2%}, curved films {curved_apart:+.2%}); heat of the year {live.outlet_w.sum() / 1000:.0f} kWh"
        )
    assert slow.outlet.sum() > 0.3 * slow.absorbed.sum()
    assert abs(apart) < MOST_APART


def test_the_comparison_can_fail(monkeypatch: pytest.MonkeyPatch) -> None:
    """The slow way of a field whose pipe is insulated by a third of the thickness stands well apart."""
    doc = field("small example")
    live = live_year(doc, monkeypatch)
    pipe = dataclasses.replace(doc.design.pipe, insulation_mm=doc.design.pipe.insulation_mm / 3)
    thin = dataclasses.replace(doc, design=dataclasses.replace(doc.design, pipe=pipe))
    slow, _absorbed, outlet = slow_and_live(thin, live, 120)
    assert outlet.sum() > slow.outlet.sum() * (1 + 2 * MOST_APART)
