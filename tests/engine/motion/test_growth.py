"""Receivers beside their spots: growth against a plain integral, losses against closed forms."""

import numpy as np
import pytest

from studio.engine.heat.steel import elongation_mm_m
from studio.engine.mirror.form import Errors, Floats, MirrorForm, Window
from studio.engine.motion.growth import (
    LightBeside,
    OilAlong,
    ReceiversOnPipe,
    aim_loss,
    growth_loss,
    growth_offsets_m,
    light_beside,
    loss_of_rolls,
    moved_m,
)
from studio.engine.motion.offsets import offset_table, window_offsets
from studio.engine.motion.pose import LineMotion
from studio.engine.motion.table import optics_table
from studio.errors import BadInputError

COLD = OilAlong.all_at(20.0)


def integrated(pipe: ReceiversOnPipe, oil: OilAlong) -> Floats:
    """Growth summed over millimetres of pipe from the anchor to each receiver."""
    places = pipe.places_m
    answers = []
    for place in places:
        low, high = sorted((pipe.anchor_m, place))
        x = np.arange(low, high, 0.001) + 0.0005
        passed = np.searchsorted(places, x)
        share = passed / pipe.count if oil.flow == "outward" else 1 - passed / pipe.count
        at = oil.inlet_c + share * (oil.outlet_c - oil.inlet_c)
        answers.append(np.sign(place - pipe.anchor_m) * np.sum(elongation_mm_m(at)) * 1e-6)
    return np.array(answers)


@pytest.mark.parametrize("anchor", [0.0, 7.3, 40.0, -2.0])
@pytest.mark.parametrize("flow", ["outward", "inward"])
def test_growth_is_the_integral_from_the_anchor(anchor: float, flow: str) -> None:
    pipe = ReceiversOnPipe(count=12, spacing_m=1.35, first_m=0.7, anchor_m=anchor)
    oil = OilAlong(140.0, 290.0, "outward" if flow == "outward" else "inward")
    assert moved_m(pipe, oil) == pytest.approx(integrated(pipe, oil), abs=1e-5)


def test_the_way_the_oil_flows_decides_which_end_grows_more() -> None:
    pipe = ReceiversOnPipe(count=20, spacing_m=1.35)
    outward, inward = (moved_m(pipe, OilAlong(150.0, 300.0, flow)) for flow in ("outward", "inward"))
    # anchored at the drive: near it the pipe is cold with outward flow; at the far end both have summed the same oil
    assert outward[1] < inward[1]
    assert outward[-1] == pytest.approx(inward[-1], rel=0.02)


def test_receivers_spaced_for_the_hot_pipe_stand_right_when_hot_and_short_when_cold() -> None:
    pipe = ReceiversOnPipe(count=18, spacing_m=1.35, anchor_m=0.0)
    hot = OilAlong(200.0, 300.0)
    assert growth_offsets_m(pipe, hot, spaced_for=hot) == pytest.approx(np.zeros(18))
    cold = growth_offsets_m(pipe, COLD, spaced_for=hot)
    assert (np.diff(cold) < 0).all()
    assert cold == pytest.approx(-growth_offsets_m(pipe, hot, spaced_for=COLD))
    between = growth_offsets_m(pipe, hot, spaced_for=OilAlong.all_at(200.0))
    assert 0 < between[-1] < -cold[-1]


def test_an_anchor_in_the_middle_halves_the_worst_offset() -> None:
    ends, middle = (
        growth_offsets_m(
            ReceiversOnPipe(count=21, spacing_m=1.0, anchor_m=anchor), OilAlong.all_at(300), spaced_for=COLD
        )
        for anchor in (0.0, 10.0)
    )
    assert np.abs(middle).max() == pytest.approx(np.abs(ends).max() / 2)


def bell(wide_m: float, wide_deg: float) -> LightBeside:
    """A line whose light falls off as a Gaussian beside the spot."""
    slides, rolls = np.linspace(-0.3, 0.3, 61), np.linspace(-15, 15, 61)
    light = np.exp(-0.5 * (slides[:, None] / wide_m) ** 2 - 0.5 * (rolls[None, :] / wide_deg) ** 2)
    return LightBeside(slides, rolls, 0.9 * light)


def test_scattered_aims_lose_what_two_gaussians_say() -> None:
    """A Gaussian of width a seen through a spread s has the mean 1/sqrt(1 + (s/a)^2) (normal distribution)."""
    light = bell(0.08, 4.0)
    expected = 1 - 1 / np.sqrt((1 + (0.02 / 0.08) ** 2) * (1 + (1.5 / 4.0) ** 2))
    assert aim_loss(light, slide_rms_m=0.02, roll_rms_deg=1.5) == pytest.approx(expected, abs=2e-4)
    assert aim_loss(light, slide_rms_m=0.0, roll_rms_deg=0.0) == pytest.approx(0.0, abs=1e-12)


def test_the_drive_can_take_off_the_mean_and_better() -> None:
    light = bell(0.04, 4.0)
    offsets = np.append(np.linspace(0.0, 0.03, 9), 0.14)
    none, mean, best = (growth_loss(light, offsets, correct=how) for how in ("none", "mean", "best"))
    assert mean.correction_m == pytest.approx(-offsets.mean())
    assert mean.left_m == pytest.approx(offsets - offsets.mean())
    assert best.loss < mean.loss < none.loss
    # one receiver far off is given up rather than served: the best lies nearer to the others
    assert best.correction_m > mean.correction_m
    scan = [growth_loss(light, offsets + shift, correct="none").loss for shift in np.linspace(-0.1, 0, 1001)]
    assert best.loss == pytest.approx(min(scan), abs=1e-6)
    assert none.by_receiver[0] == pytest.approx(0.0, abs=1e-9)
    assert none.by_receiver[-1] == pytest.approx(1 - np.exp(-0.5 * (0.14 / 0.04) ** 2), abs=1e-3)


def test_roll_errors_are_meaned_over_receivers() -> None:
    light = bell(0.04, 4.0)
    rolls = np.array([0.0, 2.0, -4.0])
    assert loss_of_rolls(light, rolls) == pytest.approx(1 - np.exp(-0.5 * (rolls / 4) ** 2).mean(), abs=1e-4)


@pytest.fixture(scope="module")
def real() -> tuple[LightBeside, float, float]:
    """Light beside the spot of the default mirror over some suns, and what summing sun by sun gives at 60 mm."""
    hours = np.radians(np.linspace(-35, 35, 8))
    suns = np.stack([np.sin(hours), np.full(8, 0.1), np.cos(hours)], axis=-1)
    suns /= np.linalg.norm(suns, axis=1, keepdims=True)
    weights = suns[:, 2] * np.linspace(1, 2, 8)
    form, window = MirrorForm("paraboloid", 1.25, 1.44, 1.3, 11), Window(0.2, 0.175, 55)
    table = optics_table(form, Errors(), window, LineMotion((1, 0, 0), 1.235, -1.1, 1.1, -29, 29), suns=suns)
    offsets = offset_table(
        table, suns, slide_offsets_m=window_offsets(0.2, reach=1.2), roll_offsets_deg=np.zeros(1)
    )
    at = offsets.at(suns, slide_offset_m=np.full(8, 0.06), roll_offset_deg=np.zeros(8)).accepted
    best = table.at(suns).accepted
    return (
        light_beside(offsets, suns, weights),
        float(weights @ at / weights.sum()),
        float(weights @ best / weights.sum()),
    )


def test_a_profile_meaned_once_is_the_mean_of_every_sun(real: tuple[LightBeside, float, float]) -> None:
    light, at_60_mm, best = real
    assert light.best == pytest.approx(best)
    loss = growth_loss(light, np.array([0.06]), correct="none").loss
    assert loss == pytest.approx(1 - at_60_mm / best, abs=1e-9)


def test_nine_centimetres_are_much_and_beyond_the_table_all_is_lost(
    real: tuple[LightBeside, float, float],
) -> None:
    light = real[0]
    lost = growth_loss(light, np.array([0.0, 0.01, 0.03, 0.09, 0.5]), correct="none").by_receiver
    print("loss at 10, 30 and 90 mm:", lost[1:4].round(4))
    assert (np.diff(lost) > 0).all()
    assert lost[1] < 0.01
    assert lost[3] > 0.25
    assert lost[4] == 1.0


def test_what_cannot_be_is_refused(real: tuple[LightBeside, float, float]) -> None:
    with pytest.raises(BadInputError, match="at least 1 receiver"):
        ReceiversOnPipe(count=0, spacing_m=1.0)
    with pytest.raises(BadInputError, match="growth of steel"):
        OilAlong(20.0, 800.0)
    with pytest.raises(BadInputError, match="spread of aims"):
        aim_loss(real[0], slide_rms_m=-0.01, roll_rms_deg=0.0)
