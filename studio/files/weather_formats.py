"""The public weather formats: each becomes the same plain records, with the lines they stand in.

The libraries' readers stop at the first garbled cell, lose line numbers, and move leap days; so the few columns
that matter are read here, and the tests hold every column against pvlib's readers.
"""

import csv
import json
from collections.abc import Callable, Iterable, Sequence
from itertools import islice
from math import nan
from typing import Final, NamedTuple, TypeVar

import numpy as np

from studio.errors import FaultyFileError
from studio.files.weather_records import (
    Place,
    Records,
    cell,
    cells_of,
    degrees_minutes,
    hour_ending,
    number,
    place_of,
    stamp,
    utc_stamp,
)
from studio.text import _

Cell = TypeVar("Cell")

_FINEST_STEP_MIN: Final = 5
_MOST_ROWS: Final = 366 * 24 * 60 // _FINEST_STEP_MIN
_MOST_JSON: Final = 5_000_000


class _Row(NamedTuple):
    spot: int
    minute: int
    dni: float
    air: float
    wind: float


def parse_weather(text: str, *, name: str) -> Records:
    """The records of a weather file of any kind that is known; ``name`` is what sentences call the file.

    Raises ``FaultyFileError`` with one sentence for anything else.
    """
    if text.count("\n") > 2 * _MOST_ROWS:
        raise FaultyFileError(_("{name} holds more than one year; a single one is needed.").format(name=name))
    lines = [line.rstrip("\r") for line in text.split("\n")]
    read = _reader_of(lines, name)
    try:
        return read(lines, name)
    except (
        ValueError,
        LookupError,
        TypeError,
        AttributeError,
        StopIteration,
        RecursionError,
        csv.Error,
    ) as error:
        raise FaultyFileError(
            _("{name} begins like a weather file, but its head or its columns cannot be read.").format(
                name=name
            )
        ) from error


def _reader_of(lines: Sequence[str], name: str) -> Callable[[Sequence[str], str], Records]:
    first = lines[0].lstrip()
    second = lines[1] if len(lines) > 1 else ""
    head = "\n".join(lines[:60])
    if first.startswith("LOCATION,"):
        return _epw
    if second.startswith("Date (MM/DD/YYYY)"):
        return _tmy3
    if first.startswith("Source,Location ID"):
        return _nsrdb
    if first.startswith("Latitude (decimal degrees)") and "Gb(n)" in head:
        return _pvgis_csv
    if first.startswith("Latitude (decimal degrees)"):
        raise FaultyFileError(
            _(
                "{name} has no direct normal irradiance, only a tilted plane's; "
                "ask PVGIS for its typical year (TMY)."
            ).format(name=name)
        )
    if first.startswith("{"):
        return _pvgis_json
    if len(second) > 140 and second[1:9].isdigit() and lines[0][37:38] in ("N", "S"):
        return _tmy2
    if "version" in second and len(second) < 60:
        raise FaultyFileError(
            _("{name} is a day of one-minute measurements; a whole year in hours is needed.").format(
                name=name
            )
        )
    raise FaultyFileError(
        _(
            "{name} is no weather file that is known here; EPW, TMY2, TMY3, PVGIS typical years (CSV, JSON) "
            "and NSRDB are."
        ).format(name=name)
    )


def _epw(lines: Sequence[str], name: str) -> Records:
    """EPW: hour-ending records 1 to 24 in local standard time; air and wind at the hour's end.

    EnergyPlus, Auxiliary Programs, weather file data dictionary.
    """
    head = next(csv.reader([lines[0]]))
    start = next(row for row, line in enumerate(lines[:100]) if line.startswith("DATA PERIODS")) + 1
    if int(cells_of(lines[start - 1])[2]) != 1:
        raise FaultyFileError(_("{name} has several records an hour; one is needed.").format(name=name))

    def row(spot: int, line: str) -> _Row:
        cells = cells_of(line)
        minute = hour_ending(cells[1], cells[2], cells[3])
        return _Row(spot, minute, cell(cells, 14), cell(cells, 6), cell(cells, 21))

    rows, garbled = _rows(lines, start, row, name)
    zone = float(head[8])
    site = place_of(head[6], head[7], head[9], zone, head[1], name)
    return _hourly("EPW", site, zone, rows, garbled, sun_at_h=0.5, air_at_h=1.0)


def _tmy3(lines: Sequence[str], name: str) -> Records:
    """TMY3: hour-ending records 01:00 to 24:00 in local standard time; air and wind at the hour's end.

    Wilcox & Marion, Users manual for TMY3 data sets, NREL/TP-581-43156 (2008).
    """
    head = next(csv.reader([lines[0]]))
    columns = cells_of(lines[1])
    dni, air, wind = (columns.index(key) for key in ("DNI (W/m^2)", "Dry-bulb (C)", "Wspd (m/s)"))

    def row(spot: int, line: str) -> _Row:
        cells = cells_of(line)
        month, day, _year = cells[0].split("/")
        hour, minute = cells[1].split(":")
        if int(minute) != 0:
            raise ValueError(minute)
        label = hour_ending(month, day, hour)
        return _Row(spot, label, cell(cells, dni), cell(cells, air), cell(cells, wind))

    rows, garbled = _rows(lines, 2, row, name)
    zone = float(head[3])
    site = place_of(head[4], head[5], head[6], zone, head[1], name)
    return _hourly("TMY3", site, zone, rows, garbled, sun_at_h=0.5, air_at_h=1.0)


def _tmy2(lines: Sequence[str], name: str) -> Records:
    """TMY2: fixed columns, hour-ending 1 to 24 in local standard time; air and wind in tenths at the hour's end.

    Marion & Urban, User's manual for TMY2s, NREL (1995), tables 3-1 and 3-2.
    """
    head = lines[0]
    latitude = degrees_minutes(head[37:45], "S")
    longitude = degrees_minutes(head[45:54], "W")

    def row(spot: int, line: str) -> _Row:
        minute = hour_ending(line[3:5], line[5:7], line[7:9])
        air, wind = number(line[67:71]) / 10.0, number(line[95:98]) / 10.0
        return _Row(spot, minute, number(line[23:27]), air, wind)

    rows, garbled = _rows(lines, 1, row, name)
    zone = float(head[33:37])
    town = head[7:30].strip()
    site = place_of(str(latitude), str(longitude), head[54:], zone, town, name)
    return _hourly("TMY2", site, zone, rows, garbled, sun_at_h=0.5, air_at_h=1.0)


def _pvgis_csv(lines: Sequence[str], name: str) -> Records:
    """PVGIS typical year as CSV; see ``_pvgis``."""
    start = next(row for row, line in enumerate(lines[:60]) if line.startswith("time(UTC)"))
    head = {key: value for key, _colon, value in (line.partition(":") for line in lines[:start])}
    columns = cells_of(lines[start])
    air, dni, wind = (columns.index(key) for key in ("T2m", "Gb(n)", "WS10m"))
    rest = range(start + 1, len(lines))
    stop = next((line for line in rest if not lines[line].strip()), len(lines))

    def row(spot: int, line: str) -> _Row:
        cells = cells_of(line)
        minute = utc_stamp(cells[0])
        return _Row(spot, minute, cell(cells, dni), cell(cells, air), cell(cells, wind))

    rows, garbled = _rows(lines[:stop], start + 1, row, name)
    latitude, longitude = head["Latitude (decimal degrees)"], head["Longitude (decimal degrees)"]
    site = place_of(latitude, longitude, head["Elevation (m)"], nan, "", name)
    return _pvgis(site, head.get("Irradiance Time Offset (h)"), rows, garbled, "line")


def _pvgis_json(lines: Sequence[str], name: str) -> Records:
    """PVGIS typical year as JSON; see ``_pvgis``."""
    if sum(map(len, lines)) > _MOST_JSON:
        raise FaultyFileError(
            _("{name} is larger than {most} MB; a typical year of PVGIS has 1.5 MB.").format(
                name=name, most=_MOST_JSON // 1_000_000
            )
        )
    content = json.loads("\n".join(lines))
    location = content["inputs"]["location"]
    found = content["outputs"].get("tmy_hourly")
    if not isinstance(found, list):
        raise FaultyFileError(
            _("{name} is no typical year of PVGIS; ask PVGIS for its typical year (TMY).").format(name=name)
        )

    def row(spot: int, record: dict[str, object]) -> _Row:
        dni, air, wind = (number(str(record.get(key, ""))) for key in ("Gb(n)", "T2m", "WS10m"))
        return _Row(spot, utc_stamp(str(record["time(UTC)"])), dni, air, wind)

    rows, garbled = _collected(enumerate(found, 1), row, name)
    site = place_of(location["latitude"], location["longitude"], location["elevation"], nan, "", name)
    return _pvgis(site, location.get("irradiance_time_offset"), rows, garbled, "record")


def _pvgis(
    place: Place, sun_at: str | None, rows: Sequence[_Row], garbled: Sequence[int], spot_word: str
) -> Records:
    """PVGIS: stamps in UTC; the sun's are seen some minutes later, as the head says; air and wind at the stamp.

    European Commission, PVGIS user manual, typical meteorological year.
    """
    notes: tuple[str, ...] = ()
    if sun_at is None:
        notes = (_("The file does not say when within the hour its sun was seen; the full hour is taken."),)
    offset = 0.0 if sun_at is None else float(sun_at)
    if not -1.0 <= offset <= 1.0:
        raise ValueError(offset)
    return _hourly(
        "PVGIS", place, 0.0, rows, garbled, sun_at_h=offset, air_at_h=0.0, spot_word=spot_word, notes=notes
    )


def _nsrdb(lines: Sequence[str], name: str) -> Records:
    """NSRDB: a row of names, one of values, one of columns; records are moments, at their stamps.

    Sengupta et al., The National Solar Radiation Data Base, Renewable and Sustainable Energy Reviews 89 (2018) 51.
    """
    names, values, columns = (next(csv.reader([line])) for line in lines[:3])
    head = dict(zip(names, values, strict=False))
    keys = ("Month", "Day", "Hour", "Minute", "DNI", "Temperature", "Wind Speed")
    month, day, hour, minute, dni, air, wind = (columns.index(key) for key in keys)

    def row(spot: int, line: str) -> _Row:
        cells = cells_of(line)
        label = stamp(int(cells[month]), int(cells[day]), int(cells[hour]), int(cells[minute]))
        return _Row(spot, label, cell(cells, dni), cell(cells, air), cell(cells, wind))

    rows, garbled = _rows(lines, 3, row, name)
    site = place_of(
        head["Latitude"], head["Longitude"], head["Elevation"], float(head["Local Time Zone"]), "", name
    )
    known = np.array([item.minute % 60 for item in rows if item.minute >= 0], dtype=np.int64)
    # a mark that a single garbled stamp made is no step
    marks = np.flatnonzero(np.bincount(known, minlength=60) > len(known) / 240)
    step = 60 // max(len(marks), 1)
    if step < _FINEST_STEP_MIN or not len(marks) or (np.diff(marks) != step).any():
        raise FaultyFileError(
            _(
                "{name} has uneven steps or steps below {least} minutes; hours or half hours are needed."
            ).format(name=name, least=_FINEST_STEP_MIN)
        )
    at_h = int(marks[0]) / 60.0
    return _records("NSRDB", site, float(head["Time Zone"]), step, rows, garbled, at_h, at_h)


def _hourly(
    kind: str,
    place: Place,
    zone_h: float,
    rows: Sequence[_Row],
    garbled: Sequence[int],
    *,
    sun_at_h: float,
    air_at_h: float,
    spot_word: str = "line",
    notes: tuple[str, ...] = (),
) -> Records:
    return _records(kind, place, zone_h, 60, rows, garbled, sun_at_h, air_at_h, spot_word, notes)


def _records(
    kind: str,
    place: Place,
    zone_h: float,
    step_min: int,
    rows: Sequence[_Row],
    garbled: Sequence[int],
    sun_at_h: float,
    air_at_h: float,
    spot_word: str = "line",
    notes: tuple[str, ...] = (),
) -> Records:
    if not -12.0 <= zone_h <= 14.0:
        raise ValueError(zone_h)
    spot, minute, dni, air, wind = zip(*rows, strict=True)
    return Records(
        kind=kind,
        place=place,
        zone_h=zone_h,
        step_min=step_min,
        sun_at_h=sun_at_h,
        air_at_h=air_at_h,
        minute=np.array(minute, dtype=np.int64),
        dni=np.array(dni),
        air=np.array(air),
        wind=np.array(wind),
        spot=np.array(spot, dtype=np.int64),
        spot_word=spot_word,
        garbled=tuple(garbled),
        notes=notes,
    )


def _rows(
    lines: Sequence[str], start: int, row: Callable[[int, str], _Row], name: str
) -> tuple[list[_Row], list[int]]:
    """The rows of the lines from ``start`` (0-based) on, blank ones aside, and the numbers of garbled lines."""
    filled = ((number + 1, lines[number]) for number in range(start, len(lines)) if lines[number].strip())
    return _collected(filled, row, name)


def _collected(
    items: Iterable[tuple[int, Cell]], row: Callable[[int, Cell], _Row], name: str
) -> tuple[list[_Row], list[int]]:
    rows: list[_Row] = []
    garbled: list[int] = []
    for spot, item in islice(items, _MOST_ROWS + 1):
        try:
            rows.append(row(spot, item))
        except (ValueError, IndexError, KeyError, TypeError, AttributeError):
            garbled.append(spot)
    if len(rows) + len(garbled) > _MOST_ROWS:
        raise FaultyFileError(_("{name} holds more than one year; a single one is needed.").format(name=name))
    if not rows:
        raise FaultyFileError(_("{name} holds no weather records.").format(name=name))
    return rows, garbled
