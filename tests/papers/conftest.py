"""A material list of an invented field; prices are invented."""

import pytest

from studio.engine.parts.listing import PricedLine
from studio.papers.materials import MaterialPaper


@pytest.fixture
def paper() -> MaterialPaper:
    bars = PricedLine(
        "bar", "Round bar 10 mm", 588, "bars of 6 m", "1595 ribs and 1595 rods.", "mirror", 3.72
    )
    film = PricedLine("film", "Film, metallised polyester", 281.4, "m²", "10 strips a mirror.", "mirror")
    pipe = PricedLine("pipe", "Steel pipe DN 20", 196.25, "m", "5 lines.", "line", 14.9)
    drums = PricedLine("drums", "Drums given back", 2, "pieces", "200 l each.", "oil", -12.5)
    return MaterialPaper(
        title="Material list",
        site_name="Terrace plot",
        date="2026-11-25",
        currency="EUR",
        price_date="2026-03-12",
        blocks=(("Mirrors", (bars, film)), ("Lines", (pipe,)), ("Oil", (drums,))),
        notes=("Prices are invented.",),
    )
