"""The receiver: a box with a window, an absorber in its depth, and oil in finned channels behind the absorber.

Absorbed light less radiation, convection and back loss goes into the oil; the absorber is hotter than the oil by that
flux over film coefficient and fin area. Heat goes by W, temperatures by degC; arrays broadcast.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from studio.engine.heat import convection, flow
from studio.engine.heat.oil import OilTable
from studio.engine.heat.pipe import radiated_w_m2
from studio.engine.heat.solve import Numbers, temperature_where_zero
from studio.errors import BadInputError
from studio.text import _
from studio.units import GRAVITY


@dataclass(frozen=True)
class Coating:
    """An absorber's coating: solar absorptance, and emittance linear between two temperatures, held outside them."""

    key: str
    label: str
    absorptance: float
    emittance_cool: float
    cool_c: float
    emittance_hot: float
    hot_c: float
    source: str

    def emittance(self, temperature_c: ArrayLike) -> Numbers:
        """Hemispherical emittance at a temperature in degC."""
        share = (np.asarray(temperature_c, dtype=np.float64) - self.cool_c) / (self.hot_c - self.cool_c)
        return self.emittance_cool + np.clip(share, 0.0, 1.0) * (self.emittance_hot - self.emittance_cool)


BLACK_PAINT = Coating(
    key="black-paint",
    label="Black high-temperature paint",
    absorptance=0.966,
    emittance_cool=0.90,
    cool_c=20.0,
    emittance_hot=0.808,
    hot_c=650.0,
    source=(
        "Absorptance and emittance at 650 °C: Caron et al., Sol. Energy Mater. Sol. Cells (2022). Emittance when cool: "
        "upper end of 0.70 to 0.90 for silicone-bound paints, solar coating surveys of the 1970s."
    ),
)

SELECTIVE_COATING = Coating(
    key="selective",
    label="Selective coating",
    absorptance=0.945,
    emittance_cool=0.12,
    cool_c=100.0,
    emittance_hot=0.250,
    hot_c=650.0,
    source=(
        "Absorptance and emittance at 650 °C: Caron et al., Sol. Energy Mater. Sol. Cells (2022). Emittance at 100 °C "
        "from memory: to be looked up at the coating that is bought."
    ),
)

GLASS_EMITTANCE = 0.88
"""Window glass at heat-radiation wavelengths (Duffie & Beckman, Solar Engineering of Thermal Processes, ch. 6)."""


@dataclass(frozen=True)
class ReceiverBuild:
    """How a receiver is built.

    ``absorber_area_factor`` is absorber surface over window area: above 1 the box acts as a cavity. The oil flows once
    along the window's width through channels of height ``fin_height_mm`` between ``fins`` fins.
    ``facing_down_deg`` is how far the window's normal points below the horizontal. ``wind_share`` is the share of
    the free wind that reaches the absorber in its box: an assumption of ours, no source; 1 is an absorber in the open.
    """

    window_width_m: float = 0.20
    window_height_m: float = 0.175
    absorber_area_factor: float = 1.0
    box_depth_m: float = 0.10
    coating: Coating = SELECTIVE_COATING
    fins: int = 34
    fin_height_mm: float = 10.0
    fin_thickness_mm: float = 1.5
    fin_w_mk: float = 44.0
    back_insulation_mm: float = 50.0
    back_insulation_w_mk: float = 0.06
    cover: bool = False
    cover_transmittance: float = 0.91
    facing_down_deg: float = 55.0
    wind_share: float = 0.5

    def __post_init__(self) -> None:
        above_zero = {
            _("window width"): self.window_width_m,
            _("window height"): self.window_height_m,
            _("box depth"): self.box_depth_m,
            _("fin height"): self.fin_height_mm,
            _("fin thickness"): self.fin_thickness_mm,
            _("fin conductivity"): self.fin_w_mk,
            _("back insulation"): self.back_insulation_mm,
            _("back insulation conductivity"): self.back_insulation_w_mk,
        }
        for name, value in above_zero.items():
            if not value > 0:
                raise BadInputError(
                    _("Receiver: {name} is {value:g}; it must be above 0.").format(name=name, value=value)
                )
        if not self.absorber_area_factor >= 1:
            raise BadInputError(
                _("Receiver: the absorber cannot be smaller than the window; area factor from 1.")
            )
        if not 0 <= self.facing_down_deg <= 90 or not 0 <= self.wind_share <= 1:
            raise BadInputError(
                _("Receiver: it faces 0 to 90 degrees down, and its share of wind is 0 to 1.")
            )
        if self.fins < 0 or not self._channel_width_m > 0:
            raise BadInputError(
                _("Receiver: so many fins of that thickness leave no channel in the window height.")
            )

    @property
    def window_m2(self) -> float:
        """Area of the window."""
        return self.window_width_m * self.window_height_m

    @property
    def absorber_m2(self) -> float:
        """Area of the absorber's lit surface."""
        return self.window_m2 * self.absorber_area_factor

    @property
    def absorptance(self) -> float:
        """Share of the light on the window that the absorber takes up: glass, then coating, with the light that a
        cavity catches at its second chance, a / (a + (1 - a) Aw/Aa)."""
        share = float(_in_cavity(self.coating.absorptance, self.absorber_area_factor))
        return share * (self.cover_transmittance if self.cover else 1.0)

    # the oil's side

    @property
    def _channel_width_m(self) -> float:
        return (self.window_height_m - self.fins * self.fin_thickness_mm / 1000.0) / (self.fins + 1)

    @property
    def hydraulic_m(self) -> float:
        """Hydraulic diameter of a channel, four times its area over its perimeter."""
        height = self.fin_height_mm / 1000.0
        return 2.0 * self._channel_width_m * height / (self._channel_width_m + height)

    @property
    def channels_m2(self) -> float:
        """Flow area of all channels."""
        return (self.fins + 1) * self._channel_width_m * self.fin_height_mm / 1000.0

    def oil_content_m3(self) -> float:
        """Oil in the receiver's channels."""
        return self.channels_m2 * self.window_width_m

    def film_w_m2k(self, oil: OilTable, oil_c: ArrayLike, flow_kg_s: ArrayLike) -> Numbers:
        """Film coefficient in W/m2K of oil in the channels: the bore's correlations with the hydraulic diameter, the
        profile starting anew in every receiver (Hausen's entry)."""
        speed = np.asarray(flow_kg_s, dtype=np.float64) / self.channels_m2
        re = speed * self.hydraulic_m / oil.viscosity_pa_s(oil_c)
        nusselt = flow.nusselt_inside(
            re, oil.prandtl(oil_c), bore_over_length=self.hydraulic_m / self.window_width_m
        )
        return nusselt * oil.conductivity(oil_c) / self.hydraulic_m

    def pressure_loss_pa(self, oil: OilTable, oil_c: ArrayLike, flow_kg_s: ArrayLike) -> Numbers:
        """Friction pressure loss in Pa of the channels, without bends and branches."""
        density = oil.density(oil_c)
        speed = np.asarray(flow_kg_s, dtype=np.float64) / (density * self.channels_m2)
        re = density * speed * self.hydraulic_m / oil.viscosity_pa_s(oil_c)
        friction = flow.friction_factor(re, flow.STEEL_ROUGHNESS_MM / 1000.0 / self.hydraulic_m)
        return friction * self.window_width_m / self.hydraulic_m * density * speed**2 / 2.0

    def oil_conductance_w_k(self, film_w_m2k: ArrayLike) -> Numbers:
        """W per K between absorber and oil: film coefficient times bare wall and fins at their efficiency."""
        film = np.asarray(film_w_m2k, dtype=np.float64)
        height = self.fin_height_mm / 1000.0
        slope = np.sqrt(2.0 * film / (self.fin_w_mk * self.fin_thickness_mm / 1000.0))
        wall = (self.fins + 1) * self._channel_width_m * self.window_width_m
        sides = 2.0 * self.fins * height * self.window_width_m
        return film * (wall + sides * fin_efficiency(slope * height))

    def film_peak_c(self, oil_c: ArrayLike, peak_absorbed_w_m2: ArrayLike, film_w_m2k: ArrayLike) -> Numbers:
        """Oil temperature at the wall in degC where the absorbed flux peaks: no spread sideways and no loss, so it
        is the highest that can be."""
        through = self.oil_conductance_w_k(film_w_m2k) / self.window_m2
        return (
            np.asarray(oil_c, dtype=np.float64) + np.asarray(peak_absorbed_w_m2, dtype=np.float64) / through
        )

    # losses

    def radiation_w(self, absorber_c: ArrayLike, around_c: ArrayLike) -> Numbers:
        """W radiated through the window to surroundings at ``around_c``: the window is black to the box, the walls
        give back what they receive (Bergman section 13.3), so that e becomes e / (e + (1 - e) Aw/Aa)."""
        emittance = _in_cavity(self.coating.emittance(absorber_c), self.absorber_area_factor)
        return self.window_m2 * radiated_w_m2(absorber_c, around_c, emittance)

    def convection_w(self, absorber_c: ArrayLike, air_c: ArrayLike, wind_m_s: ArrayLike) -> Numbers:
        """W carried off through an open window.

        Free convection under an inclined hot plate: a vertical plate with gravity times the sine of its rise
        (Bergman section 9.6.2), not less than a plate facing straight down. The wind that reaches it along the
        plate; both together with power 3.
        """
        absorber, air_temperature, wind = (
            np.asarray(x, dtype=np.float64) for x in (absorber_c, air_c, wind_m_s)
        )
        air = convection.air_at((absorber + air_temperature) / 2.0)
        warmer = absorber - air_temperature
        rising = GRAVITY * np.cos(np.radians(self.facing_down_deg))
        height, width = self.window_height_m, self.window_width_m
        along = convection.nusselt_vertical_plate(
            convection.rayleigh(air, warmer_k=warmer, length_m=height, gravity=rising), air.prandtl
        )
        across = self.window_m2 / (2.0 * (height + width))
        under = convection.nusselt_hot_plate_facing_down(
            convection.rayleigh(air, warmer_k=warmer, length_m=across)
        )
        free = air.conductivity_w_mk * np.maximum(along / height, under / across)
        blown = convection.nusselt_plate_in_wind(
            wind * self.wind_share * height / air.viscosity_m2_s, air.prandtl
        )
        film = convection.free_and_forced(free, air.conductivity_w_mk * blown / height, power=3.0)
        return film * self.window_m2 * warmer

    def back_w(self, absorber_c: ArrayLike, air_c: ArrayLike) -> Numbers:
        """W through the insulation of back and sides, all at absorber temperature inside and air temperature outside:
        a little too much."""
        sides = 2.0 * (self.window_width_m + self.window_height_m) * self.box_depth_m
        conductance = (
            self.back_insulation_w_mk / (self.back_insulation_mm / 1000.0) * (self.absorber_m2 + sides)
        )
        return conductance * (np.asarray(absorber_c, dtype=np.float64) - np.asarray(air_c, dtype=np.float64))

    def loss_w(self, absorber_c: ArrayLike, air_c: ArrayLike, wind_m_s: ArrayLike) -> Numbers:
        """Heat in W that a receiver loses at a mean absorber temperature.

        The window looks down at mirror and ground, so its surroundings are at air temperature.
        """
        back = self.back_w(absorber_c, air_c)
        if self.cover:
            return back + self._covered_window_w(absorber_c, air_c, wind_m_s)
        return back + self.radiation_w(absorber_c, air_c) + self.convection_w(absorber_c, air_c, wind_m_s)

    def _covered_window_w(self, absorber_c: ArrayLike, air_c: ArrayLike, wind_m_s: ArrayLike) -> Numbers:
        """W through a glass cover, whose temperature balances absorber side and air side (Duffie & Beckman, section
        6.4: parallel grey plates and a closed gap; outside wind in full and radiation). What the glass absorbs of
        the light is left out."""
        absorber, air_temperature, wind = np.broadcast_arrays(
            *(np.asarray(x, dtype=np.float64) for x in (absorber_c, air_c, wind_m_s))
        )
        emittance = _in_cavity(self.coating.emittance(absorber), self.absorber_area_factor)
        between = 1.0 / (1.0 / emittance + 1.0 / GLASS_EMITTANCE - 1.0)

        def inward(glass: Numbers) -> Numbers:
            air = convection.air_at((absorber + glass) / 2.0)
            ra = convection.rayleigh(air, warmer_k=absorber - glass, length_m=self.box_depth_m)
            nusselt = convection.nusselt_gap(
                ra,
                air.prandtl,
                slenderness=self.window_height_m / self.box_depth_m,
                facing_down_deg=self.facing_down_deg,
            )
            film = nusselt * air.conductivity_w_mk / self.box_depth_m
            flux: Numbers = film * (absorber - glass) + radiated_w_m2(absorber, glass, between)
            return flux

        def outward(glass: Numbers) -> Numbers:
            air = convection.air_at((glass + air_temperature) / 2.0)
            height = self.window_height_m
            ra = convection.rayleigh(air, warmer_k=glass - air_temperature, length_m=height)
            free = convection.nusselt_vertical_plate(ra, air.prandtl)
            blown = convection.nusselt_plate_in_wind(wind * height / air.viscosity_m2_s, air.prandtl)
            film = convection.free_and_forced(free, blown, power=3.0) * air.conductivity_w_mk / height
            radiated = radiated_w_m2(glass, air_temperature, GLASS_EMITTANCE)
            flux: Numbers = film * (glass - air_temperature) + radiated
            return flux

        start = air_temperature + 0.4 * (absorber - air_temperature)
        glass = temperature_where_zero(
            lambda t: inward(t) - outward(t), start, what=_("temperature of the receiver's glass")
        )
        loss: Numbers = self.window_m2 * outward(glass)
        return loss

    # balances

    def absorber_c(
        self,
        absorbed_w: ArrayLike,
        oil_c: ArrayLike,
        air_c: ArrayLike,
        wind_m_s: ArrayLike,
        film_w_m2k: ArrayLike,
    ) -> Numbers:
        """Mean absorber temperature in degC at which light, loss and the oil's uptake balance."""
        conductance = self.oil_conductance_w_k(film_w_m2k)
        absorbed, oil, air, wind, conductance = np.broadcast_arrays(
            *(np.asarray(x, dtype=np.float64) for x in (absorbed_w, oil_c, air_c, wind_m_s, conductance))
        )

        def surplus(absorber: Numbers) -> Numbers:
            left: Numbers = absorbed - self.loss_w(absorber, air, wind) - conductance * (absorber - oil)
            return left

        return _balance(surplus, oil + 0.5 * absorbed / conductance)

    def useful_w(
        self,
        absorbed_w: ArrayLike,
        oil_c: ArrayLike,
        air_c: ArrayLike,
        wind_m_s: ArrayLike,
        film_w_m2k: ArrayLike,
    ) -> Numbers:
        """Heat in W that goes into oil at ``oil_c`` (below zero: the oil loses), for a film coefficient in W/m2K."""
        absorber = self.absorber_c(absorbed_w, oil_c, air_c, wind_m_s, film_w_m2k)
        into_oil: Numbers = self.oil_conductance_w_k(film_w_m2k) * (
            absorber - np.asarray(oil_c, dtype=np.float64)
        )
        return into_oil

    def stagnation_c(self, absorbed_w: ArrayLike, *, air_c: float = 25.0, wind_m_s: float = 0.0) -> Numbers:
        """Mean absorber temperature in degC with no oil flowing: absorbed light equals loss."""
        absorbed = np.asarray(absorbed_w, dtype=np.float64)
        return _balance(lambda t: absorbed - self.loss_w(t, air_c, wind_m_s), np.full(absorbed.shape, 400.0))

    def stagnation_peak_c(
        self, peak_absorbed_w_m2: ArrayLike, *, air_c: float = 25.0, wind_m_s: float = 0.0
    ) -> Numbers:
        """The same where the absorbed flux peaks, with no heat spreading sideways: the highest that can be."""
        peak = np.asarray(peak_absorbed_w_m2, dtype=np.float64)
        return self.stagnation_c(peak * self.window_m2, air_c=air_c, wind_m_s=wind_m_s)


def fin_efficiency(slope_times_height: ArrayLike) -> Numbers:
    """Efficiency tanh(mL)/(mL) of a straight fin with an adiabatic tip (Bergman eq. 3.89)."""
    ml = np.maximum(np.asarray(slope_times_height, dtype=np.float64), 1e-9)
    value: Numbers = np.tanh(ml) / ml
    return value


def _in_cavity(surface: ArrayLike, area_factor: float) -> Numbers:
    value = np.asarray(surface, dtype=np.float64)
    effective: Numbers = value / (value + (1.0 - value) / area_factor)
    return effective


def _balance(surplus: Callable[[Numbers], Numbers], start_c: Numbers) -> Numbers:
    return temperature_where_zero(surplus, start_c, what=_("temperature of the receiver's absorber"))
