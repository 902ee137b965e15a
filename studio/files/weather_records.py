"""Rows of a weather file: what they hold, and how a cell or a time stamp is read."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import isfinite, nan
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from studio.engine.sky.calendar import DAYS_OF_MONTHS, day_of_year
from studio.errors import FaultyFileError
from studio.text import _

Floats = NDArray[np.float64]

MINUTES_PER_YEAR: Final = 8760 * 60
_MOST_CELLS = 200  # a hostile line of commas must not become millions of cells


class Place(NamedTuple):
    """Where a weather year belongs; ``utc_offset_h`` is its standard clock."""

    latitude_deg: float
    longitude_deg: float
    altitude_m: float
    utc_offset_h: float
    name: str


@dataclass(frozen=True)
class Records:
    """What a file holds, row by row, on the file's own clock.

    ``minute`` is the nominal year's minute that the record is labelled with, -1 on a leap day; rounded down to
    ``step_min`` it is the record's slot. Within the slot the sun of a record stands as it did ``sun_at_h`` after
    the slot's start, and air and wind are those of ``air_at_h`` after it.
    ``zone_h`` is the file's clock; ``place.utc_offset_h`` the site's (NaN where the file does not say).
    ``spot`` is the line (or record) number of each row, ``spot_word`` which of the two; ``garbled`` are rows whose
    time could not be read. NaN marks a cell that is empty or no number.
    """

    kind: str
    place: Place
    zone_h: float
    step_min: int
    sun_at_h: float
    air_at_h: float
    minute: NDArray[np.int64]
    dni: Floats
    air: Floats
    wind: Floats
    spot: NDArray[np.int64]
    spot_word: str
    garbled: tuple[int, ...] = ()
    notes: tuple[str, ...] = ()


def cells_of(line: str) -> list[str]:
    """The cells of a line that is separated by commas and quotes nothing."""
    return line.split(",", _MOST_CELLS)


def hour_ending(month: str, day: str, hour: str) -> int:
    """Minute at which the hour that ends at ``hour`` (1 to 24; 0 is the midnight before) began."""
    ending = int(hour)
    if not 0 <= ending <= 24:
        raise ValueError(hour)
    start = stamp(int(month), int(day), 0, 0)
    return start if start < 0 else (start + 60 * (ending - 1)) % MINUTES_PER_YEAR


def utc_stamp(text: str) -> int:
    """Minute of a PVGIS stamp such as 20180101:0100."""
    date, _colon, clock = text.strip().partition(":")
    if len(date) != 8 or len(clock) != 4 or clock[2:] != "00":
        raise ValueError(text)
    return stamp(int(date[4:6]), int(date[6:8]), int(clock[:2]), 0)


def stamp(month: int, day: int, hour: int, minute: int) -> int:
    """Minute of the nominal year; -1 on a leap day."""
    if (month, day) == (2, 29):
        return -1
    if not (
        1 <= month <= 12 and 1 <= day <= DAYS_OF_MONTHS[month - 1] and 0 <= hour < 24 and 0 <= minute < 60
    ):
        raise ValueError(month)
    return ((day_of_year(month, day) - 1) * 24 + hour) * 60 + minute


def degrees_minutes(text: str, negative: str) -> float:
    """Degrees of a text such as 'N 35  3'."""
    side, degrees, minutes = text.split()
    value = float(degrees) + float(minutes) / 60.0
    return -value if side == negative else value


def cell(cells: Sequence[str], index: int) -> float:
    return number(cells[index]) if index < len(cells) else nan


def number(text: str) -> float:
    """The number in a cell; NaN for an empty one or anything else."""
    try:
        value = float(text) if "_" not in text else nan
    except ValueError:
        return nan
    return value if isfinite(value) else nan


def place_of(
    latitude: str, longitude: str, altitude: str, utc_offset_h: float, place_name: str, name: str
) -> Place:
    place = Place(float(latitude), float(longitude), float(altitude), utc_offset_h, place_name.strip(' "'))
    inside = abs(place.latitude_deg) <= 90.0 and abs(place.longitude_deg) <= 180.0
    if not inside or not -500.0 <= place.altitude_m <= 9000.0:
        raise FaultyFileError(
            _(
                "{name} lies at {latitude:g}, {longitude:g}, {altitude:g} m, which is no place on land."
            ).format(
                name=name,
                latitude=place.latitude_deg,
                longitude=place.longitude_deg,
                altitude=place.altitude_m,
            )
        )
    return place
