"""The calendar panel: its head says the moment in words, its body is the picture."""

import numpy as np
from PySide6.QtCore import QRectF, Qt
from PySide6.QtGui import QPainter, QPaintEvent
from PySide6.QtWidgets import QWidget

from studio.desk.calendar_picture import at_moment
from studio.desk.calendar_view import CalendarPicture, clock, day_and_month
from studio.desk.choice_box import ChoiceBox
from studio.desk.freshness import Freshness
from studio.desk.layouts import column, line
from studio.desk.painted import draw_text
from studio.desk.session import Session
from studio.desk.state import State
from studio.desk.theme import Theme
from studio.text import _, number, percent

QUANTITIES = (("heat", "Field heat, clear sky"), ("intercept", "Intercept"), ("shade", "Shade"))
HEAD_HEIGHT = 38


class Calendar(QWidget):
    """The panel under the view."""

    def __init__(self, session: Session, theme: Theme, freshness: Freshness) -> None:
        super().__init__()
        self._session, self._theme, self._freshness = session, theme, freshness
        self._revision = -1
        self.picture = CalendarPicture(session, theme)
        self.picture.picked.connect(session.set_moment)
        self._head = _Head(session, theme, self.picture)
        whole = column(self, margins=(0, 0, 0, 4))
        whole.addWidget(self._head)
        whole.addWidget(self.picture, 1)
        session.changed.connect(self._hear)
        freshness.changed.connect(self._show)
        theme.changed.connect(self.picture.repaint_picture)
        self._show()

    def _hear(self, old: State, new: State) -> None:
        was = self.picture.calendar
        if new.assessment is not old.assessment or new.revision != old.revision:
            self._show()
        if new.calendar_of != old.calendar_of:
            self.picture.repaint_picture()
        if new.moment != old.moment:
            self.picture.update()
        if (
            new.moment != old.moment
            or new.calendar_of != old.calendar_of
            or (new.assessment is None) != (old.assessment is None)
            or self.picture.calendar is not was
            or new.shown.site is not old.shown.site
        ):
            self._head.refresh()

    def _show(self) -> None:
        state = self._session.state
        assessment = state.assessment
        if assessment is not None and assessment.calendar is not None:
            if assessment.calendar is not self.picture.calendar:
                self._revision = state.assessed_revision
            self.picture.show_calendar(assessment.calendar, stale=self._is_stale())
        elif assessment is None and not state.fresh and state.assessed_revision == -1:
            self.picture.show_calendar(None, stale=False)
        else:
            self.picture.show_calendar(self.picture.calendar, stale=self._is_stale())

    def _is_stale(self) -> bool:
        state = self._session.state
        return self.picture.calendar is not None and self._revision != state.revision


class _Head(QWidget):
    """What is shown, and the moment: date, clock time, solar time, sun, value."""

    def __init__(self, session: Session, theme: Theme, picture: CalendarPicture) -> None:
        super().__init__()
        self._session, self._theme, self._picture = session, theme, picture
        self.setFixedHeight(HEAD_HEIGHT)
        self._combo = ChoiceBox(theme)
        self._combo.setAccessibleName(_("What the calendar shows"))
        for key, words in QUANTITIES:
            self._combo.addItem(_(words), key)
        self._combo.activated.connect(lambda at: session.update(calendar_of=str(self._combo.itemData(at))))
        row = line(self, margins=(16, 4, 0, 4), spacing=10)
        row.addSpacing(round(theme.font(13, 600).wide(_("Sun calendar"))) + 4)
        row.addWidget(self._combo, 0, Qt.AlignmentFlag.AlignVCenter)
        row.addStretch(1)
        self._sun: tuple[object, tuple[float, float, float]] | None = None
        self._told: list[tuple[str, int, str]] = []
        self.refresh()

    def refresh(self) -> None:
        """Say the moment anew."""
        place = self._combo.findData(self._session.state.calendar_of)
        if place != self._combo.currentIndex():
            self._combo.setCurrentIndex(place)
        parts = self._parts()
        if parts != self._told:
            self._told = parts
            self.setAccessibleName(", ".join(text for text, _weight, _role in parts))
            self.update()

    def _sun_now(self) -> tuple[float, float, float]:
        """Elevation, azimuth, solar time at the moment."""
        from studio.engine.sky.sun import clock_suns  # pvlib comes with it: not before the window is up

        state = self._session.state
        site = state.shown.site
        key = (site, state.moment)
        if self._sun is None or self._sun[0] != key:
            track = clock_suns(
                state.moment.day_of_year, state.moment.clock_h, latitude_deg=site.latitude_deg,
                longitude_deg=site.longitude_deg, altitude_m=site.altitude_m, utc_offset_h=site.utc_offset_h,
            )  # fmt: skip
            self._sun = key, (float(track.elevation_deg), float(track.azimuth_deg), float(track.solar_time_h))
        return self._sun[1]

    def _parts(self) -> list[tuple[str, int, str]]:
        """Text, weight, role; the last ones go first where there is no room."""
        state = self._session.state
        moment, calendar = state.moment, self._picture.calendar
        parts = [
            (day_and_month(moment.day_of_year), 600, "ink"),
            (_("{time} clock").format(time=clock(moment.clock_h)), 600, "ink"),
        ]
        if state.assessment is None:
            return parts
        up, azimuth, solar = self._sun_now()
        parts.append((_("{time} solar").format(time=clock(solar)), 400, "ink2"))
        if up > 0:
            sun = _("sun {up}° up, azimuth {azimuth}°").format(
                up=number(up, digits=1), azimuth=number(azimuth, digits=0)
            )
        else:
            sun = _("sun below the horizon")
        parts.append((sun, 400, "ink2"))
        if calendar is not None:
            value = at_moment(calendar, state.calendar_of, moment.day_of_year, moment.clock_h)
            if np.isfinite(value) and up > 0:
                words = number(value) + " kW" if state.calendar_of == "heat" else percent(value) + " %"
                parts.append((words, 600, "ink"))
        return parts

    def paintEvent(self, event: QPaintEvent) -> None:
        theme, painter = self._theme, QPainter(self)
        draw_text(
            painter,
            QRectF(16, 0, 140, self.height()),
            _("Sun calendar"),
            theme.font(13, 600),
            theme.color("ink"),
        )
        left = self._combo.geometry().right() + 12.0
        parts = self._parts()
        gap = 12.0

        def wide(shown: list[tuple[str, int, str]]) -> float:
            return sum(theme.font(12, weight).wide(text) + gap for text, weight, _role in shown)

        while len(parts) > 2 and wide(parts) > self.width() - 16 - left:
            del parts[-2 if len(parts) > 3 else -1]
        right = self.width() - 16.0
        for text, weight, role in reversed(parts):
            box = QRectF(left, 0, right - left, self.height())
            right -= draw_text(painter, box, text, theme.font(12, weight), theme.color(role), "right") + gap
        painter.end()
