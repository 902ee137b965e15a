"""How texts are set: units, signs, the ways of the wind."""

import pytest

from studio.edits.geometry import compass_word
from studio.text import pretty

HELD = "\N{NO-BREAK SPACE}"


def test_units_and_signs_stay_with_their_numbers() -> None:
    assert pretty("kW/m2, kg/m3") == "kW/m², kg/m³"
    assert pretty("± 6.2 mm at 9 mrad") == f"±{HELD}6.2{HELD}mm at 9 mrad"


@pytest.mark.parametrize(
    ("azimuth", "within", "word"),
    [(180.0, 0.5, "south"), (179.0, 0.5, "179°"), (179.0, 3.0, "south"), (359.0, 3.0, "north"), (176.0, 3.0, "176°"), (-1.0, 3.0, "north")],
)  # fmt: skip
def test_an_azimuth_is_a_wind_within_its_bound(azimuth: float, within: float, word: str) -> None:
    assert compass_word(azimuth, within_deg=within) == word
