"""Hours followed part by part, against a year whose every step is a part of an hour."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.typing import NDArray

from studio.engine.heat.oil import HEAVY_MINERAL_OIL
from studio.engine.heat.pipe import PipeRun, pipe_size
from studio.engine.heat.receiver import ReceiverBuild
from studio.engine.heat.year import (
    Conditions,
    HeaderHeat,
    LineHeat,
    LinesHeat,
    LinesSum,
    field_year,
    lines_heat,
)

Numbers = NDArray[np.float64]
PARTS, DAYS = 3, 30
RUN = PipeRun(pipe_size("medium-20"), 50.0)
LINES = (LineHeat(12, 30.0, 110.0, 25.0), LineHeat(7, 20.0, 70.0, 15.0))
HEADER = HeaderHeat(20.0, 20.0, PipeRun(pipe_size("medium-40"), 80.0), 140.0, 40.0)


def light() -> Numbers:
    """Invented: light (H, P, L) of thirty days, a bell from 7 to 17 whose height changes by the day and by passing clouds."""
    rng = np.random.default_rng(4)
    at = (np.arange(24 * PARTS) + 0.5) / PARTS
    bell = 900.0 * np.sin(np.pi * np.clip((at - 7) / 10, 0, 1)) ** 0.8
    each = rng.uniform(0.4, 1.0, (DAYS, 1)) * bell * rng.uniform(0.7, 1.0, (DAYS, 24 * PARTS))
    return each.reshape(-1, PARTS, 1) * [line.mirrors for line in LINES]


def conditions(hours: int) -> Conditions:
    hour = np.arange(hours) % 24
    return Conditions(
        air_c=15.0 + 6.0 * np.cos((hour - 14) / 24 * 2 * np.pi),
        wind_m_s=2.0 + np.sin(hour / 24 * 2 * np.pi),
        oil=HEAVY_MINERAL_OIL,
        inlet_c=250.0,
        outlet_c=300.0,
        least_flow_kg_s=0.01,
        receiver=ReceiverBuild(),
        pipe=RUN,
    )


def by_parts(parts: Numbers) -> LinesHeat:
    """Every step a part of an hour."""
    hours = conditions(len(parts))
    air, wind = np.repeat(hours.air_c, PARTS), np.repeat(hours.wind_m_s, PARTS)
    finer = replace(hours, air_c=air, wind_m_s=wind, step_h=1 / PARTS)
    steps = parts.reshape(-1, parts.shape[2])
    return lines_heat(steps, LINES, finer, most_absorbed_w=float(parts.max()))


def gathered(found: LinesHeat) -> Numbers:
    """Oil through each line (L,), mean over all hours, kg/s."""
    return np.asarray(found.flow_kg_s.mean(axis=0))


def test_followed_hours_bring_what_a_finer_year_does() -> None:
    """Within 0.3 % of what each line gathers, where hours by their mean alone are off by more than 1 %."""
    parts = light()
    hours, most = conditions(len(parts)), float(parts.max())
    fine = gathered(by_parts(parts))
    coarse = gathered(lines_heat(parts.mean(axis=1), LINES, hours, most_absorbed_w=most))
    followed = gathered(lines_heat(parts.mean(axis=1), LINES, hours, most_absorbed_w=most, parts_w=parts))
    assert followed == pytest.approx(fine, rel=3e-3)
    assert (np.abs(coarse / fine - 1) > 0.01).all()


def test_every_hour_closes_and_no_line_reads_another() -> None:
    parts = light()
    hours, most = conditions(len(parts)), float(parts.max())
    both = lines_heat(parts.mean(axis=1), LINES, hours, most_absorbed_w=most, parts_w=parts)
    rest = both.absorbed_w - both.receiver_loss_w - both.line_pipe_loss_w - both.idle_loss_w
    assert np.abs(rest - hours.rise_j_kg * both.flow_kg_s).max() < 1e-6
    assert ((both.delivers >= 0.0) & (both.delivers <= 1.0)).all()
    alone = lines_heat(
        parts.mean(axis=1)[:, 1:], LINES[1:], hours, most_absorbed_w=most, parts_w=parts[:, :, 1:]
    )
    assert (alone.flow_kg_s[:, 0] == both.flow_kg_s[:, 1]).all()
    assert (alone.idle_loss_w[:, 0] == both.idle_loss_w[:, 1]).all()


def test_light_that_stands_still_needs_no_following() -> None:
    still = np.repeat(light().mean(axis=1, keepdims=True), PARTS, axis=1)
    hours, most = conditions(len(still)), float(still.max())
    plain = lines_heat(still.mean(axis=1), LINES, hours, most_absorbed_w=most)
    followed = lines_heat(still.mean(axis=1), LINES, hours, most_absorbed_w=most, parts_w=still)
    assert followed.flow_kg_s == pytest.approx(plain.flow_kg_s, rel=1e-12)


def test_headers_lose_while_lines_deliver() -> None:
    """A header that carries heat for half of each hour loses half of what it would in a whole one, and what it loses until the
    next half is paid by warming up: between half and all of the loss in sum."""
    hours = conditions(48)
    heat = np.full(48, 20_000.0)

    def outlet(delivers: float) -> tuple[float, float]:
        lines = LinesSum(
            absorbed_w=heat,
            receiver_loss_w=np.zeros(48),
            line_pipe_loss_w=np.zeros(48),
            idle_loss_w=np.zeros(48),
            flow_kg_s=heat / hours.rise_j_kg,
            delivers=np.full(48, delivers),
            stored_w=0.0,
        )
        year = field_year(lines, HEADER, hours)
        assert year.absorbed_w - year.header_loss_w - year.idle_loss_w == pytest.approx(year.outlet_w)
        return year.outlet_kwh, year.header_loss_kwh

    (whole_kwh, whole_lost), (half_kwh, half_lost) = outlet(1.0), outlet(0.5)
    assert half_lost == pytest.approx(whole_lost / 2, rel=0.08)
    assert 0.5 * whole_lost < 48 * 20.0 - half_kwh < 48 * 20.0 - whole_kwh
