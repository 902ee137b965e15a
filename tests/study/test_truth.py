"""The year of the small example, live and the slow way: how far apart, and by which cause."""

import dataclasses
import os
from functools import cache
from pathlib import Path

import pytest

from studio.design.design import Document
from studio.files.site import open_site
from studio.study.assess import Assessor
from tests.study.slow_field import CAUSES
from tests.study.slow_way import QUARTERS, SlowYear, quarters_of, slow_year

FULL = os.environ.get("STILLFIELD_FULL") == "1"
PAIRS = None if FULL else 900
RAYS_PER_MIRROR = 24
SEED = 20250321
MOST_ERROR = 0.0015


@cache
def small_example() -> Document:
    return open_site(Path(__file__).parents[2] / "example_sites" / "small_dryer.stillfield")


@cache
def live_kwh() -> dict[str, float]:
    """The live way's losses and landings, and the light on the apertures, kWh."""
    steps = Assessor().assess(small_example(), calendar=False).staircase
    kwh = {step.key: abs(step.kwh) for step in steps}
    return kwh | {"on aperture": kwh["facing"] - kwh["cosine"]}


@cache
def slow() -> SlowYear:
    return slow_year(small_example(), pairs=PAIRS, rays_per_mirror=RAYS_PER_MIRROR, seed=SEED)


def aperture_m2(document: Document) -> float:
    mirror = document.design.mirror
    return sum(line.count for line in document.design.lines) * mirror.width_m * mirror.height_m


def shade_loss(kwh: dict[str, float]) -> float:
    return (kwh["mirrors"] + kwh["gear"]) / kwh["on aperture"]


def intercept(kwh: dict[str, float]) -> float:
    lit = kwh["on aperture"] - kwh["mirrors"] - kwh["gear"]
    return 1.0 - (kwh["intercept"] + kwh["acceptance"]) / (lit - kwh["film"])


def told() -> str:
    """Both ways side by side; per cause also the difference as a share of the absorbed light."""
    live, year = live_kwh(), slow()
    absorbed = year.kwh["absorbed"]
    lines = [
        f"{year.traced} quarter hours, {year.rays} rays; kWh a year, differences as shares of absorbed light",
        f"{'':12s}{'live':>10s}{'slow':>10s}{'error':>7s}{'apart':>10s}{'slow, flat':>12s}{'apart':>10s}",
    ]
    for cause in CAUSES:
        curved, flat = year.kwh[cause], year.flat_kwh[cause]
        lines.append(
            f"{cause:12s}{live[cause]:10.1f}{curved:10.1f}{year.error_kwh[cause]:7.1f}"
            f"{(live[cause] - curved) / absorbed:+10.3%}{flat:12.1f}{(live[cause] - flat) / absorbed:+10.3%}"
        )
    for name, share in (("shade loss", shade_loss), ("intercept", intercept)):
        lines.append(
            f"{name:12s}live {share(live):.4f}, slow {share(year.kwh):.4f}, flat {share(year.flat_kwh):.4f}"
        )
    lines.append(f"frames would catch {year.blocked_kwh / absorbed:.3%} of the absorbed light on its way in")
    return "\n".join(lines)


def test_absorbed_light_of_the_year_agrees_within_one_per_cent(capsys: pytest.CaptureFixture[str]) -> None:
    """With apertures as flat rectangles, as the live way has them, and with the mirrors' own curved form."""
    with capsys.disabled():
        print("\n" + told())
    year = slow()
    for kwh, error in ((year.kwh, year.error_kwh), (year.flat_kwh, year.flat_error_kwh)):
        assert error["absorbed"] < MOST_ERROR * kwh["absorbed"]
        assert live_kwh()["absorbed"] == pytest.approx(kwh["absorbed"], rel=0.01)


def test_the_curved_form_moves_the_year_by_little() -> None:
    """What a mirror's curved form differs from its flat aperture by, with the same rays: below half a per cent."""
    year = slow()
    assert year.kwh["absorbed"] == pytest.approx(year.flat_kwh["absorbed"], rel=0.005)
    assert year.kwh["absorbed"] != year.flat_kwh["absorbed"]


def test_the_sun_on_facing_mirrors_and_after_cosine_agrees() -> None:
    """An hour's light at its middle is not the mean over the hour: 0.3 % too much over a day of cosines."""
    assert live_kwh()["facing"] == pytest.approx(slow().facing_kwh, rel=1e-12)
    assert live_kwh()["on aperture"] == pytest.approx(slow().kwh["on aperture"], rel=0.005)


def test_shade_and_intercept_agree() -> None:
    """Each to half a per cent of the light that it is a share of."""
    assert shade_loss(live_kwh()) == pytest.approx(shade_loss(slow().kwh), abs=0.005)
    assert intercept(live_kwh()) == pytest.approx(intercept(slow().kwh), abs=0.005)


def test_every_cause_agrees_to_half_a_per_cent_of_the_light_after_cosine() -> None:
    most = 0.005 * slow().kwh["on aperture"]
    for cause in CAUSES:
        assert live_kwh()[cause] == pytest.approx(slow().kwh[cause], abs=most), cause
        assert live_kwh()[cause] == pytest.approx(slow().flat_kwh[cause], abs=most), cause


def test_the_slow_year_keeps_its_own_books() -> None:
    kwh = slow().kwh
    left = kwh["on aperture"] - sum(kwh[cause] for cause in CAUSES[1:-1])
    assert left == pytest.approx(kwh["absorbed"], rel=1e-9)


def test_quarter_hours_hold_all_light_of_the_weather_but_slivers() -> None:
    """Slivers: hours whose sunlit part holds the middle of no quarter."""
    quarters = quarters_of(small_example())
    assert quarters.dni.shape == (QUARTERS,)
    held = float(quarters.dni.sum()) * 0.25e-3
    whole = slow().facing_kwh / aperture_m2(small_example())
    assert held == pytest.approx(whole, rel=5e-4)
    assert held <= whole * (1 + 1e-12)


def test_the_comparison_can_fail() -> None:
    """The slow year of a field with three times the slope error stands well apart from the live one of the example."""
    document = small_example()
    rough = dataclasses.replace(
        document.design, mirror=dataclasses.replace(document.design.mirror, slope_error_mrad=15.0)
    )
    year = slow_year(dataclasses.replace(document, design=rough), pairs=120, rays_per_mirror=10, seed=SEED)
    apart = live_kwh()["absorbed"] - year.kwh["absorbed"]
    assert apart > 0.05 * live_kwh()["absorbed"] + 3 * year.error_kwh["absorbed"]
