"""Numbers as people type them. Lengths in other units by the international yard and pound agreement of 1959."""

import pytest

from studio.errors import BadInputError
from studio.numbers_in import read_number


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("12.5", "m", 12.5),
        ("12,5", "m", 12.5),
        (",5", "m", 0.5),
        ("12 ft", "m", 3.6576),
        ("250 mm", "m", 0.25),
        ('3/8"', "mm", 9.525),
        ("1 3/8 in", "mm", 34.925),
        ("5' 3\"", "m", 1.6002),
        ("5' 3 1/2\"", "m", 1.6129),
        ("3.2*4 + 0.5", "m", 13.3),
        ("4 × 3,2", "m", 12.8),
        ("(1 + 2) m", "m", 3.0),
        ("10 m / 4", "m", 2.5),
        ("2-1-1", "m", 0.0),
        ("1,234.5", "m", 1234.5),
        ("1.234,5", "m", 1234.5),
        ("1,234,567", "m", 1234567.0),
        ("0.125", "m", 0.125),
        ("90", "°", 90.0),
        ("−12.5°", "°", -12.5),
        ("20", "", 20.0),
        ("40 kWh", "kWh", 40.0),
        ("1 m", "mm", 1000.0),
    ],
)
def test_reads(text: str, unit: str, value: float) -> None:
    typed = read_number(text, unit)
    assert typed.value == pytest.approx(value, rel=1e-12)
    assert typed.doubt == ""


@pytest.mark.parametrize(("text", "value"), [("1,000", 1.0), ("1.000", 1.0), ("12.345", 12.345)])
def test_tells_its_doubt_where_a_sign_can_mean_two_things(text: str, value: float) -> None:
    typed = read_number(text, "m")
    assert typed.value == value
    assert text in typed.doubt
    assert text.replace(",", "").replace(".", "") in typed.doubt


@pytest.mark.parametrize(
    "text",
    ["", "   ", "abc", "12 kg", "1..2", "1,23,4.5", "3 m × 2 m", "1/0", "(1", "2 3", "4 / 2 m m", "(" * 60 + "1",
     "9" * 400, "12 m 3", "1;2", "--1"],
)  # fmt: skip
def test_refuses_with_one_sentence(text: str) -> None:
    with pytest.raises(BadInputError) as caught:
        read_number(text, "m")
    assert str(caught.value).endswith("would be right.")
