"""Every figure of an assessment, declared once.

The tally, the explanation behind a click, ``--json``, tables and papers all read this list.
"""

from dataclasses import dataclass
from typing import Literal

from studio.design.fields import mark
from studio.text import _, number, percent

Better = Literal["more", "less", ""]


@dataclass(frozen=True)
class Figure:
    """One figure: what it is called, its unit where it leaves the program, and where it comes from.

    ``comes_from`` names other figures (``annual_heat_kwh``), steps of the staircase (``step:cosine``) and inputs
    (``mirror.ribs``). ``how`` is the rule in words. ``better`` says which way a change is good; empty: neither.
    ``shown_per`` and ``shown_unit`` are for the screen: 94 000 kWh reads 94.0 MWh.
    """

    key: str
    label: str
    unit: str
    means: str
    how: str
    comes_from: tuple[str, ...] = ()
    digits: int | None = None
    better: Better = ""
    shown_per: float = 1.0
    shown_unit: str = ""
    share: bool = False


FIGURE_LIST: tuple[Figure, ...] = (
    Figure(
        "heat_cost_per_kwh", mark("heat cost"), mark("currency/kWh"),
        mark("Levelised cost of a kWh of outlet heat"),
        mark("(capital × capital recovery factor + yearly cost) / outlet heat"),
        ("capital_cost", "capital_yearly", "film_yearly", "upkeep_yearly", "pump_yearly", "other_yearly", "annual_heat_kwh"),
        better="less", shown_per=0.01, shown_unit="ct/kWh",
    ),
    Figure(
        "annual_heat_kwh", mark("outlet heat"), "kWh",
        mark("Heat carried past the field's outlet in a year"),
        mark("Hour by hour: oil flow × (enthalpy out − enthalpy in), summed over lines, less what the header loses"),
        ("absorbed_kwh", "step:receiver", "step:line_pipe", "step:header", "step:idle", "oil.inlet_c", "oil.outlet_c"),
        better="more", shown_per=1000.0, shown_unit="MWh",
    ),
    Figure(
        "heat_per_mirror_kwh", mark("outlet heat a mirror"), "kWh",
        mark("Heat carried past the field's outlet in a year, shared by its mirrors"),
        mark("outlet heat / mirrors"), ("annual_heat_kwh", "mirrors"), better="more", digits=1,
    ),
    Figure(
        "shade_loss_winter", mark("winter shade"), "",
        mark("Mean shade of the line that loses most on the winter day, mirrors alone"),
        mark("Shaded share by other mirrors, mean over mirrors and the hours of the check, weighted with clear-sky DNI × cosine"),
        ("winter_largest", "winter_with_gear", "passing_pitch_m", "marks.winter_limit", "marks.winter_from_h", "marks.winter_to_h", "marks.winter_day"),
        digits=1, better="less", share=True,
    ),
    Figure(
        "winter_largest", mark("winter shade, largest"), "",
        mark("The worst mirror at the worst moment of the winter check, mirrors alone"),
        mark("Largest shaded share of any mirror at any moment of the check"),
        ("marks.winter_from_h", "marks.winter_to_h"), digits=1, better="less", share=True,
    ),
    Figure(
        "winter_with_gear", mark("winter shade with pipes"), "",
        mark("The same line's mean with the shade of receivers, pipes and frames"),
        mark("As winter shade, with receivers, pipes and frames casting too"),
        ("shade_loss_winter", "motion.pipe_aside_m", "receiver.depth_m"), digits=1, better="less", share=True,
    ),
    Figure(
        "passing_pitch_m", mark("pitch that passes"), "m",
        mark("Smallest mean pitch at which every line passes the winter check, all pitches scaled alike"),
        mark("Bisection on a scale for all pitches; a dash where none passes"),
        ("marks.winter_limit",), digits=2,
    ),
    Figure(
        "mean_pitch_m", mark("mean pitch"), "m", mark("Mean distance between neighbouring lines, square to them"),
        mark("From the lines as they stand"), (), digits=2,
    ),
    Figure("mirrors", mark("mirrors"), "", mark("How many mirrors stand in the field"), mark("Sum of the lines' counts, less the places left out"), ("lines.count", "lines.left_out"), digits=0),
    Figure(
        "aperture_m2", mark("aperture"), "m2", mark("The mirrors' openings as seen along their own axes"),
        mark("mirrors × width × height"), ("mirrors", "mirror.width_m", "mirror.height_m"),
    ),
    Figure("plot_area_m2", mark("plot area"), "m2", mark("Area inside the plot's boundary"), mark("From the boundary's corners"), ("plot.boundary",)),
    Figure(
        "land_use", mark("land use"), "", mark("Share of the plot that is mirror aperture"),
        mark("aperture / plot area"), ("aperture_m2", "plot_area_m2"), digits=1, share=True,
    ),
    Figure(
        "field_area_m2", mark("field area"), "m2", mark("Land that the field itself covers"),
        mark("Area of the convex hull of all mirrors as the plan shows them"), ("lines.count", "lines.spacing_m", "mean_pitch_m"),
    ),
    Figure(
        "ground_cover", mark("ground cover"), "", mark("Share of the field's own area that is mirror aperture (ground cover ratio)"),
        mark("aperture / field area"), ("aperture_m2", "field_area_m2"), digits=1, share=True,
    ),
    Figure(
        "pipe_length_m", mark("pipe"), "m", mark("Pipe to buy: lines and header together"),
        mark("Line pipes + header"), ("line_pipe_m", "header_length_m"),
    ),
    Figure(
        "line_pipe_m", mark("line pipe"), "m", mark("Sliding pipes of all lines, overhang for the stroke included"),
        mark("Sum over lines: spacing × (count − 1) + mirror width + stroke each way"), ("lines.spacing_m", "lines.count", "motion.stroke_m"),
    ),
    Figure(
        "header_length_m", mark("header"), "m", mark("Supply and return pipes from line ends to the store"),
        mark("Routes + the pieces from each line end and to the store"), ("header.hot", "header.cold", "store.x_m", "store.y_m"),
    ),
    Figure(
        "film_m2", mark("film"), "m2", mark("Film to buy, edges turned in and roll waste included"),
        mark("mirrors × strips × length cut from the roll × roll width / strips side by side"),
        ("mirrors", "mirror.ribs", "materials.turn_in_mm", "materials.roll_width_m"),
    ),
    Figure(
        "rod_length_m", mark("rods"), "m", mark("Length of all rods: ribs by arc length, spreaders, stands"),
        mark("mirrors × the lengths of one mirror's rods"), ("mirrors", "mirror.ribs", "mirror.height_m", "mirror.stands_at_m"),
    ),
    Figure(
        "rod_bars", mark("rods"), mark("bars"), mark("Stock bars to buy for all rods, cut with kerf"),
        mark("Cutting plan over stock lengths, rib rod and stand rod apart"), ("rod_length_m", "materials.bar_m", "materials.kerf_mm"), digits=0,
    ),
    Figure(
        "oil_litres", mark("oil"), "l", mark("Oil to buy: cold content of lines, header and receivers, with reserve"),
        mark("Pipe bores × lengths + receivers, × (1 + reserve)"), ("line_pipe_m", "header_length_m", "pipe.size", "header.size", "materials.oil_spare"),
    ),
    Figure(
        "facing_sun_kwh", mark("sun on facing mirrors"), "kWh",
        mark("What the mirrors would take if each faced the sun in every hour of the year"),
        mark("The year's DNI × aperture"), ("dni_kwh_m2", "aperture_m2"), shown_per=1000.0, shown_unit="MWh",
    ),
    Figure("dni_kwh_m2", mark("DNI of the year"), "kWh/m2", mark("Direct normal irradiance summed over the year"), mark("From the site's weather"), ("site.weather",), digits=0),
    Figure(
        "absorbed_kwh", mark("absorbed light"), "kWh", mark("Light that the absorbers take in a year"),
        mark("Sun on facing mirrors less cosine, shade, film, intercept (of the light that shade leaves, by where on the mirrors it falls), acceptance, absorptance"),
        ("facing_sun_kwh", "step:cosine", "step:horizon", "step:obstacles", "step:mirrors", "step:gear", "step:film", "step:intercept", "step:acceptance", "step:absorptance"),
        better="more", shown_per=1000.0, shown_unit="MWh",
    ),
    Figure(
        "shade_loss_year", mark("shade loss"), "", mark("Share of the light on the apertures, after cosine, that shade takes in a year"),
        mark("(horizon + obstacles + mirrors + receivers, pipes, frames) / (sun on facing mirrors − cosine)"),
        ("horizon_loss_year", "obstacle_loss_year", "step:mirrors", "step:gear", "step:cosine", "facing_sun_kwh"),
        digits=1, better="less", share=True,
    ),
    Figure(
        "horizon_loss_year", mark("loss to the horizon"), "", mark("Share of the light on the apertures, after cosine, that comes while the skyline hides the sun"),
        mark("horizon / (sun on facing mirrors − cosine); the sun's centre decides"), ("step:horizon", "step:cosine", "facing_sun_kwh"),
        digits=1, better="less", share=True,
    ),
    Figure(
        "obstacle_loss_year", mark("loss to obstacles"), "", mark("Share of the light on the apertures, after cosine, that walls, sheds, trees and poles take"),
        mark("obstacles / (sun on facing mirrors − cosine)"), ("step:obstacles", "step:cosine", "facing_sun_kwh", "marks.obstacle_limit"),
        digits=1, better="less", share=True,
    ),
    Figure(
        "optical_efficiency_year", mark("optical efficiency"), "", mark("Absorbed light over sun on facing mirrors, over the year"),
        mark("absorbed light / sun on facing mirrors"), ("absorbed_kwh", "facing_sun_kwh"), digits=1, better="more", share=True,
    ),
    Figure(
        "working_hours_per_day", mark("working hours"), mark("h a day"),
        mark("Mean over the year's days of the clear-sky time in which absorbed light per DNI is at least half of that day's maximum"),
        mark("From the year's optics and shade at a fine step under a clear sky"), ("mirror.facing_deg", "motion.stroke_m", "receiver.window_width_m"),
        digits=1, better="more",
    ),
    Figure(
        "stagnation_c", mark("stagnation"), "°C",
        mark("Absorber's temperature when no oil flows, at DNI 1000 W/m2, 25 °C, no wind, best absorbed light of the year"),
        mark("Absorbed light = radiation + convection + back loss"), ("stagnation_peak_c", "receiver.coating", "receiver.glass"), digits=0,
    ),
    Figure(
        "stagnation_peak_c", mark("stagnation at the peak"), "°C", mark("The same at the middle of the spot, where the flux is highest"),
        mark("Peak flux in place of the mean"), ("receiver.window_width_m",), digits=0,
    ),
    Figure(
        "peak_flux_kw_m2", mark("peak flux"), "kW/m2", mark("Strongest light anywhere on the window, at DNI 1000 W/m2 and the best sun of the year"),
        mark("Share of the reflected light on a probe of 1 cm side, the largest over the window"), ("slope_error_total_mrad", "mirror.ribs"),
    ),
    Figure(
        "slope_error_total_mrad", mark("slope error, whole"), "mrad", mark("What the light is reckoned with: workmanship, the ribs' bow under film and wind, wrinkles on a warm day"),
        mark("√(workmanship² + bow² + wrinkles²), per axis"),
        ("mirror.slope_error_mrad", "mirror.pull_along_n_m", "mirror.pull_across_n_m", "mirror.film_um", "mirror.wind_on_film_m_s", "mirror.rib_holds", "materials.rod_mm"),
        digits=2, better="less",
    ),
    Figure(
        "rib_bend_radius_m", mark("rib, bent to"), "m", mark("Radius to bend a straight rod to so that the middle rib's curve stays once it springs back"),
        mark("wanted curvature = bent curvature − moment / (E I), elastic to the yield stress and plastic beyond; at the rib's middle"),
        ("mirror.focal_m", "mirror.rib_yield_mpa", "materials.rod_mm"), digits=2,
    ),
    Figure(
        "film_stress_share", mark("film stress"), "", mark("Largest stress in the film over its yield: as pulled, in the cold, in the wind on the film"),
        mark("tension / thickness / yield stress"),
        ("mirror.pull_along_n_m", "mirror.pull_across_n_m", "mirror.film_um", "mirror.wind_on_film_m_s"), digits=1, better="less", share=True,
    ),
    Figure(
        "capital_cost", mark("money to build"), mark("currency"), mark("Sum of the material list's known prices"),
        mark("Sum over the material list; missing prices are named, not counted"), ("materials", "prices"), better="less", digits=0,
    ),
    Figure("capital_yearly", mark("capital, yearly"), mark("currency a year"), mark("What the capital costs a year"), mark("capital × i(1+i)^n / ((1+i)^n − 1)"), ("capital_cost", "money.interest", "money.years"), digits=0, better="less"),
    Figure("film_yearly", mark("film renewal, yearly"), mark("currency a year"), mark("New film every so many months, discounted and spread evenly"), mark("Renewals at k, 2k … months, discounted, × capital recovery factor"), ("film_m2", "money.film_months", "prices.film_per_m2"), digits=0, better="less"),
    Figure("upkeep_yearly", mark("upkeep, yearly"), mark("currency a year"), mark("Share of the capital spent on upkeep"), mark("capital × upkeep"), ("capital_cost", "money.upkeep_share"), digits=0, better="less"),
    Figure("pump_yearly", mark("pump, yearly"), mark("currency a year"), mark("Electricity of the pump"), mark("pump power over the year × price"), ("money.electricity_per_kwh", "pipe.size"), digits=0, better="less"),
    Figure("other_yearly", mark("other, yearly"), mark("currency a year"), mark("Other yearly cost as given"), mark("As given"), ("money.other_yearly",), digits=0, better="less"),
    Figure("yearly_cost", mark("yearly cost"), mark("currency a year"), mark("Capital, film, upkeep, pump and other together"), mark("Their sum"), ("capital_yearly", "film_yearly", "upkeep_yearly", "pump_yearly", "other_yearly"), digits=0, better="less"),
    Figure("fuel_per_kwh", mark("your fuel"), mark("currency/kWh"), mark("Your own price of a kWh of heat from fuel"), mark("As given"), ("money.fuel_per_kwh",), shown_per=0.01, shown_unit="ct/kWh"),
    Figure(
        "dish_share", mark("against a following dish"), "", mark("Absorbed light of a square metre here over the DNI that a two-axis following dish of the same aperture faces, × the same film and absorber"),
        mark("(sun after cosine, shade, intercept, acceptance) / sun on facing mirrors"), ("facing_sun_kwh", "absorbed_kwh"), digits=1, share=True,
    ),
)  # fmt: skip

FIGURES: dict[str, Figure] = {figure.key: figure for figure in FIGURE_LIST}


def shown(figure: Figure, value: float | None, *, sign: bool = False) -> str:
    """A figure's value as a person reads it, without its unit."""
    if value is None:
        return number(None)
    if figure.share:
        text = percent(abs(value) if sign else value, digits=1 if figure.digits is None else figure.digits)
        return ("+" if value > 0 else "−") + text if sign and float(text.replace(",", "")) else text
    return number(value / figure.shown_per, digits=figure.digits, sign=sign)


def unit_of(figure: Figure, currency: str) -> str:
    """The unit beside a shown value; money is in the design's currency."""
    if figure.share:
        return "%"
    unit = figure.shown_unit or _(figure.unit)
    return unit.replace(_("currency"), currency)
