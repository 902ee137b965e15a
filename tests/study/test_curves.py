"""Curves over one field: the figures of separate assessments, and what one step more or less brings."""

import dataclasses
from functools import cache

import pytest

from studio.design.design import Document
from studio.design.fields import Count, Quantity
from studio.design.paths import replaced
from studio.errors import BadInputError
from studio.files.examples import example_path
from studio.files.site import open_site
from studio.study.apart import AssessorApart
from studio.study.assess import Assessor
from studio.study.curves import curve, step_of, told
from studio.study.watch import StoppedError

ASSESSOR = Assessor()


@cache
def small() -> Document:
    """The first line of the small example."""
    document = open_site(example_path("small_dryer"))
    return dataclasses.replace(
        document, design=dataclasses.replace(document.design, lines=document.design.lines[:1])
    )


def heat_and_cost(path: str, value: float) -> tuple[float, float]:
    figures = ASSESSOR.assess(small(), replaced(small().design, path, value), calendar=False).figures
    heat, cost = figures["annual_heat_kwh"], figures["heat_cost_per_kwh"]
    assert heat is not None
    assert cost is not None
    return heat, cost


def test_each_rib_more_or_less() -> None:
    found = curve(small(), "mirror.ribs", [9, 11, 12], assessor=ASSESSOR)
    assert found.values == (9.0, 11.0, 12.0)
    for value, heat, cost in zip(found.values, found.annual_heat_kwh, found.heat_cost_per_kwh, strict=True):
        assert (heat, cost) == heat_and_cost("mirror.ribs", round(value))
    assert found.here == 11.0
    assert found.more is not None
    assert found.less is not None
    assert (found.more.value, found.less.value) == (12.0, 10.0)
    here, more, less = (heat_and_cost("mirror.ribs", ribs) for ribs in (11, 12, 10))
    assert found.more.heat_kwh == pytest.approx(more[0] - here[0], rel=1e-12)
    assert found.less.heat_kwh == pytest.approx(less[0] - here[0], rel=1e-12)
    assert found.more.cost_per_kwh == pytest.approx(more[1] - here[1], rel=1e-9)
    # flatter strips with every rib, each bringing less than the one before
    assert 0.0 < found.more.heat_kwh < -found.less.heat_kwh
    first, second = told(small(), found)
    kwh = (more[0] - here[0]) / 1000
    assert first.startswith(f"Mirror, ribs from 11 to 12: +{kwh:.3f} MWh a year, heat cost ")
    assert first.endswith(" ct/kWh.")
    assert second.startswith("Mirror, ribs from 11 to 10: −")
    print(first, second)


def test_each_centimetre_of_window() -> None:
    found = curve(small(), "receiver.window_height_m", [], assessor=ASSESSOR)
    assert found.values == ()
    assert found.more is not None
    assert found.less is not None
    assert found.more.value == pytest.approx(found.here + 0.01)
    assert found.less.value == pytest.approx(found.here - 0.01)
    assert found.more.heat_kwh == pytest.approx(
        heat_and_cost("receiver.window_height_m", found.more.value)[0]
        - heat_and_cost("receiver.window_height_m", found.here)[0]
    )
    assert "0.175 m to 0.185 m" in told(small(), found)[0]


def test_what_will_not_do_is_a_gap() -> None:
    """34 fins of 1.5 mm fill a window of 51 mm: below it there is no channel; a roll limit cannot pass the other one."""
    found = curve(small(), "receiver.window_height_m", [0.05, 0.175], assessor=ASSESSOR)
    assert found.annual_heat_kwh[0] is None
    assert found.heat_cost_per_kwh[0] is None
    assert found.annual_heat_kwh[1] is not None
    edge = dataclasses.replace(small(), design=replaced(small().design, "motion.anchor_share", 1.0))
    last = curve(edge, "motion.anchor_share", [], assessor=ASSESSOR)
    assert last.more is None
    assert last.less is not None
    assert len(told(edge, last)) == 1


def test_steps_are_a_hand_s() -> None:
    assert step_of(Count("ribs")) == 1.0
    assert step_of(Quantity("arm", "m", digits=3)) == 0.01
    assert step_of(Quantity("tilt", "°", digits=1)) == 1.0
    assert step_of(Quantity("slope error", "mrad", digits=1)) == 1.0
    assert step_of(Quantity("reflectance")) == pytest.approx(0.01)


@pytest.mark.parametrize(
    ("path", "values", "said"),
    [
        ("mirror.surface", [], "is no number"),
        ("mirror.focal_across_m", [1.0], "has no value of its own"),
        ("mirror.ribs", [9.5], "whole numbers"),
        ("mirror.rips", [9.0], "near it are mirror.ribs"),
    ],
)
def test_what_has_no_curve_is_told(path: str, values: list[float], said: str) -> None:
    with pytest.raises(BadInputError, match=said):
        curve(small(), path, values, assessor=ASSESSOR)


def test_it_stops_when_told_and_tells_how_far_it_is() -> None:
    shares: list[float] = []

    def watch(stage: str, share: float) -> bool:
        shares.append(share)
        return share < 0.5

    with pytest.raises(StoppedError):
        curve(small(), "mirror.ribs", [9, 10], watch=watch, assessor=ASSESSOR)
    assert shares == sorted(shares)
    assert shares[-1] >= 0.5


def test_an_assessor_in_a_process_of_its_own_gives_the_same() -> None:
    apart = curve(small(), "mirror.ribs", [], assessor=AssessorApart())
    assert apart.more is not None
    here = curve(small(), "mirror.ribs", [], assessor=ASSESSOR)
    assert here.more is not None
    assert apart.more.heat_kwh == pytest.approx(here.more.heat_kwh, rel=1e-9)
