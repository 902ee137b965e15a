"""What can be wrong with the records of a weather file, said line by line, and the named ways to mend it."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from studio.engine.sky.calendar import DAYS_OF_MONTHS
from studio.engine.sky.year import MOST_DNI_W_M2
from studio.errors import Fault, FaultyFileError
from studio.files.weather_records import MINUTES_PER_YEAR, Records
from studio.text import _, plural

N_ = str  # marks a text for translation that is translated where it is shown
WEATHER_REPAIRS: Final[dict[str, str]] = {
    "drop-leap-day": N_("Leave out 29 February; the computed year has 365 days."),
    "fill-short-gaps": N_("Draw a straight line across gaps of up to 3 hours."),
    "neighbour-days": N_("Fill longer gaps, up to a week, with the mean of the days before and after."),
    "first-of-duplicates": N_("Of several records of the same hour keep the first."),
    "clip-dni": N_("Set direct sun below 0 to 0 and above 1400 W/m2 to 1400 W/m2."),
}
"""Ways to mend a weather file, each used only when named; show the sentence through ``studio.text._``."""

_SHORT_GAP_H, _LONG_GAP_H = 3, 7 * 24
_NIGHT_OFFSET_W_M2 = -5.0  # instruments cool to the night sky and read a little below 0
_MISSING_BELOW, _MISSING_ABOVE = -90.0, 9990.0  # -99.9, -999, -9900, -9999.9; 9999, 99999
_AIR_C, _WIND_M_S = (-60.0, 60.0), (0.0, 60.0)
_MOST_FAULTS = 200

Bools = NDArray[np.bool_]
Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Mended:
    """Records of every slot of the year in order, what was wrong with them, and how it was mended."""

    records: Records
    faults: tuple[Fault, ...]
    repairs: tuple[str, ...]


@dataclass
class _Findings:
    """What has been found so far; ``missing_repairs`` are the ways not named that would mend it."""

    records: Records
    allowed: frozenset[str]
    faults: list[Fault] = field(default_factory=list)
    repairs: list[str] = field(default_factory=list)
    missing_repairs: list[str] = field(default_factory=list)
    hopeless: bool = False

    def may(self, way: str) -> bool:
        """Whether the way is named; it is noted as wanted where not."""
        if way not in self.allowed and way not in self.missing_repairs:
            self.missing_repairs.append(way)
        return way in self.allowed

    def rows(self, bad: Bools, name: str, wanted: str, found: Callable[[int], str]) -> int:
        """One fault for each run of bad rows; how many rows are bad."""
        spots = self.records.spot
        for first, last in _runs(bad):
            word = self.records.spot_word
            path = f"{word} {spots[first]}"
            if last > first:
                path = f"{word}s {spots[first]} to {spots[last]}"
            self.faults.append(Fault(path=path, name=name, found=found(first), wanted=wanted))
        return int(bad.sum())


def mended(records: Records, *, repair: frozenset[str], name: str) -> Mended:
    """Every slot of the year once, in order, with faults mended in the ways that ``repair`` names.

    Always mended, and told: records out of order, the same record twice, night offsets of the sun, absurd air and
    wind. Raises ``FaultyFileError`` where something else is wrong and its way is not named, or nothing mends it.
    """
    per_day = 24 * 60 // records.step_min
    slots = 365 * per_day
    rows = len(records.minute) + len(records.garbled)
    if rows > 366 * per_day + per_day:
        raise FaultyFileError(
            _("{name} holds {rows} records; one year of its steps has {slots}.").format(
                name=name, rows=rows, slots=slots
            )
        )
    if rows < slots / 2:
        raise FaultyFileError(
            _("{name} holds only {rows} records; a whole year of its steps has {slots}.").format(
                name=name, rows=rows, slots=slots
            )
        )
    findings = _Findings(records, repair, repairs=list(records.notes))
    _tell_garbled(findings)
    kept = _one_row_each(findings)
    records = replace(
        records,
        **{key: getattr(records, key)[kept] for key in ("minute", "dni", "air", "wind", "spot")},
    )
    findings.records = records
    slot = records.minute // records.step_min
    dni = _placed(_sound_dni(findings), slot, slots)
    air = _placed(_sound(findings, records.air, _AIR_C, _("Air temperature"), "degC"), slot, slots)
    wind = _placed(_sound(findings, records.wind, _WIND_M_S, _("Wind"), "m/s"), slot, slots)
    dni, air, wind = _filled(findings, dni, air, wind, slot, per_day)
    _refuse_if_faulty(findings, name)
    whole = replace(
        records,
        minute=np.arange(slots, dtype=np.int64) * records.step_min,
        dni=dni,
        air=air,
        wind=wind,
        spot=np.arange(1, slots + 1, dtype=np.int64),
        garbled=(),
    )
    return Mended(whole, _capped(findings.faults), tuple(findings.repairs))


def _tell_garbled(findings: _Findings) -> None:
    for spot in findings.records.garbled:
        findings.faults.append(
            Fault(
                path=f"{findings.records.spot_word} {spot}",
                name=_("Record"),
                found=_("no readable date and hour"),
                wanted=_("the record is left out"),
            )
        )


def _one_row_each(findings: _Findings) -> NDArray[np.intp]:
    """Indexes of the rows to keep, in the year's order."""
    records = findings.records
    leap = records.minute < 0
    if leap.any():
        hours = findings.rows(
            leap, _("Leap day"), _("the year computed has no 29 February"), lambda _row: _("29 February")
        )
        if findings.may("drop-leap-day"):
            findings.repairs.append(
                plural(
                    "29 February left out ({count} record).", "29 February left out ({count} records).", hours
                )
            )
    rows = np.flatnonzero(~leap)
    slot = records.minute[rows] // records.step_min
    back = np.zeros(len(leap), dtype=np.bool_)
    back[rows[1:]] = np.diff(slot) < 0
    if back.any():
        findings.rows(
            back,
            _("Order"),
            _("records follow each other in time"),
            lambda row: _("{when} after a later hour").format(when=_when(int(records.minute[row]))),
        )
        findings.repairs.append(_("Records out of order were put where their dates say."))
    _unique, first, which = np.unique(slot, return_index=True, return_inverse=True)
    extra = np.ones(len(rows), dtype=np.bool_)
    extra[first] = False
    if extra.any():
        _tell_duplicates(findings, rows, first[which], extra)
    return rows[first]


def _tell_duplicates(
    findings: _Findings, rows: NDArray[np.intp], first: NDArray[np.intp], extra: Bools
) -> None:
    records = findings.records
    bad = np.zeros(len(records.minute), dtype=np.bool_)
    bad[rows[extra]] = True
    findings.rows(
        bad,
        _("Hour"),
        _("each hour stands once"),
        lambda row: _("{when} again").format(when=_when(int(records.minute[row]))),
    )
    table = np.stack([records.dni, records.air, records.wind])[:, rows]
    alike = np.array_equal(table[:, extra], table[:, first][:, extra], equal_nan=True)
    if alike or findings.may("first-of-duplicates"):
        findings.repairs.append(
            plural(
                "{count} record of an hour that was there already left out.",
                "{count} records of hours that were there already left out.",
                int(extra.sum()),
            )
        )


def _sound_dni(findings: _Findings) -> Floats:
    """DNI of the rows with NaN where it is missing, within 0 and the most there can be."""
    dni = findings.records.dni
    missing = _missing(dni)
    findings.rows(missing, _("DNI"), _("a number is needed"), lambda row: _cell_text(dni[row]))
    present = np.where(missing, 0.0, dni)
    absurd = (present < _NIGHT_OFFSET_W_M2) | (present > MOST_DNI_W_M2)
    if absurd.any():
        count = findings.rows(
            absurd, _("DNI"), _("0 to 1400 W/m2 is possible"), lambda row: f"{dni[row]:g} W/m2"
        )
        if findings.may("clip-dni"):
            findings.repairs.append(
                plural(
                    "DNI of {count} record set to 0 or 1400 W/m2.",
                    "DNI of {count} records set to 0 or 1400 W/m2.",
                    count,
                )
            )
    offsets = int(((present < -0.05) & ~absurd).sum())
    if offsets:
        findings.repairs.append(
            plural(
                "Night offset of {count} record set to 0 W/m2.",
                "Night offsets of {count} records set to 0 W/m2.",
                offsets,
            )
        )
    return np.where(missing, np.nan, np.clip(present, 0.0, MOST_DNI_W_M2))


def _sound(findings: _Findings, values: Floats, limits: tuple[float, float], name: str, unit: str) -> Floats:
    """Air or wind of the rows with NaN where it is missing or absurd; those are always filled, and told."""
    bad = _missing(values) | ~((values >= limits[0]) & (values <= limits[1]))
    if not bad.any():
        return values
    count = findings.rows(
        bad,
        name,
        _("{least:g} to {most:g} {unit} is possible").format(least=limits[0], most=limits[1], unit=unit),
        lambda row: _cell_text(values[row]),
    )
    if bad.all():
        findings.hopeless = True
    findings.repairs.append(
        _("{name}: missing or absurd records replaced from their neighbours: {count}.").format(
            name=name, count=count
        )
    )
    return np.where(bad, np.nan, values)


def _filled(
    findings: _Findings, dni: Floats, air: Floats, wind: Floats, slot: NDArray[np.int64], per_day: int
) -> tuple[Floats, Floats, Floats]:
    """The three columns without gaps; those of the DNI need a way that is named."""
    present = np.zeros(len(dni), dtype=np.bool_)
    present[slot] = True
    for first, last in _runs(~present):
        _tell_gap(findings, slot, first, last)
    gap = np.isnan(dni)
    if gap.all():
        findings.hopeless = True
        return dni, air, wind
    length_h = _run_lengths(gap) * 24.0 / per_day
    long = length_h > _SHORT_GAP_H
    findings.hopeless |= bool((length_h > _LONG_GAP_H).any())
    short_told = (gap & ~long).any() and findings.may("fill-short-gaps")
    long_told = long.any() and findings.may("neighbour-days")
    if short_told:
        findings.repairs.append(
            plural(
                "{count} record in short gaps drawn straight between its neighbours.",
                "{count} records in short gaps drawn straight between their neighbours.",
                int((gap & ~long).sum()),
            )
        )
    if long_told:
        findings.repairs.append(
            plural(
                "{count} record in longer gaps taken from the days before and after.",
                "{count} records in longer gaps taken from the days before and after.",
                int(long.sum()),
            )
        )
    columns = []
    for column in (dni, air, wind):
        by_days = _from_neighbour_days(column, long & np.isnan(column), per_day)
        columns.append(_straight(by_days))
    return columns[0], columns[1], columns[2]


def _tell_gap(findings: _Findings, slot: NDArray[np.int64], first: int, last: int) -> None:
    records = findings.records
    before = int(np.searchsorted(slot, first)) - 1
    place = f"{records.spot_word} {records.spot[before] if before >= 0 else records.spot[0]}"
    findings.faults.append(
        Fault(
            path=place,
            name=_("Hours missing"),
            found=_("nothing from {first} to the end of {last}").format(
                first=_when(first * records.step_min), last=_when(last * records.step_min)
            ),
            wanted=_("every hour of the year is needed"),
        )
    )


def _from_neighbour_days(values: Floats, gap: Bools, per_day: int) -> Floats:
    """The values with the gap's slots as the mean of the nearest days before and after that have that slot."""
    filled = values.copy()
    days = values.reshape(365, per_day)
    for index in np.flatnonzero(gap):
        column = days[:, index % per_day]
        good = np.flatnonzero(~np.isnan(column))
        if not len(good):
            continue
        ahead = (good - index // per_day) % 365
        filled[index] = (column[good[ahead.argmin()]] + column[good[ahead.argmax()]]) / 2.0
    return filled


def _straight(values: Floats) -> Floats:
    """The values with straight lines across what is NaN; the year's end joins its begin."""
    good = np.flatnonzero(~np.isnan(values))
    if len(good) in (0, len(values)):
        return values
    return np.asarray(
        np.interp(np.arange(len(values)), good, values[good], period=len(values)), dtype=np.float64
    )


def _refuse_if_faulty(findings: _Findings, name: str) -> None:
    faults = _capped(findings.faults)
    if findings.hopeless:
        raise FaultyFileError(
            _("{name} lacks so much that no repair would be honest; take another file.").format(name=name),
            faults,
        )
    if findings.missing_repairs:
        raise FaultyFileError(
            _("{name} cannot be taken as it is. These repairs would mend it: {ways}.").format(
                name=name, ways=", ".join([*sorted(findings.allowed), *findings.missing_repairs])
            ),
            faults,
        )


def _capped(faults: Iterable[Fault]) -> tuple[Fault, ...]:
    everything = tuple(faults)
    if len(everything) <= _MOST_FAULTS:
        return everything
    last = everything[_MOST_FAULTS - 1]
    more = len(everything) - _MOST_FAULTS + 1
    told = Fault(last.path, _("From here on"), _("{count} more faults").format(count=more), _("none"))
    return (*everything[: _MOST_FAULTS - 1], told)


def _missing(values: Floats) -> Bools:
    return np.asarray(~(values > _MISSING_BELOW) | (values >= _MISSING_ABOVE), dtype=np.bool_)


def _cell_text(value: float) -> str:
    return _("nothing readable") if np.isnan(value) else f"{value:g}"


def _placed(values: Floats, slot: NDArray[np.int64], slots: int) -> Floats:
    year = np.full(slots, np.nan)
    year[slot] = values
    return year


def _runs(marked: Bools) -> list[tuple[int, int]]:
    """First and last index of each run of marked entries."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], marked, [False]]).astype(np.int8)))
    return [(int(first), int(end) - 1) for first, end in edges.reshape(-1, 2)]


def _run_lengths(marked: Bools) -> NDArray[np.int64]:
    """For each marked entry the length of its run, 0 elsewhere; a run at the year's end goes on at its begin."""
    lengths = np.zeros(len(marked), dtype=np.int64)
    runs = _runs(marked)
    for first, last in runs:
        lengths[first : last + 1] = last - first + 1
    if marked[0] and marked[-1] and not marked.all():
        joined = lengths[0] + lengths[-1]
        for first, last in (runs[0], runs[-1]):
            lengths[first : last + 1] = joined
    return lengths


def _when(minute: int) -> str:
    """A minute of the year as people say it, '3 Feb 14:00'."""
    day, rest = divmod(minute % MINUTES_PER_YEAR, 24 * 60)
    month = 0
    while day >= DAYS_OF_MONTHS[month]:
        day -= DAYS_OF_MONTHS[month]
        month += 1
    name = _("Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec").split()[month]
    return f"{day + 1} {name} {rest // 60:02d}:{rest % 60:02d}"
