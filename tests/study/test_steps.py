"""Steps of the tables are tested choices: halving them moves the year's absorbed light by less than 0.2 %."""

import dataclasses
from collections.abc import Mapping
from functools import cache, partial
from pathlib import Path
from typing import Any

import pytest

from studio.design.design import Document
from studio.engine.motion.table import STEP_DEG, optics_table
from studio.files.site import open_site
from studio.study import optics, sky
from studio.study.assess import Assessor
from studio.study.nodes import HALF_DAY_STEPS, SEASON_STEPS, sun_nodes

EXAMPLES = Path(__file__).parents[2] / "example_sites"
MOST_MOVE = 0.002
FOLLOWING: Mapping[str, Any] = {}


@cache
def example(name: str) -> Document:
    return open_site(EXAMPLES / f"{name}.stillfield")


def with_motion(document: Document, motion: Mapping[str, Any]) -> Document:
    changed = dataclasses.replace(document.design.motion, **motion)
    return dataclasses.replace(document, design=dataclasses.replace(document.design, motion=changed))


def facing_east_west(document: Document) -> Document:
    """The example's lines turned to run from south to north, with the roll that follows the hours of such lines."""
    turned = tuple(
        dataclasses.replace(line, azimuth_deg=0.0, x_m=6.0 + 3.3 * place, y_m=1.5)
        for place, line in enumerate(document.design.lines)
    )
    document = dataclasses.replace(document, design=dataclasses.replace(document.design, lines=turned))
    return with_motion(document, {"roll_from_deg": -50.0, "roll_to_deg": 50.0})


def absorbed_kwh(document: Document) -> float:
    value = Assessor().assess(document, calendar=False).figures["absorbed_kwh"]
    assert value is not None
    return value


@pytest.mark.parametrize(
    "motion",
    [FOLLOWING, {"roll": "held"}, {"roll": "held", "hold_days": 30}],
    ids=["follow", "week", "month"],
)
def test_half_the_step_of_the_optics_table(
    monkeypatch: pytest.MonkeyPatch, motion: Mapping[str, Any]
) -> None:
    document = with_motion(example("small_dryer"), motion)
    before = absorbed_kwh(document)
    monkeypatch.setattr(optics, "optics_table", partial(optics_table, step_deg=STEP_DEG / 2))
    after = absorbed_kwh(document)
    assert after != before
    assert after == pytest.approx(before, rel=MOST_MOVE)


def test_half_the_step_of_the_optics_table_on_lines_from_south_to_north(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    document = facing_east_west(example("small_dryer"))
    before = absorbed_kwh(document)
    monkeypatch.setattr(optics, "optics_table", partial(optics_table, step_deg=STEP_DEG / 2))
    assert absorbed_kwh(document) == pytest.approx(before, rel=MOST_MOVE)


@pytest.mark.parametrize("name", ["small_dryer", "workshop_plot"])
def test_half_the_steps_of_the_shade_table(monkeypatch: pytest.MonkeyPatch, name: str) -> None:
    document = example(name)
    before = absorbed_kwh(document)
    finer = partial(
        sun_nodes,
        season_steps=2 * SEASON_STEPS,
        half_day_steps=2 * HALF_DAY_STEPS,
    )
    monkeypatch.setattr(sky, "sun_nodes", finer)
    after = absorbed_kwh(document)
    assert after != before
    assert after == pytest.approx(before, rel=MOST_MOVE)


def test_coarse_steps_move_the_year(monkeypatch: pytest.MonkeyPatch) -> None:
    """The comparison can fail: four times the step of the optics moves the year by more than that."""
    document = example("small_dryer")
    before = absorbed_kwh(document)
    monkeypatch.setattr(optics, "optics_table", partial(optics_table, step_deg=4 * STEP_DEG))
    assert absorbed_kwh(document) != pytest.approx(before, rel=MOST_MOVE)
