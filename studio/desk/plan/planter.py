"""Planting while it is in hand: what is asked for, the lines it gives, shown on the plan until they are taken or left."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from PySide6.QtCore import QObject, QTimer, Signal

from studio.design.design import Design
from studio.design.field import Line
from studio.design.fields import mark
from studio.desk.session import Session
from studio.desk.state import State
from studio.edits.edit import Edit
from studio.edits.geometry import front_line, usual_pitch
from studio.errors import BadInputError, StillfieldError
from studio.numbers_in import read_number
from studio.text import _, number, plural

TOOL = "plant"
_LANE_M = 3.0
"""A lane's width to begin with; common practice for a small vehicle, no source."""
UNITS: Mapping[str, str] = {
    "azimuth_deg": "°", "pitch_m": "m", "spacing_m": "m", "longest": mark("mirrors"), "lane_every": mark("lines"),
    "lane_m": "m",
}  # fmt: skip
_COUNTS = ("longest", "lane_every")
MAY_BE_EMPTY = ("spacing_m", "longest")


@dataclass(frozen=True)
class Wish:
    """What is asked for; ``spacing_m`` None is the usual one, ``longest`` None has no limit, ``lane_every`` 0 no lanes."""

    azimuth_deg: float = 90.0
    pitch_m: float = 0.0
    spacing_m: float | None = None
    longest: int | None = None
    lane_every: int = 0
    lane_m: float = _LANE_M
    keep: bool = False

    def arguments(self) -> dict[str, Any]:
        """As ``plant_lines`` and ``offers`` want it, without the azimuth."""
        return {
            "pitch_m": self.pitch_m, "spacing_m": self.spacing_m, "longest": self.longest,
            "lane_every": self.lane_every, "lane_m": self.lane_m, "replace": not self.keep,
        }  # fmt: skip


class Planter(QObject):
    """The session's planting. ``began`` and ``ended`` tell when it is taken up and left, ``changed`` what it gives."""

    began = Signal()
    ended = Signal()
    changed = Signal()

    def __init__(self, session: Session) -> None:
        super().__init__(session)
        self._session = session
        self.active = False
        self.wish = Wish()
        self.edit: Edit | None = None
        self.fault = self.doubt = ""
        self._unread: dict[str, str] = {}
        self._shown: Design | None = None
        self._soon = QTimer(self, interval=0, singleShot=True)
        self._soon.timeout.connect(self._show)
        session.changed.connect(self._hear)
        self._take_up(session.state)

    @classmethod
    def of(cls, session: Session) -> "Planter":
        """The session's one; made on first asking."""
        found = session.findChild(cls)
        return found if isinstance(found, Planter) else cls(session)

    # what is asked for -----------------------------------------------------------------------------------------

    def type(self, key: str, text: str) -> None:
        """Take a typed figure of the wish; what cannot be read is told and gives no lines."""
        self.doubt = ""
        try:
            value: Any = self._read(key, text)
        except StillfieldError as error:
            self._unread[key] = str(error)
        else:
            self._unread.pop(key, None)
            self.wish = replace(self.wish, **{key: value})
        self._plan()

    def set(self, **values: Any) -> None:
        """Change parts of the wish."""
        for key in values:
            self._unread.pop(key, None)
        self.wish = replace(self.wish, **values)
        self._plan()

    def unread(self, key: str) -> bool:
        """Whether what stands in a field could not be read."""
        return key in self._unread

    def along_best_edge(self) -> None:
        """Take the azimuth of the plot's edge along which most mirrors fit."""
        from studio.edits.plant import offers

        try:
            found = offers(self._session.state.design, **self.wish.arguments())
            if not found:
                raise BadInputError(_("Along none of the plot's edges a line fits."))
        except StillfieldError as error:
            self.fault = str(error)
            self.changed.emit()
            return
        self.set(azimuth_deg=found[0].azimuth_deg)

    def _read(self, key: str, text: str) -> float | int | None:
        if not text.strip() and key in MAY_BE_EMPTY:
            return None
        typed = read_number(text, UNITS[key] if key not in _COUNTS else "")
        self.doubt = typed.doubt
        if key == "azimuth_deg":
            return typed.value % 360.0
        if key not in _COUNTS:
            return typed.value
        if typed.value != round(typed.value):
            raise BadInputError(
                _("{text} {unit} there are none; a whole number would be right.").format(
                    text=text.strip(), unit=_(UNITS[key])
                )
            )
        return int(typed.value)

    # what it gives ---------------------------------------------------------------------------------------------

    @property
    def new_lines(self) -> tuple[Line, ...]:
        """The lines that would be planted."""
        if self.edit is None:
            return ()
        there = len(self._session.state.design.lines) if self.wish.keep else 0
        return self.edit.design.lines[there:]

    @property
    def told(self) -> str:
        """How many lines and mirrors; empty where there are none."""
        if not (new := self.new_lines):
            return ""
        lines = plural("{count} line", "{count} lines", len(new))
        mirrors = number(sum(line.count for line in new), digits=0)
        return _("{lines}, {mirrors} mirrors").format(lines=lines, mirrors=mirrors)

    def take(self) -> bool:
        """Plant, as one step of undo; whether it was done."""
        edit = self.edit
        if not self.active or edit is None:
            return False
        self.active = False
        done = self._session.apply(edit)
        self.active = True
        if done:
            self._session.update(tool="pick")
        else:
            self._plan()
        return done

    def leave(self) -> None:
        """Put the tool away; nothing was planted."""
        if self.active:
            self._session.update(tool="pick")

    def _plan(self) -> None:
        self.edit, self.fault = None, next(iter(self._unread.values()), "")
        if not self.fault:
            from studio.edits.plant import plant_lines  # loaded when something is to be planted

            design = self._session.state.design
            try:
                self.edit = plant_lines(design, azimuth_deg=self.wish.azimuth_deg, **self.wish.arguments())
            except StillfieldError as error:
                self.fault = str(error)
        self._soon.start()
        self.changed.emit()

    def _show(self) -> None:
        """Show the lines, or put back what stood there; not while another hand holds something."""
        wanted = self.edit.design if self.active and self.edit is not None else None
        held = self._session.state.preview
        if wanted is held or (held is not None and held is not self._shown):
            return
        self._shown = wanted
        self._session.preview(wanted)

    # the session -----------------------------------------------------------------------------------------------

    def _hear(self, old: State, new: State) -> None:
        active = _in_hand(new)
        if active and not _in_hand(old):
            self._take_up(new)
        elif _in_hand(old) and not active:
            self.active, self.edit = False, None
            self._soon.start()
            self.ended.emit()
        elif self.active and new.design is not old.design:
            self._plan()

    def _take_up(self, state: State) -> None:
        if not _in_hand(state):
            return
        self.active = True
        self._unread.clear()
        self.wish = _first_wish(state.design)
        self._plan()
        self.began.emit()


def _in_hand(state: State) -> bool:
    return state.tool == TOOL and state.view == "plan"


def _first_wish(design: Design) -> Wish:
    """What to begin with: lines like those there are."""
    pitch = usual_pitch(design)
    if not design.lines:
        return Wish(pitch_m=pitch)
    return Wish(
        azimuth_deg=front_line(design).azimuth_deg, pitch_m=pitch,
        longest=max(line.count for line in design.lines),
    )  # fmt: skip
