"""Materials as they are bought, prices, money, and the marks the checks hold a design against."""

from typing import Annotated, ClassVar

from studio.design.fields import Count, Quantity, Text, document, mark


def _price(label: str, unit: str, help_text: str = "") -> Quantity:
    return Quantity(label, unit, help_text, low=0.0, high=1e9)


@document
class Materials:
    """How rods, film and pipe are bought and cut."""

    TITLE: ClassVar[str] = mark("Materials")

    rod_mm: Annotated[
        float,
        Quantity(
            mark("rib rod"), "mm", mark("Diameter of the ribs' round bar"), low=2.0, high=60.0, digits=0
        ),
    ] = 10.0
    stand_rod_mm: Annotated[
        float,
        Quantity(
            mark("stand rod"),
            "mm",
            mark("Diameter of the stand's and spreaders' bar"),
            low=2.0,
            high=80.0,
            digits=0,
        ),
    ] = 12.0
    bar_m: Annotated[
        float, Quantity(mark("stock bar"), "m", mark("Length the merchant sells"), low=0.5, high=24.0)
    ] = 6.0
    kerf_mm: Annotated[
        float, Quantity(mark("kerf"), "mm", mark("Lost at each saw cut"), low=0.0, high=20.0, digits=1)
    ] = 3.0
    roll_width_m: Annotated[
        float,
        Quantity(
            mark("film roll width"), "m", mark("Width of the roll strips are cut from"), low=0.05, high=10.0
        ),
    ] = 1.3
    turn_in_mm: Annotated[
        float,
        Quantity(
            mark("edge turn-in"),
            "mm",
            mark("Film folded round the rods at every edge"),
            low=0.0,
            high=200.0,
            digits=0,
        ),
    ] = 15.0
    oil_spare: Annotated[
        float,
        Quantity(
            mark("oil reserve"),
            "",
            mark("Share bought above the filling of circuit and vessel, for topping up"),
            low=0.0,
            high=2.0,
        ),
    ] = 0.05


@document
class Prices:
    """What things cost. A missing price stays missing; it is never zero."""

    TITLE: ClassVar[str] = mark("Prices")

    currency: Annotated[
        str, Text(mark("currency"), "", mark("As it is written beside a sum"), longest=12)
    ] = "EUR"
    date: Annotated[str, Text(mark("date of the prices"), "", mark("Year-month-day"), longest=10)] = (
        "2026-01-01"
    )
    origin: Annotated[str, Text(mark("origin"), "", mark("Where these prices come from"))] = ""
    film_per_m2: Annotated[float | None, _price(mark("film"), "per m2")] = None
    rod_bar: Annotated[float | None, _price(mark("rib rod"), mark("per bar"))] = None
    stand_bar: Annotated[float | None, _price(mark("stand rod"), mark("per bar"))] = None
    line_pipe_per_m: Annotated[float | None, _price(mark("line pipe"), "per m")] = None
    header_pipe_per_m: Annotated[float | None, _price(mark("header pipe"), "per m")] = None
    line_insulation_per_m: Annotated[float | None, _price(mark("line insulation in its jacket"), "per m")] = (
        None
    )
    header_insulation_per_m: Annotated[
        float | None, _price(mark("header insulation in its jacket"), "per m")
    ] = None
    receiver: Annotated[float | None, _price(mark("receiver"), mark("each"))] = None
    frame: Annotated[
        float | None, _price(mark("swing frame with its rollers and counterweight"), mark("each"))
    ] = None
    drive: Annotated[float | None, _price(mark("drive"), mark("each"))] = None
    flexible_end: Annotated[float | None, _price(mark("flexible end"), mark("each"))] = None
    support: Annotated[float | None, _price(mark("header support"), mark("each"))] = None
    oil_per_l: Annotated[float | None, _price(mark("oil"), "per l")] = None
    fixings_per_mirror: Annotated[
        float | None, _price(mark("fixings"), mark("per mirror"), mark("Clips, wire, anchors"))
    ] = None
    labour_per_mirror: Annotated[
        float | None, _price(mark("labour"), mark("per mirror"), mark("Building and setting up"))
    ] = None
    pump_and_vessel: Annotated[
        float | None, _price(mark("pump and expansion vessel"), mark("for the field"))
    ] = None
    store_and_connection: Annotated[
        float | None, _price(mark("store and connection"), mark("for the field"))
    ] = None


@document
class Money:
    """How capital turns into a yearly cost, and what it is set beside."""

    TITLE: ClassVar[str] = mark("Money")

    interest: Annotated[
        float,
        Quantity(mark("interest"), "", mark("A year, as a share: 0.06 is 6 %"), low=0.0, high=1.0, digits=3),
    ] = 0.06
    years: Annotated[
        int, Count(mark("years"), "", mark("Over which the field pays for itself"), low=1, high=60)
    ] = 15
    film_months: Annotated[
        int,
        Count(mark("film renewed every"), mark("months"), mark("Until the next new film"), low=1, high=600),
    ] = 18
    upkeep_share: Annotated[
        float,
        Quantity(mark("upkeep"), "", mark("A year, as a share of the capital"), low=0.0, high=1.0, digits=3),
    ] = 0.015
    other_yearly: Annotated[
        float,
        Quantity(
            mark("other yearly cost"),
            mark("a year"),
            mark("Rent, wages, insurance"),
            low=0.0,
            high=1e12,
            digits=0,
        ),
    ] = 0.0
    electricity_per_kwh: Annotated[
        float,
        Quantity(mark("electricity"), "per kWh", mark("For pump and drives"), low=0.0, high=1e6, digits=3),
    ] = 0.25
    fuel: Annotated[str, Text(mark("your fuel"), "", mark("What the heat would replace"), longest=60)] = (
        "fuel"
    )
    fuel_per_kwh: Annotated[
        float | None,
        _price(
            mark("your fuel's heat"),
            "per kWh",
            mark("Price of a kWh of heat from it, boiler losses included"),
        ),
    ] = None


@document
class Marks:
    """What the checks hold the design against."""

    TITLE: ClassVar[str] = mark("Marks of the checks")

    winter_limit: Annotated[
        float,
        Quantity(
            mark("winter shade passes up to"),
            "",
            mark("Mean shade of a line on the winter day, as a share"),
            low=0.0,
            high=1.0,
        ),
    ] = 0.05
    winter_day: Annotated[
        int,
        Count(
            mark("winter day"),
            "",
            mark("Day of the year; 0 takes the winter solstice of the site's hemisphere"),
            low=0,
            high=365,
        ),
    ] = 0
    winter_from_h: Annotated[
        float, Quantity(mark("winter check from"), mark("h solar"), mark("Solar time"), low=0.0, high=24.0)
    ] = 10.0
    winter_to_h: Annotated[
        float, Quantity(mark("winter check to"), mark("h solar"), mark("Solar time"), low=0.0, high=24.0)
    ] = 14.0
    obstacle_limit: Annotated[
        float,
        Quantity(
            mark("obstacles may take up to"),
            "",
            mark("Share of a line's light of the year, after cosine"),
            low=0.0,
            high=1.0,
        ),
    ] = 0.05
    ground_limit_percent: Annotated[
        float,
        Quantity(
            mark("ground may slope up to"),
            "%",
            mark("Under a line, along or across it"),
            low=0.0,
            high=100.0,
            digits=0,
        ),
    ] = 25.0
    post_limit_m: Annotated[
        float,
        Quantity(
            mark("posts may be up to"),
            "m",
            mark("From the ground to a mirror's vertex, where the line keeps its grade over uneven land"),
            low=0.0,
            high=20.0,
        ),
    ] = 2.5
    snow_m: Annotated[
        float,
        Quantity(
            mark("snow lies up to"),
            "m",
            mark("Above the ground; 0 where none is to be reckoned with"),
            low=0.0,
            high=10.0,
        ),
    ] = 0.0
    flood_level_m: Annotated[
        float | None,
        Quantity(
            mark("flood reaches"),
            "m",
            mark(
                "Height of the water above the land at the reference point; empty where none is to be reckoned with"
            ),
            low=-500.0,
            high=500.0,
        ),
    ] = None
