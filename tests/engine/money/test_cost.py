"""Cost of heat: against its own definition payment by payment, and where it must not break."""

from math import inf, nan

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.engine.money.cost import (
    HeatCost,
    capital_recovery_factor,
    film_renewal_yearly,
    heat_cost,
    renewal_times_years,
)
from studio.errors import BadInputError

rates = st.floats(-0.05, 0.3)
lives = st.integers(1, 60)


def cost(**changed: float) -> HeatCost:
    given_in = {
        "capital": 30_000.0,
        "rate": 0.08,
        "years": 20.0,
        "film_price_per_renewal": 1_500.0,
        "renewal_months": 24.0,
        "upkeep_share": 0.02,
        "pump_kwh": 400.0,
        "electricity_price": 0.25,
        "other_yearly": 150.0,
        "annual_heat_kwh": 94_000.0,
    } | changed
    return heat_cost(**given_in)


@given(rates, lives)
def test_even_payments_are_worth_the_capital(rate: float, years: int) -> None:
    payment = capital_recovery_factor(rate, years)
    assert sum(payment / (1 + rate) ** year for year in range(1, years + 1)) == pytest.approx(1, rel=1e-9)


def test_renewals_end_before_the_life_does() -> None:
    assert renewal_times_years(renewal_months=18, years=5) == (1.5, 3.0, 4.5)
    assert renewal_times_years(renewal_months=24, years=6) == (2.0, 4.0)
    assert renewal_times_years(renewal_months=240, years=20) == ()
    assert renewal_times_years(renewal_months=300, years=20) == ()
    assert len(renewal_times_years(renewal_months=1, years=25)) == 299


def test_renewals_without_interest_are_spread_evenly() -> None:
    assert film_renewal_yearly(price_per_renewal=100, renewal_months=24, rate=0, years=10) == pytest.approx(
        40
    )


def test_renewals_are_discounted_to_today() -> None:
    worth = 100 / 1.1**2 + 100 / 1.1**4
    assert film_renewal_yearly(price_per_renewal=100, renewal_months=24, rate=0.1, years=6) == pytest.approx(
        worth * capital_recovery_factor(0.1, 6)
    )


def test_film_every_year_costs_its_price_but_for_the_first() -> None:
    """First film in the capital and renewals together are an annuity paid at the start of each year."""
    rate, years, price = 0.07, 15, 80.0
    all_films = price * capital_recovery_factor(rate, years) + film_renewal_yearly(
        price_per_renewal=price, renewal_months=12, rate=rate, years=years
    )
    assert all_films == pytest.approx(price * (1 + rate) / (1 + rate) * _due(rate, years))


def _due(rate: float, years: int) -> float:
    """Yearly payment in arrears worth one payment at the start of each year."""
    return sum((1 + rate) ** -t for t in range(years)) / sum((1 + rate) ** -t for t in range(1, years + 1))


def test_cost_of_a_kwh_is_the_sum_of_its_causes() -> None:
    found = cost()
    parts = (
        found.capital_yearly,
        found.film_yearly,
        found.upkeep_yearly,
        found.pump_yearly,
        found.other_yearly,
    )
    assert found.total_yearly == pytest.approx(sum(parts))
    assert found.capital_yearly == pytest.approx(30_000 * 0.101852, rel=1e-5)
    assert (found.upkeep_yearly, found.pump_yearly, found.other_yearly) == (600.0, 100.0, 150.0)
    assert found.per_kwh == pytest.approx(found.total_yearly / 94_000)


def test_all_money_twice_as_dear_is_heat_twice_as_dear() -> None:
    once, twice = (
        cost(
            capital=30_000.0 * k,
            film_price_per_renewal=1_500.0 * k,
            electricity_price=0.25 * k,
            other_yearly=150.0 * k,
        ).per_kwh
        for k in (1, 2)
    )
    assert once is not None
    assert twice == pytest.approx(2 * once)


def test_without_heat_there_is_no_cost_of_a_kwh() -> None:
    assert cost(annual_heat_kwh=0.0).per_kwh is None
    assert cost(annual_heat_kwh=-1.0).per_kwh is None


@pytest.mark.parametrize("rate", [-1.0, -2.0, nan, inf])
def test_senseless_rate_is_refused(rate: float) -> None:
    with pytest.raises(BadInputError, match="rate of interest"):
        capital_recovery_factor(rate, 20)


@pytest.mark.parametrize("years", [0.0, -1.0, nan, inf])
def test_senseless_life_is_refused(years: float) -> None:
    with pytest.raises(BadInputError, match="life of"):
        capital_recovery_factor(0.08, years)


@pytest.mark.parametrize("months", [0.0, 0.5, -3.0, nan, inf])
def test_senseless_renewal_is_refused(months: float) -> None:
    with pytest.raises(BadInputError, match="renewed every"):
        renewal_times_years(renewal_months=months, years=20)
