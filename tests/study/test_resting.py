"""At suns that bring hardly any light, receivers rest and gear of other lines is left out: a tested choice."""

import dataclasses
from pathlib import Path

import pytest

from studio.design.design import Document
from studio.files.site import open_site
from studio.study import optics
from studio.study.assess import Assessor

EXAMPLES = Path(__file__).parents[2] / "example_sites"
MOST_MOVE = 0.0002


def figures(document: Document) -> dict[str, float]:
    assessment = Assessor().assess(document, calendar=False)
    wanted = (
        "absorbed_kwh",
        "annual_heat_kwh",
        "working_hours_per_day",
        "winter_with_gear",
        "shade_loss_year",
    )
    return {key: value for key in wanted if (value := assessment.figures[key]) is not None}


@pytest.mark.parametrize("name", ["small_dryer", "workshop_plot", "close"])
def test_gear_of_others_at_the_darkest_suns_moves_the_year_by_less_than_a_fiftieth_of_a_per_cent(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], name: str
) -> None:
    document = open_site(EXAMPLES / f"{'small_dryer' if name == 'close' else name}.stillfield")
    if name == "close":  # lines as near as they can stand, where gear shades most
        lines = tuple(
            dataclasses.replace(line, y_m=4.0 + 2.0 * place)
            for place, line in enumerate(document.design.lines)
        )
        document = dataclasses.replace(document, design=dataclasses.replace(document.design, lines=lines))
    left_out = figures(document)
    monkeypatch.setattr(optics, "LEAST_LIGHT", 0.0)
    whole = figures(document)
    moves = {key: left_out[key] / whole[key] - 1.0 for key in whole}
    with capsys.disabled():
        print(f"\n{name}: " + ", ".join(f"{key} {move:+.4%}" for key, move in moves.items()))
    assert moves["absorbed_kwh"] != 0.0
    for key in ("absorbed_kwh", "annual_heat_kwh"):
        assert abs(moves[key]) < MOST_MOVE, key
    assert abs(moves["working_hours_per_day"]) < 0.001
    # light that no receiver would have taken is counted as missed by the window rather than shaded by gear
    assert abs(left_out["shade_loss_year"] - whole["shade_loss_year"]) < 0.001
    assert moves["winter_with_gear"] == pytest.approx(0.0, abs=1e-12)


def test_leaving_out_more_would_show(monkeypatch: pytest.MonkeyPatch) -> None:
    """The comparison can fail: with the darker third of the light at rest the year moves by more."""
    document = open_site(EXAMPLES / "small_dryer.stillfield")
    before = figures(document)["absorbed_kwh"]
    monkeypatch.setattr(optics, "LEAST_LIGHT", 0.3)
    assert abs(figures(document)["absorbed_kwh"] / before - 1.0) > MOST_MOVE
