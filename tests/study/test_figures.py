"""Every figure can be opened: what it comes from exists, and all figures are there."""

from dataclasses import fields, is_dataclass
from pathlib import Path

import pytest

from studio.design.design import Design, Document
from studio.design.field import Line
from studio.files.site import open_site
from studio.study.assess import Assessor
from studio.study.figures import FIGURE_LIST, FIGURES, Figure, shown, unit_of

EXAMPLE = Path(__file__).parents[2] / "example_sites" / "small_dryer.stillfield"


def _is_input(path: str) -> bool:
    part: object = Design()
    for name in path.split("."):
        if name == "lines":
            part = Line(id=1, x_m=0.0, y_m=0.0)
            continue
        if not is_dataclass(part) or name not in {field.name for field in fields(part)}:
            return False
        part = getattr(part, name)
    return True


@pytest.mark.parametrize("figure", FIGURE_LIST, ids=lambda figure: figure.key)
def test_what_a_figure_comes_from_exists(figure: Figure) -> None:
    steps = {step.key for step in Assessor().assess(Document()).staircase}
    for source in figure.comes_from:
        known = source in FIGURES or source.removeprefix("step:") in steps or _is_input(source)
        assert known, f"{figure.key} comes from {source}, which there is not"


def test_an_example_has_every_figure() -> None:
    document = open_site(EXAMPLE)
    figures = Assessor().assess(document).figures
    assert set(figures) == set(FIGURES)
    assert [key for key, value in figures.items() if value is None] == []


def test_a_shown_figure_has_the_screens_unit() -> None:
    heat = FIGURES["annual_heat_kwh"]
    assert (shown(heat, 94_123.0), unit_of(heat, "EUR")) == ("94.1", "MWh")
    shade = FIGURES["shade_loss_winter"]
    assert (shown(shade, 0.0473), unit_of(shade, "EUR")) == ("4.7", "%")
    assert shown(shade, -0.012, sign=True) == "−1.2"
    assert unit_of(FIGURES["capital_yearly"], "EUR") == "EUR a year"
    assert shown(heat, None) == "–"
