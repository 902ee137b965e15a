"""Heat cost: capital spread evenly over the life, and what each year costs, over the year's heat.

Formulas are those of engineering economics as printed with compound-interest factor tables: all sums are of today's
money, ``rate`` is the real rate of interest per year as a share, and payments fall at the end of their period. One
currency throughout.
"""

from dataclasses import dataclass
from math import ceil, exp, expm1, isfinite, log1p

from studio.errors import BadInputError
from studio.text import _

_MONTHS = 12
_ROUNDING = 1e-9


@dataclass(frozen=True)
class HeatCost:
    """Yearly cost by cause, in the currency per year, and the cost of a kWh of heat."""

    capital_yearly: float
    film_yearly: float
    upkeep_yearly: float
    pump_yearly: float
    other_yearly: float
    total_yearly: float
    per_kwh: float | None
    """None where there is no heat to carry the cost."""


def capital_recovery_factor(rate: float, years: float) -> float:
    """Share of a capital that pays it back with interest in equal yearly sums: i (1+i)^n / ((1+i)^n - 1).

    Written as i / (1 - exp(-n ln(1+i))), which stays exact for small i; its limit at i = 0 is 1/n. ``rate`` is a share
    per year above -1, ``years`` above 0. Raises BadInputError otherwise.
    """
    if not (isfinite(years) and years > 0):
        raise BadInputError(_("A life of {years} years cannot be; give more than 0").format(years=years))
    if not (isfinite(rate) and rate > -1):
        raise BadInputError(
            _("A rate of interest of {rate} a year cannot be; give a share such as 0.08").format(rate=rate)
        )
    if rate == 0:
        return 1 / years
    return rate / -expm1(-years * log1p(rate))


def renewal_times_years(*, renewal_months: float, years: float) -> tuple[float, ...]:
    """When film is renewed, in years from the start: k, 2k ... months, before the life ends.

    The film there at the start is not among them, and none is put on at the very end. Raises BadInputError for an
    interval under 1 month.
    """
    if not (isfinite(renewal_months) and renewal_months >= 1):
        raise BadInputError(
            _("Film renewed every {months} months cannot be; give 1 or more").format(months=renewal_months)
        )
    count = ceil(years * _MONTHS / renewal_months - _ROUNDING) - 1
    return tuple(n * renewal_months / _MONTHS for n in range(1, count + 1))


def film_renewal_yearly(
    *, price_per_renewal: float, renewal_months: float, rate: float, years: float
) -> float:
    """Even yearly cost of all renewals: their present worth, each over (1+i)^t, times the capital recovery factor."""
    factor = capital_recovery_factor(rate, years)
    growth = log1p(rate)
    times = renewal_times_years(renewal_months=renewal_months, years=years)
    return factor * sum(price_per_renewal * exp(-growth * time) for time in times)


def heat_cost(
    *,
    capital: float,
    rate: float,
    years: float,
    film_price_per_renewal: float,
    renewal_months: float,
    upkeep_share: float,
    pump_kwh: float,
    electricity_price: float,
    other_yearly: float,
    annual_heat_kwh: float,
) -> HeatCost:
    """Levelised cost of a kWh of heat: (capital x capital recovery factor + yearly cost) / yearly heat.

    ``capital`` holds the first film; ``film_price_per_renewal`` is one renewal of the whole field; ``upkeep_share`` is
    the part of the capital spent on upkeep each year; ``pump_kwh`` and ``annual_heat_kwh`` are kWh a year. The heat
    may be outlet heat or used heat: the cost is of the one given.

    Raises BadInputError as :func:`capital_recovery_factor` and :func:`renewal_times_years`.
    """
    capital_yearly = capital * capital_recovery_factor(rate, years)
    film_yearly = film_renewal_yearly(
        price_per_renewal=film_price_per_renewal, renewal_months=renewal_months, rate=rate, years=years
    )
    upkeep_yearly = capital * upkeep_share
    pump_yearly = pump_kwh * electricity_price
    total = capital_yearly + film_yearly + upkeep_yearly + pump_yearly + other_yearly
    return HeatCost(
        capital_yearly=capital_yearly,
        film_yearly=film_yearly,
        upkeep_yearly=upkeep_yearly,
        pump_yearly=pump_yearly,
        other_yearly=other_yearly,
        total_yearly=total,
        per_kwh=total / annual_heat_kwh if annual_heat_kwh > 0 else None,
    )
