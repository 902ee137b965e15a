"""Pipes and flow: how losses and friction move, and what is refused."""

import numpy as np
import pytest

from studio.engine.heat import flow
from studio.engine.heat.oil import HEAVY_MINERAL_OIL
from studio.engine.heat.pipe import (
    PIPE_SIZES,
    PipeRun,
    bare_loss_w_m,
    insulated_loss_w_m,
    jacket_c,
    pipe_size,
)
from studio.errors import BadInputError

RUN = PipeRun(pipe_size("medium-20"), 50.0)


def test_sizes_have_keys_of_their_own() -> None:
    assert len({size.key for size in PIPE_SIZES}) == len(PIPE_SIZES)
    assert all(0 < size.bore_mm < size.outside_mm for size in PIPE_SIZES)
    with pytest.raises(BadInputError, match="no pipe size ten"):
        pipe_size("ten")


def test_loss_rises_with_oil_and_wind_and_falls_with_insulation() -> None:
    assert np.all(np.diff(insulated_loss_w_m([100, 200, 300], 20.0, 2.0, run=RUN)) > 0)
    assert np.all(np.diff(insulated_loss_w_m(300.0, 20.0, np.array([0.0, 1.0, 5.0, 15.0]), run=RUN)) > 0)
    by_mm = [
        float(insulated_loss_w_m(300.0, 20.0, 2.0, run=PipeRun(RUN.size, mm))) for mm in (0, 20, 50, 100)
    ]
    assert by_mm == sorted(by_mm, reverse=True)
    assert by_mm[0] == pytest.approx(float(bare_loss_w_m(300.0, 20.0, 2.0, size=RUN.size)))


def test_oil_at_air_temperature_loses_nothing() -> None:
    assert float(insulated_loss_w_m(20.0, 20.0, 2.0, run=RUN)) == pytest.approx(0, abs=1e-6)
    assert float(insulated_loss_w_m(0.0, 20.0, 2.0, run=RUN)) < 0


def test_inside_and_outside_of_the_jacket_agree() -> None:
    """The jacket's temperature gives the same loss through the insulation as the fixed film takes off it."""
    jacket = jacket_c(300.0, 20.0, 0.0, run=RUN, inside_w_m2k=100.0, outside_w_m2k=8.0)
    off = np.pi * RUN.jacket_m * 8.0 * (jacket - 20.0)
    through = insulated_loss_w_m(300.0, 20.0, 0.0, run=RUN, inside_w_m2k=100.0, outside_w_m2k=8.0)
    assert float(off) == pytest.approx(float(through), rel=1e-9)


def test_shapes_broadcast_and_nothing_gives_nothing() -> None:
    assert insulated_loss_w_m(np.zeros((3, 1)) + 250, np.zeros(4) + 10, 1.0, run=RUN).shape == (3, 4)
    assert insulated_loss_w_m(np.zeros(0), np.zeros(0), np.zeros(0), run=RUN).shape == (0,)


def test_bad_runs_are_refused() -> None:
    for bad in ({"insulation_mm": -1.0}, {"insulation_mm": 50.0, "insulation_w_mk": 0.0}):
        with pytest.raises(BadInputError, match="DN20 medium"):
            PipeRun(pipe_size("medium-20"), **bad)


def test_friction_and_film_are_continuous_from_laminar_to_turbulent() -> None:
    re = np.linspace(1500, 5000, 3501)
    assert np.abs(np.diff(flow.friction_factor(re, 1e-3))).max() < 1e-4
    assert np.abs(np.diff(flow.nusselt_inside(re, 30.0, bore_over_length=0.02))).max() < 0.1


def test_no_flow_loses_no_pressure() -> None:
    assert float(flow.pressure_loss_pa_m(HEAVY_MINERAL_OIL, 250.0, 0.0, bore_m=0.02)) == 0
    assert float(flow.fitting_loss_pa(HEAVY_MINERAL_OIL, 250.0, 0.0, bore_m=0.02, resistance=5)) == 0


def test_cold_oil_costs_more_pressure() -> None:
    loss = flow.pressure_loss_pa_m(HEAVY_MINERAL_OIL, [20.0, 100.0, 250.0], 0.1, bore_m=0.0217)
    assert np.all(np.diff(loss) < 0)
