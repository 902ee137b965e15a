"""Corners as a table: a CSV file or what was pasted, in metres, in degrees, or as a traverse.

A head names the columns (x y, east north, latitude longitude, bearing distance; a unit in brackets: "distance (ft)").
Without one, numbers with compass letters or degree signs are degrees or bearings, others lengths or, where they are
small and close together, degrees, latitude first as people write them.
"""

import re
from dataclasses import dataclass
from math import isfinite
from typing import NoReturn

import numpy as np

from studio.errors import BadInputError, FaultyFileError
from studio.files.land.found import TABLES, Array, How
from studio.files.land.systems import is_length_unit, length_unit
from studio.numbers_in import read_number
from studio.text import _

MOST_ROWS, LONGEST_ROW = 20_000, 500
_ROLES = {
    "x": "x", "e": "x", "east": "x", "easting": "x", "right": "x",
    "y": "y", "n": "y", "north": "y", "northing": "y", "up": "y",
    "lon": "lon", "long": "lon", "lng": "lon", "longitude": "lon", "lat": "lat", "latitude": "lat",
    "bearing": "bearing", "azimuth": "bearing", "course": "bearing", "direction": "bearing",
    "distance": "distance", "dist": "distance", "length": "distance",
    "z": "z", "h": "z", "height": "z", "elevation": "z", "elev": "z", "ele": "z", "altitude": "z", "alt": "z", "level": "z",
}  # fmt: skip
_PAIRS = {"metres": ("x", "y"), "degrees": ("lat", "lon"), "traverse": ("bearing", "distance")}
_HEAD = re.compile(r"^([^\W\d]+)\s*(?:[\s_(\[]\s*((?:\d[\d.]*\s+)?[\w°'-]+)\s*[)\]]?)?$")
_PLAIN = re.compile(r"[-+\u2212]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][-+]?\d{1,3})?")
_COMMA = re.compile(r"[-+\u2212]?\d+,\d+")
_ANGLE = re.compile(
    r"\s*(?P<before>[NSEWnsew])?\s*(?P<sign>[-+\u2212]?)\s*(?P<deg>\d+(?:\.\d+)?)\s*[°ºd:\s-]?\s*"
    r"(?:(?P<min>\d+(?:\.\d+)?)\s*['\u2032\u2019:\s-]?\s*)?(?:(?P<sec>\d+(?:\.\d+)?)\s*(?:\"|\u2033|\u201d|'')?\s*)?(?P<after>[NSEWnsew])?\s*"
)
_WORD = re.compile(r"[^\W\d_]{2,}\w*")
_AFTER_ANGLE = re.compile(
    r"(?<=[\d'\"\u2032\u2033°]\s[NSEWOnsewo])\s+|(?<=[\d'\"\u2032\u2033°][NSEWOnsewo])\s+|(?<=[\"\u2033])\s+(?=[-+\u2212\d])"
)
_GON_DEG = 0.9
_LONGEST_ANGLE = 40


@dataclass(frozen=True)
class Table:
    """Corners or legs: ``kind`` is one of TABLES, ``values`` (n, 2) are x and y, longitude and latitude, or bearing
    (degrees) and distance, lengths in ``unit`` (empty: not said). ``assumed`` says in a sentence what no head said."""

    kind: str
    values: Array
    unit: str
    assumed: str = ""


def table_of(text: str, *, name: str, how: How) -> Table:
    """The corners of a table. FaultyFileError in one sentence that names the line where it is at fault."""
    if how.table and how.table not in TABLES:
        raise BadInputError(
            _("'{found}' is no kind of table; {kinds} would do.").format(
                found=how.table[:20], kinds=", ".join(TABLES)
            )
        )
    rows = table_rows(text, name)
    head = table_head(rows[0][1])
    columns, units = table_columns(head) if head else ({}, {})
    if head:
        rows = rows[1:]
    kind = how.table or next((k for k, pair in _PAIRS.items() if set(pair) <= set(columns)), "")
    if head and not kind:
        at_line(
            name,
            rows[0][0] - 1 if rows else 1,
            _("the head names no columns such as x and y, latitude and longitude, or bearing and distance"),
        )
    if not rows:
        raise FaultyFileError(_("{name} has a head and no corners below it.").format(name=name))
    first, second = _places(rows, columns, kind, name)
    assumed = ""
    if not kind:
        kind, assumed = _kind_of(rows, first, second)
    unit = how.unit or units.get("distance" if kind == "traverse" else "x", "")
    gon = units.get("bearing", "") in ("gon", "grad", "g")
    values = np.array([_row(row, number, first, second, kind, unit, gon, name) for number, row in rows])
    if kind == "degrees":
        values = values[:, ::-1]  # a table says latitude first, a map longitude
    return Table(kind, values, unit, assumed)


def at_line(name: str, line: int, what: str) -> NoReturn:
    raise FaultyFileError(_("{name}, line {line}: {what}.").format(name=name, line=line, what=what))


def table_rows(text: str, name: str) -> list[tuple[int, list[str]]]:
    """The fields of every line that is neither empty nor a remark, with its number."""
    lines = text.splitlines()
    if len(lines) > MOST_ROWS:
        raise FaultyFileError(
            _("{name} has {count} lines; a plot has at most {most}.").format(
                name=name, count=len(lines), most=MOST_ROWS
            )
        )
    kept = [
        (number, line)
        for number, line in enumerate(lines, 1)
        if line.strip() and not line.lstrip().startswith("#")
    ]
    if not kept:
        raise FaultyFileError(_("{name} holds no corners.").format(name=name))
    for number, line in kept:
        if len(line) > LONGEST_ROW or not line.replace("\t", " ").isprintable():
            at_line(name, number, _("this is no line of a table of corners"))
    commas = all(_apart_by_blanks(line) for _number, line in kept[1:])
    signs = "\t;" if commas and len(kept) > 1 else "\t;,"  # 12,5 13,75 stands apart by blanks
    sign = next((sign for sign in signs if all(sign in line for _number, line in kept)), "")
    return [(number, _split(line, sign)) for number, line in kept]


def _apart_by_blanks(line: str) -> bool:
    words = line.split()
    return len(words) > 1 and all(_COMMA.fullmatch(word) for word in words)


def _split(line: str, sign: str) -> list[str]:
    """The fields of a line; without a sign between them blanks part them, but not within an angle."""
    fields = line.split(sign) if sign else re.split(r"\s{2,}", line.strip())
    if len(fields) == 1:
        words = line.split()
        plain = all(
            _PLAIN.fullmatch(word) or _COMMA.fullmatch(word) or _WORD.fullmatch(word) for word in words
        )
        named = all(word.casefold() in _ROLES for word in words)
        fields = words if plain or named else _AFTER_ANGLE.split(line.strip())
    fields = [" ".join(field.split()) for field in fields]
    return [field.strip('"').strip() if field.count('"') == 2 else field for field in fields]


def table_head(fields: list[str]) -> list[str]:
    """The fields of the first line if it is a head: all of them words."""
    return fields if all(_HEAD.match(field) or not field for field in fields) and any(fields) else []


def table_columns(head: list[str]) -> tuple[dict[str, int], dict[str, str]]:
    columns: dict[str, int] = {}
    units: dict[str, str] = {}
    for place, field in enumerate(head):
        found = _HEAD.match(field)
        role = _ROLES.get(found.group(1).casefold().rstrip("_")) if found else None
        if found and role and role not in columns:
            columns[role] = place
            word = (found.group(2) or "").casefold()
            if is_length_unit(word) or role == "bearing":
                units[role] = word
    return columns, units


def _places(
    rows: list[tuple[int, list[str]]], columns: dict[str, int], kind: str, name: str
) -> tuple[int, int]:
    """Which two columns hold the pair."""
    pair = _PAIRS.get(kind, ())
    if pair and set(pair) <= set(columns):
        return columns[pair[0]], columns[pair[1]]
    count = min(len(row) for _number, row in rows)
    if count < 2:
        number = next(number for number, row in rows if len(row) == count)
        at_line(name, number, _("two numbers are wanted, found was one field"))
    numbered = count > 2 and all(
        not is_value(row[0]) or row[0].strip() == str(place) for place, (_number, row) in enumerate(rows, 1)
    )
    return (1, 2) if numbered else (0, 1)


def is_value(field: str) -> bool:
    return bool(_PLAIN.fullmatch(field) or _COMMA.fullmatch(field) or (_angle_in(field) and len(field) > 3))


def _kind_of(rows: list[tuple[int, list[str]]], first: int, second: int) -> tuple[str, str]:
    """What a table without a head holds, and the sentence that says so."""
    angle = re.compile(r"[°º\u2032\u2033NSEWnsew]|\d-\d")
    firsts = all(angle.search(row[first]) for _number, row in rows)
    if firsts and all(
        angle.search(row[second]) and not _PLAIN.fullmatch(row[second]) for _number, row in rows
    ):
        return "degrees", _("No head names the columns; they were read as latitude and longitude.")
    if firsts:
        return "traverse", _("No head names the columns; they were read as bearing and distance.")
    try:
        values = np.array(
            [[float(row[k].replace(",", ".")) for k in (first, second)] for _number, row in rows]
        )
    except ValueError:
        return "metres", _("No head names the columns; they were read as x east and y north.")
    small = (np.abs(values[:, 0]) <= 90).all() and (np.abs(values[:, 1]) <= 180).all()
    if small and np.ptp(values, axis=0).max() < 0.5 and len(values) > 2:
        return "degrees", _("No head names the columns; they were read as latitude and longitude in degrees.")
    return "metres", _("No head names the columns; they were read as x east and y north.")


def _row(
    row: list[str], number: int, first: int, second: int, kind: str, unit: str, gon: bool, name: str
) -> tuple[float, float]:
    if max(first, second) >= len(row):
        at_line(name, number, _("a number is missing"))
    one, two = row[first], row[second]
    if kind == "metres":
        return length_in(one, unit, number, name), length_in(two, unit, number, name)
    if kind == "degrees":
        return angle_in(one, number, name, letters="NS"), angle_in(two, number, name, letters="EW")
    bearing = _plain(one) * _GON_DEG if gon and _PLAIN.fullmatch(one) else _bearing(one, number, name)
    distance = length_in(two, unit, number, name)
    if not (0.0 <= bearing <= 360.0 and distance > 0.0):
        at_line(name, number, _("a leg has a bearing from 0° to 360° and a distance above 0"))
    return bearing, distance


def _angle_in(field: str) -> re.Match[str] | None:
    """An angle's parts; a long field is none, for it could be taken apart in too many ways."""
    return _ANGLE.fullmatch(field.replace(",", ".")) if len(field) <= _LONGEST_ANGLE else None


def _plain(field: str) -> float:
    return float(field.replace("\u2212", "-").replace(",", "."))


def length_in(field: str, unit: str, number: int, name: str) -> float:
    if _PLAIN.fullmatch(field) or _COMMA.fullmatch(field):
        value = _plain(field)
    else:
        try:  # 12 ft, 5' 3"
            value = read_number(field, "m").value / length_unit(unit or "m")
        except BadInputError:
            at_line(name, number, _("'{found}' is no length").format(found=field[:30]))
    if not isfinite(value) or abs(value) > 1e9:
        at_line(name, number, _("'{found}' is too large").format(found=field[:30]))
    return value


def angle_in(field: str, number: int, name: str, *, letters: str) -> float:
    """Degrees of '43.57', '43°34'45.4"N', '43 34 45 N' or 'N 43 34.5'."""
    found = _angle_in(field)
    if found is None:
        at_line(name, number, _("'{found}' is no angle").format(found=field[:30]))
    minutes, seconds = float(found["min"] or 0), float(found["sec"] or 0)
    side = (found["before"] or found["after"] or "").upper()
    if minutes >= 60 or seconds >= 60 or (side and side not in letters):
        at_line(name, number, _("'{found}' is no angle of this column").format(found=field[:30]))
    value = float(found["deg"]) + minutes / 60 + seconds / 3600
    return -value if side in ("S", "W") or found["sign"] in tuple("-\u2212") else value


_QUADRANT = re.compile(
    r"\s*(?P<from>[NSns])\s*(?P<angle>[\d.°º'\u2032\u2019\"\u2033\u201d:\s,-]+?)\s*(?P<to>[EWew])\s*"
)


def _bearing(field: str, number: int, name: str) -> float:
    """Azimuth in degrees of '123.5', '123°30'15"', '123-30-15' or the quadrant bearing 'S 45°30' E'."""
    found = _QUADRANT.fullmatch(field) if len(field) <= _LONGEST_ANGLE else None
    if found is None:
        return angle_in(field, number, name, letters="")
    angle = angle_in(found["angle"], number, name, letters="")
    if angle > 90:
        at_line(name, number, _("'{found}': a quadrant bearing has at most 90°").format(found=field[:30]))
    north, east = found["from"].upper() == "N", found["to"].upper() != "W"
    if north:
        return angle if east else (360.0 - angle) % 360.0
    return 180.0 - angle if east else 180.0 + angle


def bearing_of(text: str) -> float:
    """Azimuth in degrees, 0 to 360, of a bearing as people type it: '123.5', '123-30-15', 'N 35 15 E'.

    BadInputError in one sentence where it is none.
    """
    try:
        bearing = _bearing(text.strip(), 1, "")
    except FaultyFileError:
        bearing = -1.0
    if not 0.0 <= bearing <= 360.0:
        raise BadInputError(
            _("“{typed}” is no bearing; 123.5, 123°30'15\" or N 35 15 E would be right.").format(
                typed=_printable(text)
            )
        )
    return bearing % 360.0


def place_on_earth(latitude: str, longitude: str) -> tuple[float, float]:
    """Latitude and longitude in degrees as people type them: '43.57 N', '5°0'12" W', '-5.0033'.

    BadInputError in one sentence where they are none.
    """
    try:
        north, east = (
            angle_in(latitude.strip(), 1, "", letters="NS"),
            angle_in(longitude.strip(), 1, "", letters="EW"),
        )
    except FaultyFileError:
        north = east = float("nan")
    if not (abs(north) <= 90.0 and abs(east) <= 180.0):
        raise BadInputError(
            _("“{typed}” is no latitude and longitude; 43.57 N, 5.003 W would be right.").format(
                typed=_printable(f"{latitude}, {longitude}")
            )
        )
    return north, east


def _printable(text: str) -> str:
    return "".join(c if c.isprintable() else "?" for c in text.strip())[:40]
