"""Prices that are missing stay missing."""

import pytest

from studio.engine.parts.listing import PricedLine, Quantity, priced, total_of
from studio.errors import BadInputError

PIPE = Quantity(key="pipe", label="Pipe", quantity=40.5, unit="m", source="From the plan.", group="line")
DRIVE = Quantity(key="drive", label="Drive", quantity=2, unit="pieces", source="One a line.", group="line")


def test_missing_price_is_none_and_named() -> None:
    lines = priced([PIPE, DRIVE], {"pipe": 10.0, "drive": None})
    assert [line.sum for line in lines] == [405.0, None]
    assert total_of(lines) == (405.0, ("drive",))
    assert total_of(priced([PIPE, DRIVE], {})) == (0.0, ("pipe", "drive"))


def test_price_of_zero_is_a_price() -> None:
    lines = priced([DRIVE], {"drive": 0.0})
    assert lines[0].sum == 0.0
    assert total_of(lines).missing == ()


def test_a_priced_line_keeps_all_of_its_quantity() -> None:
    (line,) = priced([PIPE], {"pipe": 1.5})
    assert line == PricedLine("pipe", "Pipe", 40.5, "m", "From the plan.", "line", 1.5)


def test_no_number_is_refused() -> None:
    with pytest.raises(BadInputError, match="Pipe: a quantity of nan"):
        Quantity("pipe", "Pipe", float("nan"), "m", "", "line")
    with pytest.raises(BadInputError, match="Drive: a price of inf"):
        priced([DRIVE], {"drive": float("inf")})
