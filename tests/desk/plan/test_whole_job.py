"""The whole job on the real window with the real assessment: an empty plot to a saved field and its material list.

Mouse and keys are real events; only the system's own file dialogs are answered here, and counted as two actions each
(the name typed, Enter).
"""

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from PySide6.QtCore import Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QFileDialog, QPushButton
from pytestqt.qtbot import QtBot

from studio.design.design import Design, Document
from studio.desk.plan.tools.under import handles
from studio.desk.plan.view import PlanView
from studio.desk.session import Session
from studio.desk.window import Window
from studio.desk.worker import assessor_apart
from studio.files.site import open_site

if TYPE_CHECKING:
    from tests.desk.plan.conftest import Hand

Key = Qt.Key
MOST_ACTIONS = 40


@pytest.fixture
def window(open_window: "Callable[..., Window]", qtbot: QtBot) -> Window:
    made = open_window(1600, 1000, Session(Document(design=Design())), assessor_apart)
    made.files.new()
    qtbot.waitUntil(lambda: made.session.state.fresh, timeout=60_000)
    return made


def test_an_empty_plot_becomes_a_field_that_passes_in_winter(
    window: Window, hand_in: "Callable[[PlanView, Session], Hand]", tmp_path: Path, qtbot: QtBot,
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str],
) -> None:  # fmt: skip
    view = window.view
    assert isinstance(view, PlanView)
    hand = hand_in(view, window.session)

    def settled() -> None:
        qtbot.waitUntil(lambda: hand.state.fresh and hand.state.progress is None, timeout=60_000)

    # the plot: a first corner, then four lengths typed while the hand points the way
    hand.key(Key.Key_P)
    hand.click((-22.0, -14.0))
    for way, length in (
        ((10.0, -14.1), "50"),
        ((27.9, 8.0), "30"),
        ((0.0, 17.0), "26,5"),
        ((-20.0, 13.0), "82 ft"),
    ):
        hand.point(way)
        hand.type(length)
        hand.key(Key.Key_Return)
    hand.key(Key.Key_Return)
    assert len(hand.state.design.plot.boundary) == 5
    # a line of 20 mirrors and four more at a pitch that is too small
    hand.key(Key.Key_L)
    hand.click((-16.0, -9.0))
    hand.point((-4.0, -9.1))
    hand.key(Key.Key_Tab)
    hand.key(Key.Key_Tab)
    hand.type("20")
    hand.key(Key.Key_Return)
    hand.key(Key.Key_D, control=True)
    hand.type("4")
    hand.key(Key.Key_Tab)
    hand.type("2.3")
    hand.key(Key.Key_Return)
    settled()
    assert [line.count for line in hand.state.design.lines] == [20] * 5
    before = hand.state.assessment
    assert before is not None
    shaded = before.figures["shade_loss_winter"]
    assert shaded is not None
    assert shaded > 0.05
    assert any(finding.key == "winter_shade" for finding in before.findings)
    # one drag spreads them until the check passes
    spread = next(
        h
        for h in handles(hand.canvas.drawing, hand.state.selection, hand.canvas.camera)
        if h.kind == "spread"
    )
    hand.drag(spread.at, (spread.at[0], spread.at[1] + 2.4))
    settled()
    after = hand.state.assessment
    assert after is not None
    clear = after.figures["shade_loss_winter"]
    assert clear is not None
    assert clear <= 0.05
    assert not any(finding.key == "winter_shade" for finding in after.findings)
    # saved, and opened again as it was
    kept = tmp_path / "field.stillfield"
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_args, **_kw: (str(kept), ""))
    hand.key(Key.Key_S, control=True)
    hand.actions += 2
    assert open_site(kept).design == hand.state.design
    assert not hand.state.unsaved
    # the material list
    lists = tmp_path / "lists"
    lists.mkdir()
    monkeypatch.setattr(QFileDialog, "getExistingDirectory", lambda *_args, **_kw: str(lists))
    hand.key(Key.Key_M, control=True)
    write = next(
        b for b in window.overlays.materials.findChildren(QPushButton) if b.text().startswith("Write")
    )
    QTest.mouseClick(write, Qt.MouseButton.LeftButton)
    hand.actions += 3
    qtbot.waitUntil(lambda: len(list(lists.glob("materials.*"))) == 3, timeout=60_000)
    with capsys.disabled():
        print(f"\n{hand.actions} actions; winter shade {shaded:.1%} before the drag, {clear:.1%} after it")
    assert hand.actions <= MOST_ACTIONS
