"""Searches on a real field: against brute force, at bounds, stopped, for cost, and what is refused."""

import dataclasses
import os
from functools import cache
from typing import Any

import pytest

from studio.design.design import Document
from studio.design.money import Prices
from studio.design.paths import field_at, known_fields, replaced
from studio.errors import BadInputError
from studio.files.examples import example_path
from studio.files.site import open_site
from studio.study.assess import Assessor
from studio.study.ranges import Range, range_of
from studio.study.search import Searched, search, told
from studio.study.watch import StoppedError

FULL = os.environ.get("STILLFIELD_FULL") == "1"
ASSESSOR = Assessor()
TILT = Range("mirror.tilt_deg", 25.0, 45.0)


@cache
def small(*, lines: int = 1) -> Document:
    """The small example, its first line alone unless said otherwise."""
    document = open_site(example_path("small_dryer"))
    return dataclasses.replace(
        document, design=dataclasses.replace(document.design, lines=document.design.lines[:lines])
    )


def figures(document: Document, **values: float) -> tuple[float, float]:
    """Heat and cost with some fields of the mirror set, as ``assess`` gives them."""
    design = document.design
    for name, value in values.items():
        design = replaced(design, f"mirror.{name}", value)
    found = ASSESSOR.assess(document, design, calendar=False).figures
    heat, cost = found["annual_heat_kwh"], found["heat_cost_per_kwh"]
    assert heat is not None
    assert cost is not None
    return heat, cost


def with_value(document: Document, path: str, value: Any) -> Document:
    return dataclasses.replace(document, design=replaced(document.design, path, value))


def test_tilt_is_that_of_a_brute_force_scan() -> None:
    document = small(lines=3 if FULL else 1)
    found = search(document, vary=[TILT], assessor=ASSESSOR)
    step = 0.5 if FULL else 2.5
    tilts = [25.0 + step * place for place in range(round(20.0 / step) + 1)]
    scan = {tilt: figures(document, tilt_deg=tilt)[0] for tilt in tilts}
    top = max(scan, key=lambda tilt: scan[tilt])
    (tilt,) = found.values
    assert abs(tilt.best - top) <= step
    assert found.heat_kwh is not None
    assert found.heat_kwh >= max(scan.values()) * (1 - 1e-5)
    assert found.heat_before_kwh == pytest.approx(figures(document)[0], rel=1e-12)
    assert found.converged
    assert (found.way, found.stopped, tilt.held, told(found)) == ("one number", False, "", ())
    print(f"tilt {tilt.best:.2f}, scan {top:.1f}: {found.heat_kwh:.0f} kWh, {found.assessed} designs")


def test_the_answer_s_figure_is_what_assess_gives() -> None:
    document = small()
    found = search(document, vary=[Range("mirror.tilt_deg", 34.0, 38.0)], budget=10)
    alone = Assessor().assess(document, found.design)
    # the optics table grows by what was asked before; its nodes are the same whatever the order
    assert found.heat_kwh == pytest.approx(alone.figures["annual_heat_kwh"], rel=1e-9)
    assert found.cost_per_kwh == pytest.approx(alone.figures["heat_cost_per_kwh"], rel=1e-9)
    assert field_at(found.design, "mirror.tilt_deg").value == found.values[0].best
    changed = [
        here.path
        for here, there in zip(known_fields(found.design), known_fields(document.design), strict=True)
        if here != there
    ]
    assert changed == ["mirror.tilt_deg"]


def test_a_bound_that_holds_it_back_is_told() -> None:
    found = search(small(), vary=[Range("mirror.tilt_deg", 40.0, 50.0)], assessor=ASSESSOR)
    assert (found.values[0].best, found.values[0].held) == (40.0, "low")
    assert told(found) == ("Mirror, tilt is held back by its lower bound of 40°.",)
    # the present 37 degrees lie outside the bounds and are better
    assert found.heat_kwh is not None
    assert found.heat_before_kwh is not None
    assert found.heat_kwh < found.heat_before_kwh


def test_a_field_that_changes_nothing_is_held_by_no_bound() -> None:
    found = search(small(), vary=[Range("money.years", 15, 17)], assessor=ASSESSOR)
    assert (found.values[0].best, found.values[0].held) == (15, "")
    assert found.heat_kwh == found.heat_before_kwh


def test_least_cost_is_where_separate_assessments_have_it() -> None:
    """With dear rods cost asks for fewer ribs than heat does."""
    document = with_value(small(), "prices.rod_bar", 60.0)
    range_ = Range("mirror.ribs", 9, 13)
    found = search(document, vary=[range_], aim="heat_cost_per_kwh", assessor=ASSESSOR)
    costs = {ribs: figures(document, ribs=ribs)[1] for ribs in range(9, 14)}
    best = min(costs, key=lambda ribs: costs[ribs])
    assert 9 < best < 13
    assert found.values[0].best == best
    assert isinstance(found.values[0].best, int)
    assert isinstance(found.design.mirror.ribs, int)
    assert found.cost_per_kwh == costs[best]
    assert found.way == "every one"
    assert found.values[0].held == ""
    most = search(document, vary=[range_], assessor=ASSESSOR)
    assert (most.values[0].best, most.values[0].held) == (13, "high")


def test_two_numbers_beat_one() -> None:
    """The thickest back is best; a thicker pipe loses less and shades more, so its best lies inside."""
    document = small()
    back, pipe = Range("receiver.back_insulation_mm", 40.0, 60.0), Range("pipe.insulation_mm", 40.0, 60.0)
    one = search(document, vary=[back], budget=14, assessor=ASSESSOR)
    two = search(document, vary=[back, pipe], budget=60, assessor=ASSESSOR)
    assert two.way == "simplex"
    assert one.heat_kwh is not None
    assert two.heat_kwh is not None
    assert two.heat_kwh > one.heat_kwh
    (its_back, its_pipe) = two.values
    assert (its_back.best, its_back.held) == (60.0, "high")
    assert 40.0 < its_pipe.best < 60.0
    assert its_pipe.held == ""
    for mm in (its_pipe.best - 4.0, its_pipe.best + 4.0):
        design = replaced(two.design, "pipe.insulation_mm", mm)
        heat = ASSESSOR.assess(document, design, calendar=False).figures["annual_heat_kwh"]
        assert heat is not None
        assert heat < two.heat_kwh


def test_stopped_it_keeps_the_best_so_far() -> None:
    told_stages: list[str] = []

    def watch(stage: str, share: float) -> bool:
        assert 0.0 <= share <= 1.0
        told_stages.append(stage)
        return not stage.startswith("6 designs")

    found = search(small(), vary=[TILT], watch=watch, assessor=ASSESSOR)
    assert (found.stopped, found.converged, found.assessed) == (True, False, 6)
    assert found.heat_kwh is not None
    assert found.heat_before_kwh is not None
    assert found.heat_kwh >= found.heat_before_kwh
    assert told(found)[-1] == "The search was stopped; this is the best it had found."
    assert any("best" in stage and "MWh" in stage for stage in told_stages)


def test_stopped_at_once_there_is_nothing_to_tell() -> None:
    with pytest.raises(StoppedError):
        search(small(), vary=[TILT], watch=lambda stage, share: False, assessor=ASSESSOR)


def test_a_budget_is_kept_and_told() -> None:
    found = search(
        small(), vary=[TILT, Range("receiver.back_insulation_mm", 30.0, 60.0)], budget=10, assessor=ASSESSOR
    )
    assert found.assessed <= 10
    assert not found.converged
    assert "before it came to its end" in told(found)[-1]


def test_what_must_not_be_built_is_passed_over() -> None:
    """Nearer mirrors need less pipe until no swing frame has room between them."""
    document = small()
    room = document.design.mirror.width_m + document.design.motion.frame_room_m
    found = search(
        document, vary=[Range("lines.1.spacing_m", room - 0.1, room + 0.1)], budget=30, assessor=ASSESSOR
    )
    assert found.passed_over > 0
    assert "no room for a swing frame" in found.why_passed_over
    best = found.values[0].best
    assert room - 0.03 < best < room + 0.02
    assert not ASSESSOR.assess(document, found.design, calendar=False).forbids
    nearer = with_value(document, "lines.1.spacing_m", best - 0.02)
    assert ASSESSOR.assess(nearer, calendar=False).forbids
    assert any("passed over" in sentence for sentence in told(found))


def refused(document: Document, *vary: Range, **more: Any) -> str:
    with pytest.raises(BadInputError) as caught:
        search(document, vary=vary, assessor=ASSESSOR, **more)
    sentence = str(caught.value)
    assert "\n" not in sentence
    assert sentence.endswith(".")
    return sentence


@pytest.mark.parametrize(
    ("path", "low", "high", "said"),
    [
        ("mirror.tilt_deg", 45.0, 30.0, "bounds from 45 to 30 hold nothing"),
        ("mirror.tilt_deg", 30.0, 30.0, "hold nothing"),
        ("mirror.tilt_deg", float("nan"), 30.0, "hold nothing"),
        ("mirror.tilt_deg", 30.0, float("inf"), "hold nothing"),
        ("mirror.tilt_deg", -10.0, 30.0, "go beyond 0 to 85"),
        ("mirror.ribs", 7.5, 12.0, "whole numbers would be right"),
        ("mirror.surface", 0.0, 1.0, "is no number"),
        ("mirror.rips", 7.0, 12.0, "near it are mirror.ribs"),
        ("mirror", 7.0, 12.0, "is a group of fields"),
        ("lines.99.count", 4.0, 9.0, "There is no Line 99"),
    ],
)
def test_nonsense_bounds_are_refused(path: str, low: float, high: float, said: str) -> None:
    assert said in refused(small(), Range(path, low, high))


def test_questions_that_cannot_be_asked() -> None:
    document = small()
    assert "Nothing is varied" in refused(document)
    assert "is varied twice" in refused(document, TILT, TILT)
    assert "10 or more" in refused(document, TILT, budget=3)
    assert "There is no aim warmth" in refused(document, TILT, aim="warmth")
    assert "no line" in refused(small(lines=0), TILT)
    unpriced = with_value(document, "prices", Prices())
    assert "No price is known" in refused(unpriced, TILT, aim="heat_cost_per_kwh")
    many = [Range(f"site.weather.dni_kwh_m2_day.{month}", 1.0, 2.0) for month in range(1, 10)]
    assert "at most 8" in refused(document, *many)


def test_ranges_are_read_as_they_are_typed() -> None:
    design = small().design
    assert range_of(design, "mirror.tilt_deg=20..50") == Range("mirror.tilt_deg", 20.0, 50.0)
    assert range_of(design, "mirror.width_m = 900 mm .. 1,4 m") == Range("mirror.width_m", 0.9, 1.4)
    assert range_of(design, "motion.roll_from_deg=-40..-.5") == Range("motion.roll_from_deg", -40.0, -0.5)
    for text in (
        "mirror.tilt_deg",
        "mirror.tilt_deg=20",
        "mirror.tilt_deg=20-50",
        "=1..2",
        "mirror.tilt_deg=a..b",
    ):
        with pytest.raises(BadInputError):
            range_of(design, text)


def test_missing_prices_are_named_beside_a_cost() -> None:
    document = with_value(small(), "prices.rod_bar", None)
    found: Searched = search(
        document, vary=[Range("mirror.ribs", 10, 12)], aim="heat_cost_per_kwh", assessor=ASSESSOR
    )
    assert any("rib rod" in name for name in found.missing_prices)
    assert told(found)[-1].startswith("The heat cost leaves out what has no price: rib rod")
