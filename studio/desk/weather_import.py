"""Taking in a weather file: read in the background, shown before it is taken, mended only in ways that are named."""

import dataclasses
import threading
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from PySide6.QtCore import QObject, Qt, Signal

from studio.design.site import Site
from studio.desk.bars import Bars, Choice
from studio.desk.session import Session
from studio.edits.edit import Edit
from studio.errors import FaultyFileError, StillfieldError
from studio.text import _, number, plural

if TYPE_CHECKING:
    from studio.files.weather import WeatherRead

KEY = "weather"
SUFFIXES = (".epw", ".csv", ".tm2", ".json", ".tmy3", ".tmy2")
_FAULTS_SHOWN = 2


@dataclass(frozen=True)
class Found:
    """A year as its own place has it, and as this site takes it (by solar time, where the longitudes differ)."""

    at_home: "WeatherRead"
    for_site: "WeatherRead"


class WeatherImport(QObject):
    """Reads weather files for the session and asks in a bar."""

    _read = Signal(object, object, object)

    def __init__(self, session: Session, bars: Bars) -> None:
        super().__init__()
        self._session, self._bars = session, bars
        self._turn = 0
        self._read.connect(self._answer, Qt.ConnectionType.QueuedConnection)

    def take(self, path: Path, repair: frozenset[str] = frozenset()) -> None:
        """Read a file and show what was found."""
        self._turn += 1
        turn, site = self._turn, self._session.state.design.site
        self._bars.tell(KEY, _("Reading {name} …").format(name=path.name))

        def work() -> None:
            from studio.files.weather import read_weather
            from studio.files.weather_taken import read_for_site

            try:
                answer: object = Found(
                    read_weather(path, repair=repair), read_for_site(path, site, repair=repair)
                )
            except StillfieldError as error:
                answer = error
            self._read.emit((turn, path), repair, answer)

        threading.Thread(target=work, name="weather", daemon=True).start()

    def _answer(self, about: tuple[int, Path], repair: frozenset[str], answer: object) -> None:
        turn, path = about
        if turn != self._turn or self._bars.bar(KEY) is None:
            return  # another file was dropped since, or the bar was put away
        if isinstance(answer, FaultyFileError):
            self._offer_repairs(path, repair, answer)
        elif isinstance(answer, StillfieldError):
            self._bars.tell(KEY, str(answer))
        elif isinstance(answer, Found):
            self._offer(path, answer)

    def _offer_repairs(self, path: Path, repair: frozenset[str], error: FaultyFileError) -> None:
        from studio.files.weather import WEATHER_REPAIRS

        wanted = [way for way in WEATHER_REPAIRS if way in error.summary and way not in repair]
        shown = [str(fault) for fault in error.faults[:_FAULTS_SHOWN]]
        rest = len(error.faults) - len(shown)
        text = [error.summary, *shown]
        if rest > 0:
            text.append(plural("and {count} more", "and {count} more", rest))
        text += [f"{way}: {_(WEATHER_REPAIRS[way])}" for way in wanted]
        choices = []
        if wanted:
            ways = repair | frozenset(wanted)
            choices.append(
                Choice(_("Mend so: {ways}").format(ways=", ".join(wanted)), lambda: self.take(path, ways))
            )
        self._bars.tell(KEY, "\n".join(text), *choices)

    def _offer(self, path: Path, found_in: Found) -> None:
        read = found_in.for_site
        place = read.place
        found = _("{source}: {name}, {place}, {alt} m; DNI {dni} kWh/m² a year").format(
            source=read.source, name=place.name or path.name, place=_told_place(place.latitude_deg, place.longitude_deg),
            alt=number(place.altitude_m, digits=0),
            dni=number(read.dni_kwh_m2, digits=0),
        )  # fmt: skip
        text = [found, *self._far(place.latitude_deg, place.longitude_deg), *read.repairs]
        self._bars.tell(
            KEY, "\n".join(text), Choice(_("Use this weather"), lambda: self._use(path, read, self._session.state.design.site)),
            Choice(_("Use it and move the site there"), lambda: self._move(path, found_in.at_home)),
        )  # fmt: skip

    def _far(self, latitude_deg: float, longitude_deg: float) -> list[str]:
        site = self._session.state.design.site
        apart = max(abs(site.latitude_deg - latitude_deg), abs(site.longitude_deg - longitude_deg))
        if apart < 0.5:
            return []
        here = _told_place(site.latitude_deg, site.longitude_deg)
        return [_("This site is at {place}.").format(place=here)]

    def _move(self, path: Path, read: "WeatherRead") -> None:
        """Take the year on its own clock, and the place and clock it is of."""
        place = read.place
        there = dataclasses.replace(
            self._session.state.design.site, latitude_deg=place.latitude_deg, longitude_deg=place.longitude_deg,
            altitude_m=place.altitude_m, utc_offset_h=place.utc_offset_h,
        )  # fmt: skip
        self._use(path, read, there)

    def _use(self, path: Path, read: "WeatherRead", site: Site) -> None:
        from studio.files.weather_taken import with_weather

        taken = with_weather(self._session.state.document, read, name=path.name)
        design = self._session.state.design
        site = dataclasses.replace(site, weather=taken.design.site.weather)
        for name, data in taken.assets:
            self._session.take_asset(name, data)
        label = _("Take weather from {name}").format(name=path.name)
        self._session.apply(Edit(label, dataclasses.replace(design, site=site)))


def _told_place(latitude_deg: float, longitude_deg: float) -> str:
    north = _("north") if latitude_deg >= 0 else _("south")
    east = _("east") if longitude_deg >= 0 else _("west")
    lat, lon = number(abs(latitude_deg), digits=2), number(abs(longitude_deg), digits=2)
    return f"{lat}° {north}, {lon}° {east}"
