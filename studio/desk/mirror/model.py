"""What the Mirror view knows: the drawing of the moment at once, day, spot and error budget as they come from behind."""

from collections.abc import Callable, Hashable
from dataclasses import dataclass
from functools import partial
from typing import Protocol

from PySide6.QtCore import QObject, QTimer, Signal

from studio.design.design import Design
from studio.desk.background import Background, Job
from studio.desk.freshness import PATIENCE_MS
from studio.desk.session import Session
from studio.desk.state import State
from studio.drawings.mirror import MirrorDrawing, mirror_drawing
from studio.drawings.moment import sun_at
from studio.study.assessment import PlacedLine
from studio.study.budget import Bar, Sum, bar_of, mattering
from studio.study.curves import Curve
from studio.study.errands import Assets, Errand, Errands
from studio.study.mirror_day import MirrorDay, mirror_line
from studio.study.mirror_errands import curve_errand, day_errand, spot_errand, year_errand
from studio.study.spot import SpotAt
from studio.study.watch import Watch

RAYS_AT_ONCE = 20_000
MORE_RAYS = (100_000, 300_000)
"""Traced one after the other once the hand rests."""
REST_MS = 250
_DAY, _SPOT, _YEAR, _MORE, _CURVE = 0, 1, 2, 20, 30
"""Urgencies."""
RIBS, WINDOW = "mirror.ribs", "receiver.window_width_m"
CURVES = (RIBS, WINDOW)
"""The fields whose values heat is shown over."""
_RIBS_BESIDE = (-6, -4, -2, -1, 0, 1, 2, 4, 6)
_WINDOW_BESIDE_M = (-0.08, -0.04, -0.02, -0.01, 0.0, 0.01, 0.02, 0.04, 0.08)


@dataclass(frozen=True)
class _Known:
    """An answer and what it is of."""

    tag: Hashable
    value: object


class Runs(Protocol):
    """Who does errands."""

    def run(self, errand: Errand, assets: Assets, overtaken: Callable[[], bool] = ...) -> object:
        """The errand's answer; StoppedError if it was left."""
        ...


class MirrorModel(QObject):
    """Follows the session while it is awake.

    ``changed`` tells what is another: "now" (the moment, or anything else that the drawing shows), "design", or a
    family of answers: "day", "spot", "year", "curve".
    """

    changed = Signal(str)
    failed = Signal(object)

    def __init__(
        self, session: Session, *, make: Callable[[], Runs] | None = None, parent: QObject | None = None
    ) -> None:
        super().__init__(parent)
        self._session = session
        self._awake = self._curves_seen = False
        self._known: dict[str, _Known] = {}
        self._drawn: _Known | None = None
        self._read: tuple[Design, tuple[int, ...], PlacedLine, Hashable, tuple[str, ...]] | None = None
        self._worn: set[str] = set()
        self.background = Background(make or Errands, self, late_too=True)
        self.background.answered.connect(self._take)
        self.background.failed.connect(self._fail)
        self._patience = QTimer(self, interval=PATIENCE_MS, singleShot=True)
        self._patience.timeout.connect(self._wear)
        self._rest = QTimer(self, interval=REST_MS, singleShot=True)
        self._rest.timeout.connect(self._ask_rested)
        self._soon = QTimer(self, interval=0, singleShot=True)
        self._soon.timeout.connect(self._follow)
        session.changed.connect(self._hear)

    # what is shown ---------------------------------------------------------------------------------------------

    @property
    def design(self) -> Design:
        """The design that is shown."""
        return self._session.state.shown

    @property
    def clock_h(self) -> float:
        """The moment's clock hour."""
        return self._session.state.moment.clock_h

    @property
    def day_of_year(self) -> int:
        """The moment's date."""
        return self._session.state.moment.day_of_year

    @property
    def drawing(self) -> MirrorDrawing:
        """The mirror at the moment; worked out once for each state that changes it."""
        pose = self._held_pose()
        tag = (self._subject(), self._session.state.moment, pose)
        if self._drawn is None or self._drawn.tag != tag:
            state = self._session.state
            sun = sun_at(self.design.site, state.moment.day_of_year, state.moment.clock_h)
            self._drawn = _Known(tag, mirror_drawing(self.design, self._line(), sun, pose=pose))
        assert isinstance(self._drawn.value, MirrorDrawing)
        return self._drawn.value

    @property
    def day(self) -> MirrorDay | None:
        """Four days; the last ones known."""
        known = self._known.get("day")
        return known.value if known is not None and isinstance(known.value, MirrorDay) else None

    @property
    def spot(self) -> SpotAt | None:
        """The spot by rays; None while there is no sun on the mirror, and before the first one."""
        known = self._known.get("spot")
        return known.value if known is not None and isinstance(known.value, SpotAt) else None

    @property
    def year(self) -> Sum | None:
        """The year with every error on."""
        return self._sum("")

    def bar(self, key: str) -> Bar | None:
        """What switching an error off would bring, None before it is known; both years are of the same design."""
        base, without = self._known.get("year:"), self._known.get(f"year:{key}")
        if base is None or without is None or base.tag != without.tag:
            return None
        assert isinstance(base.value, Sum)
        assert isinstance(without.value, Sum)
        return bar_of(key, base.value, without.value)

    def curve(self, path: str) -> Curve | None:
        """The field's heat over the values of one of ``CURVES``."""
        known = self._known.get(f"curve:{path}")
        return known.value if known is not None and isinstance(known.value, Curve) else None

    def has_curve(self, path: str) -> bool:
        """Whether a curve means anything: the number of ribs does nothing where their places are given."""
        return bool(self.design.lines) and not (path == RIBS and self.design.mirror.rib_places_m)

    def want_curves(self, wanted: bool) -> None:
        """Whether the curves are seen, and so worked out."""
        if wanted != self._curves_seen:
            self._curves_seen = wanted
            if self._awake:
                self._soon.start()

    def matters(self, key: str) -> bool:
        """Whether switching an error off changes anything in this design."""
        return key in self._keys()

    def is_stale(self, kind: str) -> bool:
        """Whether what is shown of a kind ("day", "spot", "year:slope") is from before the move, as one should be told."""
        known = self._known.get(kind)
        return _family(kind) in self._worn and known is not None and known.tag != self._tag(kind)

    def is_coming(self, kind: str) -> bool:
        """Whether nothing of a kind is there yet."""
        return kind not in self._known

    @property
    def is_whole(self) -> bool:
        """Whether all that is shown is of this state, and nothing more is being worked out."""
        spot = self.spot
        rays = spot is None or spot.count >= MORE_RAYS[-1]
        return rays and not self._wanting() and self.background.idle

    # following -------------------------------------------------------------------------------------------------

    def wake(self) -> None:
        """The view is seen: follow the session."""
        self._awake = True
        self.changed.emit("design")
        self.changed.emit("now")
        self._soon.start()

    def sleep(self) -> None:
        """The view is hidden: work nothing out."""
        self._awake = False
        self._rest.stop()
        self._soon.stop()
        self.background.stop()

    def _hear(self, old: State, new: State) -> None:
        if self._awake and (
            new.shown is not old.shown or new.moment != old.moment or new.selection != old.selection
        ):
            if new.shown is not old.shown or new.selection != old.selection:
                self.changed.emit("design")
            self.changed.emit("now")
            self._soon.start()  # however many changes come before the next frame

    def _follow(self) -> None:
        """Ask for what is not of this state: the day and a few rays at once, the rest when the hand rests."""
        self._ask("day", Errand(day_errand, (self.design, self._ids(), self.day_of_year)), _DAY)
        if self._session.state.preview is None:
            self._ask_spot(RAYS_AT_ONCE, _SPOT)
        else:  # a hand drags a number: the day and the field's heat need the processor first
            self.background.stop("spot")
        self.background.stop("more")
        if any(self._wants(f"year:{key}") for key in self._keys()):
            self.background.stop("year")
        if any(self._wants(f"curve:{path}") for path in CURVES):
            self.background.stop("curve")
        self._rest.start()
        if self._wanting() - self._worn and not self._patience.isActive():
            self._patience.start()

    def _ask_rested(self) -> None:
        for place, key in enumerate(self._keys()):
            errand = Errand(year_errand, (self.design, self._ids(), key))
            self._ask(f"year:{key}", errand, _YEAR + place)
        self._ask_spot(RAYS_AT_ONCE, _SPOT)
        self._ask_more_rays()
        for path in CURVES if self._curves_seen else ():
            if self.has_curve(path):
                errand = Errand(curve_errand, (self.design, path, self._values(path)))
                self._ask(f"curve:{path}", errand, _CURVE)

    def _values(self, path: str) -> tuple[float, ...]:
        """The design's own value and others about it."""
        if path == RIBS:
            ribs = self.design.mirror.ribs
            return tuple(float(ribs + by) for by in _RIBS_BESIDE if ribs + by >= 2)
        wide = self.design.receiver.window_width_m
        return tuple(round(wide + by, 6) for by in _WINDOW_BESIDE_M if wide + by >= 0.02)

    def _keys(self) -> tuple[str, ...]:
        """The years that are wanted: all on, and every error that does something in this design."""
        return self._reading()[4]

    def _ask_more_rays(self) -> None:
        spot = self.spot
        if spot is None or self._wants("spot"):
            return
        more = next((rays for rays in MORE_RAYS if rays > spot.count), None)
        if more is not None:
            self._ask_spot(more, _MORE, kind="more")

    def _ask_spot(self, rays: int, urgency: int, *, kind: str = "spot") -> None:
        moment, drawing = self._session.state.moment, self.drawing
        pose = drawing.slide_m, drawing.roll_deg
        args = (self.design, self._ids(), moment.day_of_year, moment.clock_h, pose, rays)
        self._ask(kind, Errand(spot_errand, args), urgency)

    def _ask(self, kind: str, errand: Errand, urgency: int) -> None:
        if self._wants(kind):
            assets = self._session.state.document.assets
            self.background.ask(Job(kind, self._tag(kind), partial(_run, errand, assets), urgency))

    def _wants(self, kind: str) -> bool:
        known = self._known.get(kind)
        return known is None or known.tag != self._tag(kind)

    # answers ---------------------------------------------------------------------------------------------------

    def _take(self, kind: str, tag: Hashable, answer: object) -> None:
        if kind == "more":
            if tag != self._tag("more"):
                return
            kind = "spot"
        self._known[kind] = _Known(tag, answer)
        if kind == "day" and self._held_pose() is not None:
            self._ask_spot(RAYS_AT_ONCE, _SPOT)
        if kind == "spot" and not self._rest.isActive():
            self._ask_more_rays()
        self._worn.discard(_family(kind))
        if self._wanting():
            self._patience.start()
        self.changed.emit(_family(kind))

    def _wanting(self) -> set[str]:
        """The families of answers that are not all of this state."""
        kinds = ("day", "spot", *(f"year:{key}" for key in self._keys()))
        if self._curves_seen:
            kinds += tuple(f"curve:{path}" for path in CURVES if self.has_curve(path))
        return {_family(kind) for kind in kinds if self._wants(kind)}

    def _fail(self, kind: str, tag: Hashable, error: object) -> None:
        self.failed.emit(error)

    def _wear(self) -> None:
        self._worn |= self._wanting()
        for family in sorted(self._worn):
            self.changed.emit(family)

    # what an answer is of --------------------------------------------------------------------------------------

    def _ids(self) -> tuple[int, ...]:
        return self._session.state.selected_lines()

    def _line(self) -> PlacedLine:
        return self._reading()[2]

    def _subject(self) -> Hashable:
        """All that a mirror's light reads of the design."""
        return self._reading()[3]

    def _reading(self) -> tuple[Design, tuple[int, ...], PlacedLine, Hashable, tuple[str, ...]]:
        """Design, selected lines, and what follows from them; worked out once for each."""
        d, ids = self.design, self._ids()
        if self._read is None or self._read[0] is not d or self._read[1] != ids:
            placed = mirror_line(d, ids)
            line = next((line for line in d.lines if line.id == placed.id), None)
            subject = (d.mirror, d.receiver, d.motion, d.pipe, d.materials, d.oil, d.site, d.ground, line)
            keys = ("", *mattering(d, placed))
            self._read = d, ids, placed, subject, keys
        return self._read

    def _tag(self, kind: str) -> Hashable:
        if kind == "day":
            return (self._subject(), self.day_of_year)
        if kind in ("spot", "more"):
            return (self._subject(), self._session.state.moment, self._held_pose())
        if kind.startswith("curve"):
            return self.design
        return self._subject()

    def _held_pose(self) -> tuple[float, float] | None:
        """The pose of the moment where a hand sets it for days: as the day was worked out; None where all follows."""
        motion, known = self.design.motion, self._known.get("day")
        if "held" not in (motion.slide, motion.roll) or known is None or known.tag != self._tag("day"):
            return None
        assert isinstance(known.value, MirrorDay)
        curve = known.value.curves[0]
        slide, roll = (curve.at(values, self.clock_h) for values in (curve.slide_m, curve.roll_deg))
        return (slide, roll) if slide == slide and roll == roll else None

    def _sum(self, key: str) -> Sum | None:
        known = self._known.get(f"year:{key}")
        return known.value if known is not None and isinstance(known.value, Sum) else None


def _family(kind: str) -> str:
    """What goes stale together: the years of all errors do."""
    return kind.partition(":")[0]


def _run(errand: Errand, assets: Assets, errands: Runs, watch: Watch) -> object:
    """An errand as a job of the background."""
    return errands.run(errand, assets, lambda: not watch("", 0.0))
