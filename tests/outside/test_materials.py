"""Bars, bar and tube masses and capital recovery against published instances and tables."""

from collections.abc import Sequence
from typing import Protocol

import pytest

from studio.engine.money.cost import capital_recovery_factor
from studio.engine.parts.cutting import BarsNeeded, bars_exact, bars_needed
from studio.engine.parts.quantities import round_bar_kg_m, tube_kg_m

PAPER_MILL = (
    (1.380, 22), (1.520, 25), (1.560, 12), (1.710, 14), (1.820, 18), (1.880, 18), (1.930, 20),
    (2.000, 10), (2.050, 12), (2.100, 14), (2.140, 16), (2.150, 18), (2.200, 20),
)  # fmt: skip
TEXTBOOK = ((1.4, 211), (3.1, 395), (3.6, 610), (4.5, 97))


class Way(Protocol):
    def __call__(
        self, cuts: Sequence[tuple[float, int]], *, stock_m: float = 6.0, kerf_mm: float = 3.0
    ) -> BarsNeeded: ...


WORKSHOP = ((2.0, 7), (1.5, 6), (1.2, 5), (0.9, 9))


@pytest.mark.parametrize("cut", [bars_exact, bars_needed])
def test_classic_paper_mill_example_of_the_cutting_stock_literature_needs_73(cut: Way) -> None:
    """Widths 1380 to 2200 mm from rolls of 5600 mm, sum 407 160 mm; the best is 73 rolls, 0.401 % waste."""
    assert sum(round(1000 * width) * count for width, count in PAPER_MILL) == 407_160
    found = cut(PAPER_MILL, stock_m=5.6, kerf_mm=0)
    assert (found.bars, found.bound) == (73, 73)
    assert found.waste_m / (73 * 5.6) == pytest.approx(0.00401, abs=5e-6)


@pytest.mark.parametrize("cut", [bars_exact, bars_needed])
def test_textbook_instance_of_column_generation_needs_453(cut: Way) -> None:
    """Gilmore and Gomory's method taught on widths 14, 31, 36, 45 from rolls of 100 (here tenths of a metre).

    The linear programme's bound is 452.25; 453 is the exact integer programme's value.
    """
    found = cut(TEXTBOOK, stock_m=10.0, kerf_mm=0)
    assert (found.bars, found.bound) == (453, 453)


@pytest.mark.parametrize("kerf_mm", [0.0, 3.0])
@pytest.mark.parametrize("cut", [bars_exact, bars_needed])
def test_workshop_bars_need_seven_with_and_without_kerf(cut: Way, kerf_mm: float) -> None:
    """Bars of 6 m; value of an exact integer programme over all patterns (linear programme 6.183 and 6.3)."""
    assert cut(WORKSHOP, stock_m=6.0, kerf_mm=kerf_mm).bars == 7


@pytest.mark.parametrize(("kerf_mm", "bars"), [(0.0, 2), (3.0, 3)])
@pytest.mark.parametrize("cut", [bars_exact, bars_needed])
def test_pieces_that_just_fit_no_longer_do_with_a_kerf(cut: Way, kerf_mm: float, bars: int) -> None:
    """Six pieces of 2 m from bars of 6 m: two kerfs of 3 mm are lost in each bar."""
    assert cut(((2.0, 6),), stock_m=6.0, kerf_mm=kerf_mm).bars == bars


@pytest.mark.parametrize(
    ("diameter_mm", "kg_m"), [(6, 0.222), (8, 0.395), (10, 0.617), (12, 0.888), (16, 1.579), (20, 2.466)]
)
def test_round_bar_mass_of_bs_4449_2005(diameter_mm: float, kg_m: float) -> None:
    assert round_bar_kg_m(diameter_mm / 1000) == pytest.approx(kg_m, abs=0.001)


@pytest.mark.parametrize(
    ("outside_mm", "wall_mm", "kg_m"), [(33.4, 3.38, 2.502), (60.3, 3.91, 5.437), (33.7, 3.25, 2.441)]
)
def test_tube_mass_of_asme_b36_10m_and_en_10220(outside_mm: float, wall_mm: float, kg_m: float) -> None:
    assert tube_kg_m(outside_m=outside_mm / 1000, wall_m=wall_mm / 1000) == pytest.approx(kg_m, abs=0.001)


@pytest.mark.parametrize(("years", "factor"), [(5, 0.20150), (10, 0.10138), (20, 0.05132)])
def test_capital_recovery_at_a_quarter_per_cent_of_compound_interest_factor_tables(
    years: int, factor: float
) -> None:
    assert capital_recovery_factor(0.0025, years) == pytest.approx(factor, abs=5e-6)


@pytest.mark.parametrize(
    ("rate", "years", "factor"),
    [
        (0.05, 20, 0.080243),
        (0.08, 20, 0.101852),
        (0.10, 20, 0.117460),
        (0.12, 20, 0.133879),
        (0.10, 10, 0.162745),
        (0.08, 10, 0.149029),
        (0.08, 25, 0.093679),
    ],
)
def test_capital_recovery_of_the_printed_formula(rate: float, years: int, factor: float) -> None:
    """Values worked out apart from the code from i (1+i)^n / ((1+i)^n - 1)."""
    assert capital_recovery_factor(rate, years) == pytest.approx(factor, abs=1e-6)


def test_capital_recovery_without_interest_is_one_over_the_years() -> None:
    """The formula's limit; just beside it nothing jumps."""
    assert capital_recovery_factor(0.0, 20) == 1 / 20
    for rate in (1e-16, 1e-12, 1e-9, -1e-9):
        assert capital_recovery_factor(rate, 20) == pytest.approx((1 + 10.5 * rate) / 20, rel=1e-14)
