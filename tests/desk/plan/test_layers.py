"""Layers by hand: hidden ones are neither seen nor taken, locked ones seen and not taken, faded ones drawn faintly."""

from typing import TYPE_CHECKING

import numpy as np
import pytest
from PySide6.QtCore import QSettings, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication, QWidget
from pytestqt.qtbot import QtBot

from studio.design.design import Document
from studio.desk.findings_list import FindingRow, FindingsList
from studio.desk.layer_memory import LayerMemory
from studio.desk.plan.layer_panel import told_layers
from studio.desk.plan.tools.chain import Drawn
from studio.desk.session import Session
from studio.desk.state import HOLDING, LAYERS, State, Subject, layer_of
from studio.desk.theme import Theme
from studio.study.findings import Finding
from tests.desk.conftest import invented_assessment

if TYPE_CHECKING:
    from tests.desk.plan.conftest import Hand

Key = Qt.Key
LINE_2, WELL, STORE, EDGE = (10.0, 3.2), (42.0, 23.0), (42.0, 3.0), (20.0, -8.0)
"""Places on the invented site: middle of line 2, the no-build area, the store, the plot's lower edge."""
WHERE = {"lines": LINE_2, "no_build": WELL, "headers": STORE, "land": EDGE}


def panel_click(hand: "Hand", part: QWidget) -> None:
    QTest.mouseClick(part, Qt.MouseButton.LeftButton)


def ink(hand: "Hand") -> np.ndarray:
    """The canvas as grey values."""
    image = hand.canvas.grab().toImage()
    image = image.convertToFormat(image.Format.Format_Grayscale8)
    flat = np.frombuffer(bytes(image.constBits()), np.uint8)
    return flat.reshape(image.height(), image.bytesPerLine())[:, : image.width()].astype(int)


@pytest.mark.parametrize("layer", WHERE)
def test_a_hidden_layer_is_neither_seen_nor_taken(hand: "Hand", layer: str) -> None:
    hand.click(WHERE[layer])
    (subject,) = hand.state.selection
    assert layer_of(subject) == layer
    before = ink(hand)
    hand.session.toggle_layer(layer)
    assert hand.state.selection == frozenset()
    hidden = ink(hand)
    assert (np.abs(before - hidden) > 40).sum() > 100
    hand.click(WHERE[layer])
    assert subject not in hand.state.selection
    hand.session.toggle_layer(layer)
    hand.session.select()
    hand.click(WHERE[layer])
    assert subject in hand.state.selection


@pytest.mark.parametrize("layer", WHERE)
def test_a_locked_layer_is_seen_and_not_taken_dragged_or_deleted(hand: "Hand", layer: str) -> None:
    hand.session.select()
    before = ink(hand)
    hand.session.toggle_lock(layer)
    assert (ink(hand) == before).all()
    x, y = WHERE[layer]
    design = hand.state.design
    hand.drag((x, y), (x + 3.0, y + 1.0))
    assert layer not in {layer_of(subject) for subject in hand.state.selection}
    hand.key(Key.Key_Delete)
    hand.key(Key.Key_A, control=True)
    assert layer not in {layer_of(subject) for subject in hand.state.selection}
    assert hand.state.design == design
    hand.session.toggle_lock(layer)
    hand.click(WHERE[layer])
    assert layer in {layer_of(subject) for subject in hand.state.selection}


def test_what_lies_under_a_locked_line_can_be_taken(hand: "Hand") -> None:
    """A box over everything takes no locked lines, so the areas come."""
    hand.session.toggle_lock("lines")
    hand.drag((-9.0, 27.5), (49.0, -7.5))
    assert hand.state.selection == {Subject("no_build", 0)}


def test_a_locked_corner_still_catches_what_is_drawn(hand: "Hand") -> None:
    hand.session.toggle_lock("land")
    hand.type("m")
    hand.click((49.9, -7.9))
    hand.point((30.0, 5.0))
    tool = hand.canvas.tool
    assert isinstance(tool, Drawn)
    assert tool.points == [(50.0, -8.0)]


def test_a_faded_layer_is_drawn_faintly(hand: "Hand") -> None:
    hand.session.select()
    full = ink(hand)
    hand.session.toggle_fade("lines")
    faint = ink(hand)
    hand.session.toggle_layer("lines")
    away = ink(hand)
    pipes = (full < 80) & (away > 180)  # dark ink of the lines alone
    assert pipes.sum() > 50
    assert (faint[pipes] > full[pipes] + 40).mean() > 0.9
    assert (faint[pipes] < away[pipes] - 10).mean() > 0.9


def test_selecting_from_elsewhere_brings_a_hidden_layer_into_sight(hand: "Hand") -> None:
    hand.session.toggle_layer("lines")
    hand.session.select(Subject("line", 2))
    assert "lines" in hand.state.layers
    assert hand.state.selection == {Subject("line", 2)}


def test_a_finding_on_a_hidden_layer_comes_into_sight_when_it_is_clicked(
    hand: "Hand", theme: Theme, qtbot: QtBot
) -> None:
    finding = Finding(
        "invented", "caution", "Line 2 stands in the way", place=(10.0, 3.2), line_id=2, number=1
    )
    shown = FindingsList(hand.session, theme)
    qtbot.addWidget(shown)
    shown.show_findings((finding,), stale=False)
    shown.show()
    hand.session.toggle_layer("lines")
    hand.session.toggle_layer("findings")
    row = shown.findChildren(FindingRow)[0]
    QTest.mouseClick(row, Qt.MouseButton.LeftButton)
    assert {"lines", "findings"} <= hand.state.layers
    assert hand.state.selection == {Subject("line", 2)}


def test_findings_are_painted_only_while_their_layer_is_shown(hand: "Hand") -> None:
    finding = Finding("invented", "stop", "Here", place=(30.0, 15.0), number=1)
    hand.session.update(assessment=invented_assessment(hand.state.design, findings=(finding,)))
    before = ink(hand)
    assert len(hand.canvas.drawing.marks) == 1
    hand.session.toggle_layer("findings")
    assert not hand.canvas.drawing.marks
    spot = hand.px((30.0, 15.0))
    around = np.s_[spot.y() - 8 : spot.y() + 8, spot.x() - 8 : spot.x() + 8]
    assert np.abs(before[around] - ink(hand)[around]).max() > 60


def test_taking_up_a_tool_shows_its_layer_and_a_lock_refuses_it(hand: "Hand") -> None:
    hand.session.toggle_layer("obstacles")
    hand.type("o")
    assert hand.state.tool == "obstacle"
    assert "obstacles" in hand.state.layers
    hand.session.toggle_lock("headers")
    hand.type("s")
    assert hand.state.tool == "obstacle"
    assert (
        hand.state.notice
        == "Headers and store: this layer is locked; unlock it under Layers (Y) to work on it."
    )


def test_the_list_opens_by_key_and_every_switch_works(hand: "Hand", qapp: QApplication) -> None:
    panel = hand.view.layers
    hand.type("y")
    assert panel.isVisible()
    assert list(panel.shown) == list(LAYERS)
    assert list(panel.locked) == list(panel.faded) == list(HOLDING)
    for layer in LAYERS:
        panel_click(hand, panel.shown[layer])
        assert (layer in hand.state.layers) == (layer == "grid")
    for layer in HOLDING:
        panel_click(hand, panel.locked[layer])
        panel_click(hand, panel.faded[layer])
    assert hand.state.locked == hand.state.faded == frozenset(HOLDING)
    assert hand.view.layers_chip.text() == "Layers: 11 hidden, 6 locked, 6 faded"
    panel_click(hand, panel.as_usual)
    assert (hand.state.layers, hand.state.locked, hand.state.faded) == (
        State().layers,
        frozenset(),
        frozenset(),
    )
    assert hand.view.layers_chip.text() == "Layers"
    assert told_layers(hand.state) == ""
    QTest.keyClick(panel.shown["land"], Key.Key_Escape)
    assert not panel.isVisible()
    assert hand.canvas.hasFocus()


def test_the_list_is_worked_by_keys_alone(hand: "Hand") -> None:
    panel = hand.view.layers
    hand.type("y")
    assert panel.shown["land"].hasFocus()
    QTest.keyClick(panel.shown["land"], Key.Key_Space)
    assert "land" not in hand.state.layers
    QTest.keyClick(panel.shown["land"], Key.Key_Tab)
    assert panel.locked["land"].hasFocus()
    QTest.keyClick(panel.locked["land"], Key.Key_Return)
    assert hand.state.locked == {"land"}
    assert panel.locked["land"].accessibleName() == "Land locked"
    QTest.keyClick(panel.locked["land"], Key.Key_Y)
    assert not panel.isVisible()


def test_layers_are_remembered_and_no_part_of_the_design(
    hand: "Hand", settings: QSettings, qapp: QApplication
) -> None:
    memory = LayerMemory(hand.session, settings, qapp)
    design = hand.state.design
    hand.session.toggle_layer("shadows")
    hand.session.toggle_layer("grid")
    hand.session.toggle_lock("land")
    hand.session.toggle_fade("picture")
    assert hand.state.design is design
    assert hand.state.undo == ()
    again = Session(Document())
    other = LayerMemory(again, settings, qapp)
    for name in ("layers", "locked", "faded"):
        assert getattr(again.state, name) == getattr(hand.state, name)
    settings.setValue("layers/hidden", "nonsense,lines")
    third = Session(Document())
    last = LayerMemory(third, settings, qapp)
    assert third.state.layers == frozenset(LAYERS) - {"lines"}
    for made in (memory, other, last):
        made.deleteLater()
