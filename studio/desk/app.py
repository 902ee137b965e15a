"""Starting the desk: a display there is, the window first, then what takes longer to load."""

import gc
import os
import sys
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING

from studio.text import _

if TYPE_CHECKING:
    from PySide6.QtWidgets import QApplication

    from studio.desk.window import Window

NO_DISPLAY = 4
"""Exit status when there is nowhere to show a window."""
_PROBE_S = 20.0
_FIRST = 1600, 1000
_SWITCH_S = 0.002
"""Files are read on threads of their own; the window's waits no longer than this for its turn at the interpreter."""
_BEFORE_QT = ("studio.drawings.plan", "studio.edits.fields", "studio.files.keeping", "studio.files.site")
"""What knows nothing of Qt and brings most of what a first window needs, numpy and shapely with it."""


def run(path: Path | None) -> int:
    """Open the desk, on a site file if one is named; the exit status."""
    load_before_qt()
    trouble = display_trouble()
    if trouble:
        print(trouble, file=sys.stderr)
        return NO_DISPLAY
    app, _window = open_window(path)
    return app.exec()


def load_before_qt() -> None:
    """Load what knows nothing of Qt: PySide6 reads the source text of every module that is loaded after it.

    Until the window stands nobody looks for garbage: what is loaded stays, and looking takes a tenth of the start.
    """
    gc.disable()
    for name in _BEFORE_QT:
        import_module(name)


def open_window(path: Path | None) -> "tuple[QApplication, Window]":
    """The application and its window, shown; it opens the file once events are dealt with."""
    from PySide6.QtCore import QSettings, QTimer
    from PySide6.QtWidgets import QApplication

    sys.setswitchinterval(_SWITCH_S)
    app = QApplication.instance() or QApplication(sys.argv[:1])
    assert isinstance(app, QApplication)
    app.setApplicationName("Stillfield")
    app.setOrganizationName("Stillfield")
    app.setApplicationDisplayName("Stillfield")

    from studio.desk.crash import install
    from studio.desk.later import Later
    from studio.desk.session import Session
    from studio.desk.theme import Theme
    from studio.desk.window import Window
    from studio.desk.worker import assessor_apart

    window = Window(Session(), Theme.of(app), assessor_apart, QSettings())
    install(lambda where: window.bars.tell("crash", _told_fault(where)))
    room = app.primaryScreen().availableSize()
    window.resize(min(_FIRST[0], room.width()), min(_FIRST[1], room.height()))
    window.show()

    def start() -> None:
        try:
            window.start(path)
        finally:
            gc.freeze()
            gc.enable()
        Later(window, then=window.sheet.ahead("mirror")).start()

    QTimer.singleShot(0, start)
    return app, window


def display_trouble() -> str:
    """Why no window can be shown here, in one sentence; empty when one can.

    Qt ends the process without a word of ours where its platform cannot start, so it is tried before; only on Linux,
    where displays and their libraries may be missing.
    """
    platform = os.environ.get("QT_QPA_PLATFORM", "")
    if not sys.platform.startswith("linux") or platform in ("offscreen", "minimal"):
        return ""
    if not platform and not os.environ.get("DISPLAY") and not os.environ.get("WAYLAND_DISPLAY"):
        return _(
            "There is no display to open a window on; start Stillfield from a desktop, or use its commands "
            "(stillfield --help)."
        )
    if (platform in ("", "xcb") and _x_display_works()) or _starts():
        return ""
    return _(
        "The display cannot be used: the system's libraries for windows are missing or the display refuses; "
        "on Debian and its kin 'apt install libxcb-cursor0 libegl1 libxkbcommon-x11-0' brings them."
    )


def _x_display_works() -> bool:
    """Whether Qt's plugin for X finds its libraries and the display answers: some milliseconds where all is well."""
    import ctypes

    from PySide6.QtCore import QLibraryInfo

    folder = Path(QLibraryInfo.path(QLibraryInfo.LibraryPath.PluginsPath))
    try:
        ctypes.CDLL(str(folder / "platforms" / "libqxcb.so"))
        xcb = ctypes.CDLL("libxcb.so.1")
    except OSError:
        return False
    xcb.xcb_connect.restype = ctypes.c_void_p
    connection = ctypes.c_void_p(xcb.xcb_connect(None, None))
    works = xcb.xcb_connection_has_error(connection) == 0
    xcb.xcb_disconnect(connection)
    return bool(works)


def _starts() -> bool:
    """Whether a Qt application comes up in a process of its own: slower, and sure on any platform."""
    import subprocess

    probe = "from PySide6.QtGui import QGuiApplication; QGuiApplication([])"
    try:
        done = subprocess.run(
            [sys.executable, "-c", probe], capture_output=True, timeout=_PROBE_S, check=False
        )
    except (OSError, subprocess.TimeoutExpired):
        return False
    return done.returncode == 0


def _told_fault(where: Path | None) -> str:
    text = _("Something went wrong through a fault of the program; the design is safe and journalled.")
    if where is None:
        return text
    return f"{text} {_('A report without names and paths is at {path}.').format(path=where)}"
