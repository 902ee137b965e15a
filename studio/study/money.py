"""Stage: what a kWh of outlet heat costs."""

from studio.design.design import Design
from studio.engine.money.cost import HeatCost, heat_cost
from studio.study.heat import FieldHeat
from studio.study.parts import Shopping


def cost_of(design: Design, shopping: Shopping, heat: FieldHeat) -> HeatCost:
    """The heat's cost from the known prices; what is missing is told beside it, never counted as zero in silence."""
    money = design.money
    return heat_cost(
        capital=shopping.capital,
        rate=money.interest,
        years=money.years,
        film_price_per_renewal=shopping.film_renewal_cost,
        renewal_months=money.film_months,
        upkeep_share=money.upkeep_share,
        pump_kwh=heat.pump_kwh,
        electricity_price=money.electricity_per_kwh,
        other_yearly=money.other_yearly,
        annual_heat_kwh=heat.year.outlet_kwh,
    )
