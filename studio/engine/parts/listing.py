"""The shopping list: quantities with where each comes from, prices, and a sum that says what it lacks."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import isfinite
from typing import NamedTuple

from studio.errors import BadInputError
from studio.text import _


@dataclass(frozen=True)
class Quantity:
    """So much of one thing to buy.

    ``key`` finds its price in the catalogue; ``label``, ``unit`` and ``source`` are read by a person; ``source`` is
    one sentence with the numbers that the quantity comes from; ``group`` is mirror, line, header, oil, store ...
    Raises BadInputError for a quantity that is no number.
    """

    key: str
    label: str
    quantity: float
    unit: str
    source: str
    group: str

    def __post_init__(self) -> None:
        if not isfinite(self.quantity):
            raise BadInputError(
                _("{label}: a quantity of {value} cannot be bought; it must be a number").format(
                    label=self.label, value=self.quantity
                )
            )


@dataclass(frozen=True)
class PricedLine(Quantity):
    """A quantity with its unit price in the list's currency; a missing price is None, never zero."""

    unit_price: float | None = None

    def __post_init__(self) -> None:
        super().__post_init__()
        if self.unit_price is not None and not isfinite(self.unit_price):
            raise BadInputError(
                _("{label}: a price of {value} cannot be; leave it empty where it is not known").format(
                    label=self.label, value=self.unit_price
                )
            )

    @property
    def sum(self) -> float | None:
        """Quantity times unit price; None where the price is missing."""
        return None if self.unit_price is None else self.quantity * self.unit_price


class Total(NamedTuple):
    """Sum of the known prices, and the keys of the lines whose price is missing."""

    known: float
    missing: tuple[str, ...]


def priced(quantities: Iterable[Quantity], prices: Mapping[str, float | None]) -> tuple[PricedLine, ...]:
    """Each quantity with its unit price from ``prices`` by key; a key that is not there is a missing price."""
    return tuple(
        PricedLine(
            key=q.key,
            label=q.label,
            quantity=q.quantity,
            unit=q.unit,
            source=q.source,
            group=q.group,
            unit_price=prices.get(q.key),
        )
        for q in quantities
    )


def total_of(lines: Iterable[PricedLine]) -> Total:
    """Sum of what has a price, with the keys of what has none: the sum is whole only where none is missing."""
    known = 0.0
    missing: list[str] = []
    for line in lines:
        if line.sum is None:
            missing.append(line.key)
        else:
            known += line.sum
    return Total(known, tuple(missing))
