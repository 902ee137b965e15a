"""The sheet: a form of whatever is selected; with nothing selected, of the site."""

from collections.abc import Callable, Iterator

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication, QLabel, QToolButton, QVBoxLayout, QWidget

from studio.design.design import Design
from studio.desk.group_box import GroupBox
from studio.desk.layouts import column, line, scrolling
from studio.desk.session import Session
from studio.desk.sheet_groups import page_for
from studio.desk.sheet_parts import Group, Page
from studio.desk.state import State
from studio.desk.theme import Theme
from studio.desk.views import turn_to
from studio.drawings.section_cut import square_cut
from studio.edits.edit import Edit
from studio.edits.geometry import usual_pitch
from studio.edits.header import clear_header
from studio.edits.lines import delete_lines, repeat_lines
from studio.edits.obstacles import delete_obstacle
from studio.edits.plot import clear_boundary, delete_no_build
from studio.edits.spots import clear_heights
from studio.edits.underlay import clear_underlay
from studio.errors import StillfieldError
from studio.text import _

_MOST_MADE = 40
_AT_ONCE = 4
"""Fields that are made ahead in one pause."""


class Sheet(QWidget):
    """The left panel's form."""

    def __init__(self, session: Session, theme: Theme) -> None:
        super().__init__()
        self.setAccessibleName(_("Sheet"))
        self._session, self._theme = session, theme
        self._folds: dict[str, bool] = {}
        self._boxes: list[GroupBox] = []
        self._made: dict[tuple[object, ...], GroupBox] = {}
        """Boxes by what their fields are of, those that were asked for last at the end."""
        self._page: Page | None = None
        self._shape: tuple[object, ...] = ()
        self._title, self._about = QLabel(), QLabel()
        self._title.setFont(theme.font(15, 600))
        self._about.setFont(theme.font(12))
        self._actions = line(spacing=2)
        top = line(margins=(16, 8, 8, 0), spacing=4)
        top.addWidget(self._title, 1)
        top.addLayout(self._actions)
        below = line(margins=(16, 0, 16, 8))
        below.addWidget(self._about)
        inside = QWidget()
        self._stack: QVBoxLayout = column(inside, margins=(0, 0, 0, 12))
        self._stack.addStretch(1)
        self._scroll = scrolling(inside)
        whole = column(self)
        whole.addLayout(top)
        whole.addLayout(below)
        whole.addWidget(self._scroll, 1)
        session.changed.connect(self._hear)
        theme.changed.connect(self._colors)
        self._colors()
        self._build()

    def reveal(self, section: str) -> bool:
        """Show the view's form with one group unfolded (an explanation asked for it); whether it has that group."""
        self._session.select()
        for box in self._boxes:
            if box.group.key == section:
                box.fold(False)
                QApplication.processEvents()
                self._scroll.ensureWidgetVisible(box, 0, 60)
                return True
        return False

    # -----------------------------------------------------------------------------------------------------------

    def _hear(self, old: State, new: State) -> None:
        if new.shown is not old.shown or new.selection != old.selection or new.view != old.view:
            self._build() if self._wanted() != self._shape else self._refresh()

    def _wanted(self) -> tuple[object, ...]:
        state = self._session.state
        weather = state.shown.site.weather.kind
        kinds = tuple(one.kind for one in state.shown.obstacles)
        heights = state.shown.ground.heights
        seen = (None if heights is None else heights.kind, bool(state.shown.underlay.asset))
        return state.view, state.selection, weather, len(state.shown.oil.rows), kinds, seen

    def _build(self) -> None:
        self._shape = self._wanted()
        state = self._session.state
        self._page = page_for(state.shown, state.selection, view=state.view)
        for box in self._boxes:
            self._stack.removeWidget(box)
            box.hide()
        self._boxes = []
        for place, group in enumerate(self._page.groups):
            box = self._box_of(group)
            self._stack.insertWidget(place, box)
            self._boxes.append(box)
        self._let_go()
        self._show_actions(self._page)
        self._show_under()
        self._say(self._page)

    def _box_of(self, group: Group) -> GroupBox:
        """The box of a group, as it was made before where its fields are the same."""
        folded = self._folds.get(group.key, not group.open)
        known = self._made.pop(self._key(group), None)
        if known is None:
            return self._make(group, folded=folded)
        self._made[self._key(group)] = known
        known.show_again(folded=folded)
        return known

    def _make(self, group: Group, *, folded: bool) -> GroupBox:
        made = GroupBox(self._session, self._theme, group, folded=folded, parent=self._scroll.widget())
        made.folded.connect(self._folded)
        self._made[self._key(group)] = made
        return made

    def _key(self, group: Group) -> tuple[object, ...]:
        """What the fields of a group are of."""
        return group.key, group.title, None if group.whole else self._shape

    def _let_go(self) -> None:
        """Of boxes that are not shown keep those that were asked for last."""
        for key in list(self._made)[:-_MOST_MADE]:
            if self._made[key] not in self._boxes:
                self._made.pop(key).deleteLater()

    def ahead(self, view: str) -> Iterator[None]:
        """Make the open groups of a view's form before they are asked for, some fields at each step."""
        for group in page_for(self._session.state.shown, frozenset(), view=view).groups:
            if group.whole and group.open:
                box = self._made.get(self._key(group))
                if box is None:
                    box = self._make(group, folded=True)
                    box.hide()
                while box.fill(_AT_ONCE):
                    yield

    def _folded(self, key: str, folded: bool) -> None:
        self._folds[key] = folded
        self._show_under()

    def _show_under(self) -> None:
        """Groups of a group show while it is unfolded."""
        open_keys = {box.group.key for box in self._boxes if not box.is_folded}
        for box in self._boxes:
            box.setVisible(not box.group.under or box.group.under in open_keys)

    def _refresh(self) -> None:
        if self._page is None:
            return
        self._say(self._page)
        for box in self._boxes:
            box.refresh()

    def _say(self, page: Page) -> None:
        self._title.setText(page.title)
        self._about.setText(page.about(self._session.state.shown))

    def _show_actions(self, page: Page) -> None:
        while self._actions.count():
            item = self._actions.takeAt(0)
            widget = item.widget() if item is not None else None
            if widget is not None:
                widget.hide()
                widget.deleteLater()
        words = {
            "cut_square": (_("Section"), _("Cut the ground square to this line and look at it")),
            "repeat_lines": (_("Repeat"), _("Once more behind, at the pitch to its neighbour (Ctrl+D)")),
            "delete_lines": (_("Remove"), _("Take away (Delete)")),
            "delete_no_build": (_("Remove"), _("Let it be built on again")),
            "delete_obstacle": (_("Remove"), _("Take away (Delete)")),
            "clear_boundary": (_("Remove"), _("Take the boundary away")),
            "clear_heights": (
                _("Without heights"),
                _("Take the measured heights of the ground away; its slope counts again"),
            ),
            "clear_underlay": (_("Remove"), _("Take the picture away (Delete)")),
            "clear_header": (_("By itself"), _("Let the header follow the line ends")),
        }
        for key in page.actions:
            text, tip = words[key]
            button = QToolButton()
            button.setText(text)
            button.setToolTip(tip)
            button.setAutoRaise(True)
            button.setFont(self._theme.font(12))
            button.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
            button.clicked.connect(lambda _checked=False, key=key: self._act(key))
            self._actions.addWidget(button)

    def _act(self, key: str) -> None:
        state = self._session.state
        ids = state.selected_lines()
        if key == "cut_square":
            self._session.update(cut=square_cut(state.design, ids[0], drawn=True))
            turn_to(self._session, "section")
            return
        areas = [int(s.key) for s in state.selection if s.kind == "no_build"]
        obstacles = [int(s.key) for s in state.selection if s.kind == "obstacle"]
        acts: dict[str, Callable[[Design], Edit]] = {
            "repeat_lines": lambda d: repeat_lines(d, ids=ids, times=1, pitch_m=usual_pitch(d)),
            "delete_lines": lambda d: delete_lines(d, ids=ids),
            "delete_no_build": lambda d: delete_no_build(d, area=areas[0]),
            "delete_obstacle": lambda d: delete_obstacle(d, obstacle=obstacles[0]),
            "clear_boundary": lambda d: clear_boundary(d),
            "clear_heights": lambda d: clear_heights(d),
            "clear_underlay": lambda d: clear_underlay(d),
            "clear_header": lambda d: clear_header(d),
        }
        try:
            edit = acts[key](state.design)
        except StillfieldError as error:
            self._session.update(notice=str(error))
            return
        self._session.apply(edit)

    def _colors(self) -> None:
        for label, role in ((self._title, "ink"), (self._about, "ink2")):
            palette = label.palette()
            palette.setColor(label.foregroundRole(), self._theme.color(role))
            label.setPalette(palette)
