"""How long the desk takes from nothing to a window that answers, as a ratio to importing what it is made of.

Both are fresh processes, in turn, timed from their start to what they show: the first imports PySide6, pyqtgraph and numpy
and shows an empty plot; the second opens the desk on the example as the command does, until its plan is painted and a press
of a key has been answered. A window is usable then; figures follow from a process of their own. The best of each counts;
at most 2.
"""

import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

EXAMPLE = Path(__file__).parents[2] / "example_sites" / "workshop_plot.stillfield"
RUNS = 5
_PLOT = """
import time
import numpy, pyqtgraph
from PySide6.QtWidgets import QApplication
app = QApplication([])
plot = pyqtgraph.PlotWidget()
plot.resize(1600, 1000)
plot.show()
while not plot.isVisible():
    app.processEvents()
plot.grab()
app.processEvents()
print(time.time())
"""
_DESK = """
import sys, time
from pathlib import Path
from studio.desk.app import load_before_qt, open_window

load_before_qt()
app, window = open_window(Path(sys.argv[1]))
from PySide6.QtCore import QEvent, Qt, QTimer
from PySide6.QtGui import QKeyEvent

def look():
    if not (window.isVisible() and window.session.state.design.lines):
        QTimer.singleShot(1, look)
        return
    window.grab()
    key = QKeyEvent(QEvent.Type.KeyPress, Qt.Key.Key_M, Qt.KeyboardModifier.NoModifier, "m")
    app.sendEvent(window.view.canvas, key)
    assert window.session.state.tool == "measure", window.session.state.tool
    print(time.time())
    window.worker.close()
    app.quit()

QTimer.singleShot(0, look)
sys.exit(app.exec())
"""


def _seconds(script: str, *arguments: str, state: Path) -> float:
    """From the start of a process to the time it tells."""
    start = time.time()
    done = subprocess.run(
        [sys.executable, "-c", script, *arguments],
        check=True, timeout=60, env=_environment(state), stdout=subprocess.PIPE,
    )  # fmt: skip
    return float(done.stdout) - start


def _environment(state: Path) -> dict[str, str]:
    """Offscreen, with a state folder of its own, and all modules from their bytecode, as what is installed has it."""
    own = {
        "QT_QPA_PLATFORM": "offscreen", "HOME": str(state), "XDG_STATE_HOME": str(state),
        "PYTHONPYCACHEPREFIX": str(state / "bytecode"),
    }  # fmt: skip
    return {key: value for key, value in os.environ.items() if key != "PYTHONDONTWRITEBYTECODE"} | own


def test_start_of_the_desk_against_its_libraries(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    turns = [
        (_seconds(_PLOT, state=tmp_path), _seconds(_DESK, str(EXAMPLE), state=tmp_path))
        for _turn in range(RUNS)
    ]
    plot, desk = (min(times) for times in zip(*turns, strict=True))
    with capsys.disabled():
        print(f"\nlibraries and an empty plot {plot:.2f} s; desk {desk:.2f} s, ratio {desk / plot:.2f}")
    assert desk / plot <= 2.0
