"""Records on a file's clock become hours on the site's: the sun at the middle of each hour is the record's."""

from dataclasses import dataclass
from math import isnan

import numpy as np
from numpy.typing import NDArray

from studio.engine.sky.sun import hour_suns
from studio.engine.sky.year import WeatherYear
from studio.errors import FaultyFileError
from studio.files.weather_records import Place, Records
from studio.text import _

Floats = NDArray[np.float64]

_MOST_DARK_SHARE = 0.01


@dataclass(frozen=True)
class Placed:
    """The year on the site's clock, the place with that clock, and what was moved, in sentences."""

    year: WeatherYear
    place: Place
    notes: tuple[str, ...]


def year_on_clock(records: Records, *, utc_offset_h: float | None, name: str) -> Placed:
    """The whole records of a year as means over the hours of the clock ``utc_offset_h``.

    Without one it is the clock of the file's site, else the whole hour nearest to longitude / 15. Where a record's
    sun does not stand at the middle of an hour, values are drawn straight between the records about it; sums stay.
    What that leaves in hours wholly before sunrise or after sunset is moved into the sunlit hour beside.
    Raises ``FaultyFileError`` where a good part of the direct sun falls into the night.
    """
    notes: tuple[str, ...] = ()
    if utc_offset_h is None:
        utc_offset_h = records.place.utc_offset_h
    if isnan(utc_offset_h):
        utc_offset_h = float(round(records.place.longitude_deg / 15.0))
        notes = (_("The file names no clock; UTC{offset:+g} h is taken.").format(offset=utc_offset_h),)
    place = records.place._replace(utc_offset_h=utc_offset_h)
    behind = records.zone_h - utc_offset_h
    dni = _hourly(records.dni, records.step_min, records.sun_at_h - behind)
    lit = _in_daylight(dni, place, name)
    dark_kwh = float(dni.sum() - lit.sum()) / 1000.0
    if dark_kwh > 0.05:
        notes = (
            *notes,
            _("Direct sun in the night left out: {dark:.1f} kWh/m2 a year.").format(dark=dark_kwh),
        )
    return Placed(
        WeatherYear(
            dni_w_m2=lit,
            air_c=_hourly(records.air, records.step_min, records.air_at_h - behind),
            wind_m_s=_hourly(records.wind, records.step_min, records.air_at_h - behind),
        ),
        place,
        notes,
    )


def _hourly(values: Floats, step_min: int, at_h: float) -> Floats:
    """Means over the hours of values that stand ``at_h`` after the begin of their slots, linear between them."""
    step_h = step_min / 60.0
    stands = np.arange(len(values)) * step_h + at_h
    middles = (np.arange(len(values)) + 0.5) * step_h
    fine = np.interp(middles, stands, values, period=8760.0)
    return np.asarray(fine.reshape(8760, -1).mean(axis=1), dtype=np.float64)


def _in_daylight(dni: Floats, place: Place, name: str) -> Floats:
    """The DNI with what stands in hours without sun moved into the sunlit hour next to them."""
    suns = hour_suns(
        latitude_deg=place.latitude_deg,
        longitude_deg=place.longitude_deg,
        altitude_m=place.altitude_m,
        utc_offset_h=place.utc_offset_h,
    )
    total = dni.sum()
    if total <= 0.0:
        raise FaultyFileError(_("{name} has no direct sun in the whole year.").format(name=name))
    lit = suns.sunlit_h > 0.0
    morning = ~lit & np.roll(lit, -1)
    evening = ~lit & ~morning & np.roll(lit, 1)
    moved = np.where(lit, dni, 0.0)
    moved += np.roll(np.where(morning, dni, 0.0), 1) + np.roll(np.where(evening, dni, 0.0), -1)
    dark_share = float(dni[~lit & ~morning & ~evening].sum() / total)
    if dark_share > _MOST_DARK_SHARE:
        raise FaultyFileError(
            _(
                "{name}: {share:.0%} of the direct sun falls into the night at {latitude:.2f}, {longitude:.2f} with "
                "the clock UTC{offset:+g} h; place or clock are wrong."
            ).format(
                name=name,
                share=dark_share,
                latitude=place.latitude_deg,
                longitude=place.longitude_deg,
                offset=place.utc_offset_h,
            )
        )
    return moved
