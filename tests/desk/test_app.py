"""Starting: a sentence and an exit status where there is no display, nothing heavy before the window is up."""

import json
import os
import subprocess
import sys

import pytest

from studio.desk.app import NO_DISPLAY, display_trouble
from studio.files.examples import FIRST, example_path

LINUX = sys.platform.startswith("linux")


def started(code: str, *arguments: str, **env: str) -> subprocess.CompletedProcess[str]:
    clean = {
        k: v for k, v in os.environ.items() if k not in ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM")
    }
    return subprocess.run(
        [sys.executable, "-c", code, *arguments],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
        env=clean | env,
    )


@pytest.mark.skipif(not LINUX, reason="only Linux runs without a display")
def test_without_a_display_it_says_so_and_leaves() -> None:
    done = started("from studio.desk.app import run; raise SystemExit(run(None))")
    assert done.returncode == NO_DISPLAY
    assert done.stderr.count("\n") == 1
    assert "display" in done.stderr


@pytest.mark.skipif(not LINUX, reason="only Linux runs without a display")
def test_a_display_that_refuses_does_not_abort_without_a_word() -> None:
    done = started("from studio.desk.app import run; raise SystemExit(run(None))", DISPLAY=":987")
    assert done.returncode == NO_DISPLAY
    assert done.stderr.count("\n") == 1


def test_offscreen_needs_no_display(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("QT_QPA_PLATFORM", "offscreen")
    assert display_trouble() == ""


def test_the_window_is_up_before_what_is_heavy() -> None:
    code = """
import sys
from PySide6.QtCore import QSettings
from PySide6.QtWidgets import QApplication
app = QApplication([])
from studio.desk.session import Session
from studio.desk.theme import Theme
from studio.desk.window import Window
window = Window(Session(), Theme.of(app), lambda: None, QSettings("x.ini", QSettings.Format.IniFormat))
window.show()
app.processEvents()
print([name for name in ("pandas", "pvlib", "scipy.optimize", "xlsxwriter", "typst", "fluids", "ht") if name in sys.modules])
"""
    done = started(code, QT_QPA_PLATFORM="offscreen")
    assert done.stdout.strip() == "[]", done.stderr


def test_a_window_shows_its_design_first_and_loads_the_rest_once_it_stands() -> None:
    code = """
import gc, json, sys
from pathlib import Path
from studio.desk.app import load_before_qt, open_window
from studio.desk.later import LATER, Later
load_before_qt()
app, window = open_window(Path(sys.argv[1]))
while not window.session.state.design.lines:
    app.processEvents()
window.grab()
shown = len(window.session.state.design.lines), window.view.canvas.drawing.lines[0].id
early = [name for name in ("pydantic", "urllib.request", "sqlite3", *LATER) if name in sys.modules]
later = window.findChild(Later)
seen = set()
while later.left:
    seen.add(len(later.left))
    app.processEvents()
window.worker.close()
print(json.dumps([shown, early, sorted(set(LATER) - set(sys.modules)), len(seen) == len(LATER), gc.isenabled()]))
"""
    done = started(code, str(example_path(FIRST)), QT_QPA_PLATFORM="offscreen")
    shown, early, missing, one_by_one, looks_for_garbage = json.loads(done.stdout)
    assert shown[0] > 0
    assert early == [], "a first window does not need these"
    assert missing == []
    assert one_by_one
    assert looks_for_garbage
