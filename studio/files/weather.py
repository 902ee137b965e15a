"""A public weather file becomes the nominal year of a site; and that year's compact form for the site file."""

from dataclasses import dataclass
from pathlib import Path

from studio.engine.sky.kept_year import pack_weather, quantised, unpack_weather
from studio.engine.sky.year import WeatherYear
from studio.errors import BadInputError, Fault, FaultyFileError, KeepingError
from studio.files.weather_formats import parse_weather
from studio.files.weather_records import Place
from studio.files.weather_repair import WEATHER_REPAIRS, mended
from studio.files.weather_shift import year_on_clock
from studio.text import _

__all__ = ["WEATHER_REPAIRS", "WeatherRead", "pack_weather", "read_weather", "unpack_weather"]

MOST_BYTES = 50_000_000


@dataclass(frozen=True)
class WeatherRead:
    """A weather file that could be taken.

    ``year`` is on the site's standard clock and already rounded as it is kept. ``place`` is what the file says of
    itself, with the clock that was used. ``source`` names the kind of file. ``faults`` are those that were found
    and mended, ``repairs`` says in sentences how.
    """

    year: WeatherYear
    place: Place
    source: str
    faults: tuple[Fault, ...]
    repairs: tuple[str, ...]

    @property
    def dni_kwh_m2(self) -> float:
        """Sum of the direct normal irradiance over the year."""
        return self.year.dni_kwh_m2


def read_weather(
    path: Path | str, *, utc_offset_h: float | None = None, repair: frozenset[str] = frozenset()
) -> WeatherRead:
    """Reads EPW, TMY2, TMY3, PVGIS (CSV and JSON) or NSRDB weather onto the clock ``utc_offset_h``.

    Without ``utc_offset_h`` the clock is the one that the file names for its site; PVGIS names none, so there it is
    the whole hour nearest to longitude / 15. ``repair`` names the ways of ``WEATHER_REPAIRS`` that may be used.

    Raises ``KeepingError`` where the file cannot be opened, ``BadInputError`` for an unknown repair or an
    impossible clock, and ``FaultyFileError`` for a file of another kind, or with faults no named repair mends.
    """
    unknown = sorted(repair - WEATHER_REPAIRS.keys())
    if unknown:
        raise BadInputError(
            _("There is no repair {name}; there are {names}.").format(
                name=unknown[0], names=", ".join(WEATHER_REPAIRS)
            )
        )
    if utc_offset_h is not None and not -12.0 <= utc_offset_h <= 14.0:
        raise BadInputError(
            _("The clock UTC{offset:+g} h is impossible; it must be from -12 to +14 h.").format(
                offset=utc_offset_h
            )
        )
    name = Path(path).name
    records = parse_weather(_text_of(Path(path)), name=name)
    whole = mended(records, repair=repair, name=name)
    placed = year_on_clock(whole.records, utc_offset_h=utc_offset_h, name=name)
    return WeatherRead(
        year=quantised(placed.year),
        place=placed.place,
        source=records.kind,
        faults=whole.faults,
        repairs=whole.repairs + placed.notes,
    )


def _text_of(path: Path) -> str:
    """The file as text, never more than ``MOST_BYTES`` of it."""
    try:
        if not path.is_file():
            raise KeepingError(_("{name} is not a file.").format(name=path.name))
        with path.open("rb") as file:
            data = file.read(MOST_BYTES + 1)
    except OSError as error:
        raise KeepingError(
            _("{name} cannot be read: {reason}.").format(name=path.name, reason=error.strerror or error)
        ) from error
    if len(data) > MOST_BYTES:
        raise FaultyFileError(
            _("{name} is larger than {most} MB; an hourly weather year has 1 to 3 MB.").format(
                name=path.name, most=MOST_BYTES // 1_000_000
            )
        )
    if b"\0" in data:
        raise FaultyFileError(_("{name} is not text, so not a weather file.").format(name=path.name))
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("latin-1")  # older files write place names so; every byte has a meaning there
