"""A shelf of six invented mirrors, ranked; order and reasons are those of separate assessments."""

import dataclasses
import os
from collections.abc import Mapping
from functools import cache
from typing import Any

import pytest

from studio.design.design import Document
from studio.design.money import Prices
from studio.design.paths import replaced
from studio.edits.edit import admit
from studio.edits.fields import set_field
from studio.edits.registry import apply_edit
from studio.errors import BadInputError
from studio.files.examples import example_path
from studio.files.site import open_site
from studio.study.assess import Assessor
from studio.study.assessment import Assessment
from studio.study.light import LOSSES
from studio.study.ranking import LEAST_TOLD, Ranked, Ranking, losses_of, rank
from studio.study.sums import HEAT_LOSSES
from studio.study.watch import StoppedError

FULL = os.environ.get("STILLFIELD_FULL") == "1"
MIRRORS: Mapping[str, Mapping[str, Any]] = {
    "7 ribs": {"mirror.ribs": 7},
    "15 ribs": {"mirror.ribs": 15},
    "sphere": {"mirror.surface": "sphere"},
    "longer focus": {"mirror.focal_m": 1.6, "motion.arm_m": 1.52, "motion.stroke_m": 1.3},
    "bigger window": {"receiver.window_width_m": 0.26, "receiver.window_height_m": 0.23, "receiver.fins": 44},
    "circles, set weekly": {"mirror.surface": "circles", "motion.roll": "held", "motion.hold_days": 7},
}
"""Invented."""
ASSESSOR = Assessor()


def shelved(document: Document, mirrors: Mapping[str, Mapping[str, Any]]) -> Document:
    """The document with these mirrors on its shelf, put there as a hand would."""
    design = document.design
    for label, values in mirrors.items():
        other = design
        for path, value in values.items():
            other = admit(other, set_field(other, path=path, value=value)).design
        other = apply_edit(other, "put_on_shelf", {"label": label}).design
        design = dataclasses.replace(design, shelf=other.shelf)
    return dataclasses.replace(document, design=design)


@cache
def workshop() -> Document:
    """The workshop plot with six mirrors on the shelf; two of its lines unless in full."""
    document = open_site(example_path("workshop_plot"))
    document = dataclasses.replace(document, design=dataclasses.replace(document.design, shelf=()))
    lines = document.design.lines if FULL else document.design.lines[:2]
    document = dataclasses.replace(document, design=dataclasses.replace(document.design, lines=lines))
    return shelved(document, MIRRORS)


@cache
def ranking() -> Ranking:
    return rank(workshop(), assessor=ASSESSOR)


@cache
def separate() -> dict[str, Assessment]:
    """Each mirror's field put together by its values and not by the shelf, assessed."""
    found, assessor = {}, Assessor()
    for label, values in {"in the field": {}, **MIRRORS}.items():
        design = workshop().design
        for path, value in values.items():
            design = replaced(design, path, value)
        found[label] = assessor.assess(workshop(), design, calendar=False)
    return found


def by_label() -> dict[str, Ranked]:
    return {one.label: one for one in ranking().ranked}


def cost(assessment: Assessment) -> float:
    value = assessment.figures["heat_cost_per_kwh"]
    assert value is not None
    return value


def test_six_mirrors_stand_in_the_order_of_separate_assessments() -> None:
    order = sorted(separate(), key=lambda label: cost(separate()[label]))
    assert [one.label for one in ranking().ranked] == order
    assert len(order) == 7
    assert (ranking().by, ranking().missing_prices, ranking().currency) == ("heat_cost_per_kwh", (), "EUR")
    for label, assessment in separate().items():
        one = by_label()[label]
        assert one.heat_cost_per_kwh == pytest.approx(cost(assessment), rel=1e-9)
        assert one.annual_heat_kwh == pytest.approx(assessment.figures["annual_heat_kwh"], rel=1e-9)
        assert one.cannot == ""
    assert len({one.heat_cost_per_kwh for one in ranking().ranked}) == 7
    for one in ranking().ranked:
        print(one.label, one.intercept, one.annual_heat_kwh, one.cost_per_m2, one.heat_cost_per_kwh)


def test_places_say_where_on_the_shelf_it_stands() -> None:
    for place, label in enumerate(MIRRORS):
        assert by_label()[label].place == place
        assert by_label()[label].shelved == workshop().design.shelf[place]
    assert by_label()["in the field"].place is None
    assert by_label()["in the field"].reasons == ()


def test_intercept_is_light_into_windows_over_light_reflected() -> None:
    for label, assessment in separate().items():
        kwh = {step.key: abs(step.kwh) for step in assessment.staircase}
        into = kwh["absorbed"] + kwh["absorptance"] + kwh["acceptance"]
        assert by_label()[label].intercept == pytest.approx(into / (into + kwh["intercept"]), rel=1e-9)


def test_a_square_metre_counts_film_rods_fixings_and_labour() -> None:
    prices = workshop().design.prices
    for label, assessment in separate().items():
        bought = {line.key: line for block in assessment.materials for line in block.lines}
        money = sum(
            bought[key].quantity * price
            for key, price in (
                ("film_per_m2", prices.film_per_m2), ("rod_bar", prices.rod_bar), ("stand_bar", prices.stand_bar),
                ("fixings_per_mirror", prices.fixings_per_mirror), ("labour_per_mirror", prices.labour_per_mirror),
            )
            if price is not None
        )  # fmt: skip
        mirror = assessment.design.mirror
        aperture = sum(line.count for line in assessment.design.lines) * mirror.width_m * mirror.height_m
        one = by_label()[label]
        assert one.cost_per_m2 == pytest.approx(money / aperture, rel=1e-9)
        assert sum(value for _label, value in one.cost_parts) == pytest.approx(one.cost_per_m2, rel=1e-12)
    seven, fifteen = by_label()["7 ribs"].cost_per_m2, by_label()["15 ribs"].cost_per_m2
    assert seven is not None
    assert fifteen is not None
    assert seven < fifteen


def test_reasons_are_the_largest_differences_in_the_staircase() -> None:
    present = separate()["in the field"]
    facing = present.staircase[0].kwh
    before = {step.key: -step.kwh / facing for step in present.staircase}
    for label in MIRRORS:
        staircase = separate()[label].staircase
        here = {step.key: -step.kwh / staircase[0].kwh for step in staircase}
        apart = {key: abs(here[key] - before[key]) for key in (*LOSSES, *HEAT_LOSSES)}
        largest = [key for key in sorted(apart, key=lambda key: -apart[key])[:3] if apart[key] >= LEAST_TOLD]
        stairs = [reason for reason in by_label()[label].reasons if reason.key != "cost_per_m2"]
        assert [reason.key for reason in stairs] == largest, label
        assert stairs, label
        for reason in stairs:
            assert reason.value == pytest.approx(here[reason.key], rel=1e-9)
            assert reason.present == pytest.approx(before[reason.key], rel=1e-9)
            assert reason.sentence.startswith("less " if reason.value < reason.present else "more ")


def test_reasons_read_as_sentences() -> None:
    first = by_label()["7 ribs"].reasons[0]
    assert first.key == "intercept"
    assert (
        first.sentence
        == f"more intercept loss: {100 * first.value:.0f} % against {100 * first.present:.0f} %"
    )
    money = by_label()["7 ribs"].reasons[-1]
    assert money.key == "cost_per_m2"
    assert money.sentence.startswith("cheaper a m2: ")
    window = {reason.key: reason for reason in by_label()["bigger window"].reasons}
    assert window["intercept"].sentence.startswith("less intercept loss: ")
    assert window["receiver"].sentence.startswith("more receiver loss: ")


def test_losses_are_shares_of_the_sun() -> None:
    assessment = separate()["in the field"]
    kwh = {step.key: step.kwh for step in assessment.staircase}
    assert sum(losses_of(assessment).values()) == pytest.approx(1 - kwh["outlet"] / kwh["facing"], abs=1e-9)


@cache
def two_mirrors() -> Document:
    """One line of the small example; a mirror too wide for its line, and one that no rule lets through."""
    document = open_site(example_path("small_dryer"))
    document = dataclasses.replace(
        document, design=dataclasses.replace(document.design, lines=document.design.lines[:1])
    )
    return shelved(document, {"too wide": {"mirror.width_m": 1.6}, "as it is": {}})


def test_what_must_not_be_built_says_why() -> None:
    found = {one.label: one for one in rank(two_mirrors(), assessor=ASSESSOR).ranked}
    assert any("no room for a swing frame" in stop for stop in found["too wide"].stops)
    assert found["in the field"].stops == ()
    same = found["as it is"]
    assert (same.reasons, same.heat_cost_per_kwh) == ((), found["in the field"].heat_cost_per_kwh)


def test_what_cannot_be_computed_stands_last_with_its_reason() -> None:
    """Mirrors that lie along a line that runs up their slope: their receivers cannot roll about it."""
    design = two_mirrors().design
    line = dataclasses.replace(design.lines[0], azimuth_deg=0.0)
    steep = dataclasses.replace(
        design.shelf[1], label="steep", mirror=dataclasses.replace(design.mirror, tilt_deg=80.0)
    )
    document = dataclasses.replace(
        two_mirrors(), design=dataclasses.replace(design, lines=(line,), shelf=(steep,))
    )
    last = rank(document, assessor=ASSESSOR).ranked[-1]
    assert (last.label, last.heat_cost_per_kwh, last.intercept) == ("steep", None, None)
    assert "turn the line or lower the tilt" in last.cannot


def test_without_prices_heat_ranks() -> None:
    document = dataclasses.replace(
        two_mirrors(), design=dataclasses.replace(two_mirrors().design, prices=Prices())
    )
    found = rank(document, assessor=ASSESSOR)
    assert found.by == "annual_heat_kwh"
    heats = [one.annual_heat_kwh or 0.0 for one in found.ranked]
    assert heats == sorted(heats, reverse=True)
    assert all(one.cost_per_m2 is None and one.heat_cost_per_kwh is None for one in found.ranked)
    assert found.missing_prices


def test_it_stops_when_told_and_needs_a_line() -> None:
    seen: list[tuple[str, float]] = []

    def watch(stage: str, share: float) -> bool:
        seen.append((stage, share))
        return share < 0.4

    with pytest.raises(StoppedError):
        rank(two_mirrors(), watch=watch, assessor=ASSESSOR)
    assert seen[-1][0] == "too wide"
    bare = dataclasses.replace(two_mirrors(), design=dataclasses.replace(two_mirrors().design, lines=()))
    with pytest.raises(BadInputError, match="no line to put a mirror into"):
        rank(bare)
