"""Colours, fonts and maps of the desk, light and dark. Every painted part asks here; nothing else names a colour."""

from math import isnan
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from PySide6.QtCore import QObject, Qt, Signal
from PySide6.QtGui import QColor, QFont, QFontMetricsF, QPalette
from PySide6.QtWidgets import QApplication, QStyleFactory

Wish = Literal["system", "light", "dark"]
Bytes = NDArray[np.uint8]

_ROLES = {
    "window": ("F1EFEB", "161615"),
    "panel": ("FAF9F6", "1F1E1D"),
    "view": ("FCFBF9", "191918"),
    "outside": ("ECE9E3", "111110"),
    "ink": ("211E1A", "F0ECE5"),
    "ink2": ("5A544B", "BDB6AC"),
    "ink3": ("6E675D", "A29B91"),
    "edge": ("8F887D", "7E7870"),
    "hair": ("E2DED7", "33312F"),
    "line": ("C4BEB4", "4A4743"),
    "accent": ("B4430B", "F59A56"),
    "wash": ("FBEADF", "3A281C"),
    "better": ("0B6B5F", "55C9B6"),
    "worse": ("8E2A5B", "EC9BC4"),
    "stop": ("B3201B", "FF8A80"),
    "caution": ("F0B429", "F0B429"),
    "caution_rim": ("8A5A00", "F0B429"),
    "note": ("285E96", "8DBDF0"),
    "loss": ("8A9199", "828A93"),
    "rim": ("4E565F", "B4BBC2"),
    "on_stop": ("FFFFFF", "211E1A"),
    "on_caution": ("211E1A", "211E1A"),
    "shadow": ("333B4450", "82000000"),
}
"""Role to (light, dark); where there are eight digits the first two are the opacity. ``wash`` is the accent's ground."""

_HEAT = (
    ("F5F0E1", "E2B06F", "CA6A0C", "992E00", "550B13"),
    ("241310", "732B15", "BA580D", "EB9934", "FDE7A2"),
)
_SHADE = (
    ("EAEDF0", "B7BEC4", "868F99", "59636E", "303A47"),
    ("272E38", "49525D", "6F7A85", "99A4AC", "C7CFD5"),
)
_STEPS = 256
_MOST_KNOWN = 2000
"""Widths that a font remembers."""


class Face(QFont):
    """A font that remembers how wide it sets a text: painting asks that far oftener than it asks for new texts."""

    def __init__(self, font: QFont) -> None:
        super().__init__(font)
        self._metrics = QFontMetricsF(font)
        self._widths: dict[str, float] = {}

    def wide(self, text: str) -> float:
        """How wide a text is in logical pixels."""
        width = self._widths.get(text)
        if width is None:
            if len(self._widths) >= _MOST_KNOWN:
                self._widths.clear()
            width = self._widths[text] = self._metrics.horizontalAdvance(text)
        return width

    def shortened(self, text: str, room: float) -> str:
        """A text with dots at its end where it is wider than the room."""
        if self.wide(text) <= room:
            return text
        return self._metrics.elidedText(text, Qt.TextElideMode.ElideRight, room)


class Theme(QObject):
    """The desk's looks. ``changed`` tells painted parts to paint anew after a switch of light and dark."""

    changed = Signal()

    def __init__(self, app: QApplication, *, wish: Wish = "system") -> None:
        super().__init__(app)
        self._app = app
        self._wish: Wish = wish
        self._dark = False
        self._colors: dict[str, QColor] = {}
        self._heat: Bytes = np.zeros((_STEPS, 3), np.uint8)
        self._shade: Bytes = self._heat
        self._fonts: dict[tuple[int, int], Face] = {}
        app.setStyle(QStyleFactory.create("Fusion"))
        self._settle()
        app.styleHints().colorSchemeChanged.connect(self._follow)

    @classmethod
    def of(cls, app: QApplication) -> "Theme":
        """The application's theme; made on first asking."""
        found = app.findChild(cls)
        return found if isinstance(found, Theme) else cls(app)

    @property
    def dark(self) -> bool:
        """Whether the desk is dark now."""
        return self._dark

    @property
    def wish(self) -> Wish:
        """What the person asked for: light, dark, or as the system is."""
        return self._wish

    def set_wish(self, wish: Wish) -> None:
        """Be light, dark, or follow the system."""
        self._wish = wish
        self._follow()

    def color(self, role: str) -> QColor:
        """The colour of a role; KeyError for an unknown one."""
        return QColor(self._colors[role])

    def font(self, size: int = 13, weight: int = 400) -> "Face":
        """The platform's font at a size in logical pixels, with figures that line up; for all who ask, so not to be changed."""
        key = (size, weight)
        if key not in self._fonts:
            font = QFont(self._app.font())
            font.setPixelSize(size)
            font.setWeight(QFont.Weight(weight))
            font.setFeature(QFont.Tag("tnum"), 1)
            self._fonts[key] = Face(font)
        return self._fonts[key]

    def heat(self, x: ArrayLike) -> Bytes:
        """Colours of the heat map for values 0..1 of any shape: bytes (..., 3); beyond the ends they are held."""
        return _look_up(self._heat, x)

    def shade(self, x: ArrayLike) -> Bytes:
        """Colours of the shade map for values 0..1 of any shape: bytes (..., 3); beyond the ends they are held."""
        return _look_up(self._shade, x)

    def heat_color(self, x: float) -> QColor:
        """One colour of the heat map."""
        return _color_at(self._heat, x)

    def shade_color(self, x: float) -> QColor:
        """One colour of the shade map."""
        return _color_at(self._shade, x)

    def qss(self) -> str:
        """Borders of fields and buttons; everything else is the palette's."""
        c = {role: color.name() for role, color in self._colors.items()}
        return (
            f"QToolTip {{ color: {c['ink']}; background: {c['panel']}; border: 1px solid {c['edge']};"
            " padding: 4px 6px; }"
            f"QLineEdit {{ border: 1px solid {c['edge']}; border-radius: 4px; padding: 0 6px; }}"
            f"QLineEdit:focus {{ border: 2px solid {c['accent']}; padding: 0 5px; }}"
            f"QLineEdit[inherited='true'] {{ border: 1px dashed {c['edge']}; }}"
            f"QLineEdit[inherited='true']:focus {{ border: 2px solid {c['accent']}; }}"
            f"QLineEdit[refused='true'] {{ border: 2px solid {c['stop']}; padding: 0 5px; }}"
            f"QPlainTextEdit {{ border: 1px solid {c['edge']}; border-radius: 4px; padding: 2px; }}"
            f"QPlainTextEdit:focus {{ border: 2px solid {c['accent']}; padding: 1px; }}"
            f"QPushButton {{ border: 1px solid {c['edge']}; border-radius: 5px; padding: 4px 12px; }}"
            f"QPushButton:hover {{ background: {c['window']}; }}"
            f"QPushButton:disabled {{ border-color: {c['line']}; color: {c['ink3']}; }}"
            f"QPushButton:focus {{ border: 2px solid {c['accent']}; padding: 3px 11px; }}"
            "QScrollBar:vertical { background: transparent; width: 8px; margin: 0; border: none; }"
            f"QScrollBar::handle:vertical {{ background: {c['line']}; border-radius: 3px; min-height: 28px; margin: 0 2px 0 0; }}"
            f"QScrollBar::handle:vertical:hover {{ background: {c['edge']}; }}"
            "QScrollBar::add-line, QScrollBar::sub-line { height: 0; }"
            "QScrollBar::add-page, QScrollBar::sub-page { background: transparent; }"
            "QToolButton { border: 2px solid transparent; border-radius: 5px; padding: 2px 4px; }"
            f"QToolButton:hover {{ background: {c['hair']}; }}"
            f"QToolButton:focus {{ border-color: {c['accent']}; }}"
            f"QPushButton:pressed {{ background: {c['hair']}; }}"
        )

    def _follow(self) -> None:
        before = self._dark
        self._settle()
        if before != self._dark:
            self.changed.emit()

    def _settle(self) -> None:
        system = self._app.styleHints().colorScheme() is Qt.ColorScheme.Dark
        self._dark = system if self._wish == "system" else self._wish == "dark"
        place = int(self._dark)
        self._colors = {role: QColor("#" + pair[place]) for role, pair in _ROLES.items()}
        self._heat, self._shade = _even(_HEAT[place]), _even(_SHADE[place])
        self._app.setPalette(self._palette())
        self._app.setStyleSheet(self.qss())

    def _palette(self) -> QPalette:
        role, group = QPalette.ColorRole, QPalette.ColorGroup
        palette = QPalette()
        for qt, ours in (
            (role.Window, "panel"), (role.WindowText, "ink"), (role.Base, "view"), (role.AlternateBase, "window"),
            (role.Text, "ink"), (role.Button, "panel"), (role.ButtonText, "ink"), (role.BrightText, "stop"),
            (role.ToolTipBase, "panel"), (role.ToolTipText, "ink"), (role.PlaceholderText, "ink3"),
            (role.Highlight, "accent"), (role.HighlightedText, "view"), (role.Link, "note"), (role.Light, "view"),
            (role.Midlight, "hair"), (role.Mid, "line"), (role.Dark, "edge"), (role.Shadow, "ink3"),
        ):  # fmt: skip
            palette.setColor(qt, self._colors[ours])
        for qt in (role.WindowText, role.Text, role.ButtonText):
            palette.setColor(group.Disabled, qt, self._colors["ink3"])
        return palette


def _color_at(table: Bytes, x: float) -> QColor:
    x = 0.0 if isnan(x) else x
    r, g, b = table[round(min(max(x, 0.0), 1.0) * (_STEPS - 1))].tolist()
    return QColor(r, g, b)


def _look_up(table: Bytes, x: ArrayLike) -> Bytes:
    values = np.nan_to_num(np.asarray(x, float), nan=0.0)
    return np.asarray(table[np.rint(np.clip(values, 0.0, 1.0) * (_STEPS - 1)).astype(np.intp)])


_TO_CONES = np.array(
    [
        [0.4122214708, 0.5363325363, 0.0514459929],
        [0.2119034982, 0.6806995451, 0.1073969566],
        [0.0883024619, 0.2817188376, 0.6299787005],
    ]
)
_TO_LAB = np.array(
    [
        [0.2104542553, 0.7936177850, -0.0040720468],
        [1.9779984951, -2.4285922050, 0.4505937099],
        [0.0259040371, 0.7827717662, -0.8086757660],
    ]
)
"""Linear sRGB to cone response, its cube root to OKLab; Björn Ottosson, A perceptual color space (2020)."""


def _even(stops: tuple[str, ...]) -> Bytes:
    """A table of colours between stops, interpolated in OKLab so that equal steps look equal."""
    rgb = np.array([[int(stop[i : i + 2], 16) for i in (0, 2, 4)] for stop in stops]) / 255
    linear = np.where(rgb <= 0.04045, rgb / 12.92, ((rgb + 0.055) / 1.055) ** 2.4)
    lab = np.cbrt(linear @ _TO_CONES.T) @ _TO_LAB.T
    at = np.linspace(0, len(stops) - 1, _STEPS)
    between = np.column_stack([np.interp(at, np.arange(len(stops)), lab[:, i]) for i in range(3)])
    back = (between @ np.linalg.inv(_TO_LAB).T) ** 3 @ np.linalg.inv(_TO_CONES).T
    back = np.clip(back, 0.0, 1.0)
    out = np.where(back <= 0.0031308, 12.92 * back, 1.055 * back ** (1 / 2.4) - 0.055)
    table: Bytes = np.rint(np.clip(out, 0.0, 1.0) * 255).astype(np.uint8)
    return table
