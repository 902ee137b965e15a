"""The compact form of a weather year that a site file keeps: some 25 kB."""

import zlib
from typing import Final

import numpy as np
from numpy.typing import NDArray

from studio.engine.sky.year import MOST_DNI_W_M2, WeatherYear
from studio.errors import BadInputError
from studio.text import _
from studio.units import HOURS_PER_YEAR

_HEAD: Final = b"stillfield weather 1\n"
_STEPS: Final = (0.1, 0.01, 0.01)
"""What one count of DNI (W/m2), air (K) and wind (m/s) stands for; weather files carry no finer."""
_LEAST: Final = (0.0, -60.0, 0.0)
_MOST: Final = (MOST_DNI_W_M2, 60.0, 60.0)
_BYTES: Final = 2 * 3 * HOURS_PER_YEAR
_MOST_PACKED: Final = 100_000


def quantised(year: WeatherYear) -> WeatherYear:
    """The year rounded to what is kept, so that the year that is assessed is the one that is kept."""
    return _year(_counts(year))


def pack_weather(year: WeatherYear) -> bytes:
    """The year as bytes: differences from hour to hour of 16-bit counts, compressed.

    The same year gives the same bytes with the same zlib. Raises ``BadInputError`` for values out of range.
    """
    counts = _counts(year)
    # differences wrap around at 16 bits and so does the sum that undoes them
    steps = np.diff(counts, prepend=np.int16(0), axis=1).astype("<i2")
    return _HEAD + zlib.compress(steps.tobytes(), 9)


def unpack_weather(packed: bytes) -> WeatherYear:
    """The year that ``pack_weather`` made bytes of. Raises ``BadInputError`` for anything else."""
    if len(packed) > _MOST_PACKED or not packed.startswith(_HEAD):
        raise BadInputError(_("The kept weather is not one that this version reads."))
    unpacking = zlib.decompressobj()
    try:
        raw = unpacking.decompress(packed[len(_HEAD) :], _BYTES + 1)
    except zlib.error as error:
        raise BadInputError(_("The kept weather is damaged; read the weather file again.")) from error
    if len(raw) != _BYTES or not unpacking.eof or unpacking.unused_data:
        raise BadInputError(_("The kept weather does not hold 8760 hours; read the weather file again."))
    steps = np.frombuffer(raw, dtype="<i2").reshape(3, HOURS_PER_YEAR)
    counts = np.cumsum(steps, axis=1, dtype=np.int16)
    year = _year(counts)
    _in_range(year)
    return year


def _counts(year: WeatherYear) -> NDArray[np.int16]:
    _in_range(year)
    rows = [year.dni_w_m2, year.air_c, year.wind_m_s]
    return np.stack([np.rint(row / step).astype(np.int16) for row, step in zip(rows, _STEPS, strict=True)])


def _year(counts: NDArray[np.int16]) -> WeatherYear:
    # dividing by a whole number gives the double nearest to the decimal, multiplying by 0.1 does not
    dni, air, wind = (row / round(1 / step) for row, step in zip(counts, _STEPS, strict=True))
    return WeatherYear(dni_w_m2=dni, air_c=air, wind_m_s=wind)


def _in_range(year: WeatherYear) -> None:
    names = (_("DNI"), _("air temperature"), _("wind"))
    rows = (year.dni_w_m2, year.air_c, year.wind_m_s)
    for name, row, least, most in zip(names, rows, _LEAST, _MOST, strict=True):
        if row.shape != (HOURS_PER_YEAR,) or not ((row >= least) & (row <= most)).all():
            raise BadInputError(
                _("The {name} of a weather year must be 8760 numbers from {least:g} to {most:g}.").format(
                    name=name, least=least, most=most
                )
            )
