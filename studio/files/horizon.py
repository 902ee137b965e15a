"""A skyline from a table: two columns, azimuth and elevation in degrees, as CSV or pasted text."""

import csv
from pathlib import Path

from studio.design.rules import MOST_IN_A_LIST
from studio.errors import Fault, FaultyFileError
from studio.keep import doing
from studio.text import _

LARGEST = 200_000
_SHOWN = 40
_MOST_FAULTS = 20


def read_horizon(path: Path) -> tuple[tuple[float, float], ...]:
    """Azimuths and elevations (degrees) of a file, in its order; a first line of words and lines with # are passed over.

    Columns are parted by semicolons, tabs, commas or spaces; where commas do not part them a comma is a decimal one.
    Raises KeepingError where the file cannot be read, FaultyFileError with its faults by line.
    """
    with doing(_("read"), path):
        data = path.read_bytes() if path.stat().st_size <= LARGEST else None
    if data is None:
        raise FaultyFileError(
            _("{path} is too large for a skyline; two columns of a few hundred lines would be right.").format(
                path=path.name
            )
        )
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise FaultyFileError(_("{path} is no text in UTF-8.").format(path=path.name)) from None
    points, faults = _points(text)
    if faults:
        raise FaultyFileError(
            _("{path} is no table of azimuth and elevation.").format(path=path.name), tuple(faults)
        )
    if not 1 <= len(points) <= MOST_IN_A_LIST:
        raise FaultyFileError(
            _("{path} holds {count} points of a skyline; 1 to {most} would be right.").format(
                path=path.name, count=len(points), most=MOST_IN_A_LIST
            )
        )
    return tuple(points)


def _points(text: str) -> tuple[list[tuple[float, float]], list[Fault]]:
    points: list[tuple[float, float]] = []
    faults: list[Fault] = []
    first = True
    for number, line in enumerate(text.splitlines(), start=1):
        if not line.strip() or line.lstrip().startswith("#"):
            continue
        pair = _pair(line)
        if pair is not None:
            points.append(pair)
        elif not first and len(faults) < _MOST_FAULTS:
            shown = "".join(c if c.isprintable() else "?" for c in line.strip())[:_SHOWN]
            faults.append(
                Fault(
                    _("line {number}").format(number=number),
                    _("skyline"),
                    shown,
                    _("an azimuth from 0 to 360 and an elevation from -10 to 85 degrees would be right"),
                )
            )
        first = False
    return points, faults


def _pair(line: str) -> tuple[float, float] | None:
    """Two numbers within their limits; None where there are none."""
    words = line.split()
    parting = next((mark for mark in (";", "\t", ",") if mark in line), None)
    if parting == "," and len(words) == 2 and not words[0].endswith(","):
        parting = None  # spaces part the columns, commas the decimals
    cells = words if parting is None else next(csv.reader([line], delimiter=parting))
    try:
        azimuth, elevation = (float(cell.strip().replace(",", ".")) for cell in cells)
    except ValueError:
        return None
    return (azimuth, elevation) if 0.0 <= azimuth <= 360.0 and -10.0 <= elevation <= 85.0 else None
