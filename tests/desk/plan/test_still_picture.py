"""A large field under a hand: what is painted is what moves, and it looks as if all were painted."""

import dataclasses
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from PySide6.QtGui import QImage, QPainter
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from studio.design.design import Design
from studio.desk.plan import rows
from studio.desk.plan.canvas import PlanCanvas
from studio.desk.plan.scene import Scene
from studio.desk.plan.view import PlanView
from studio.desk.session import Session
from studio.desk.theme import Theme
from studio.drawings.lines import LineOnPlan
from studio.files.site import open_site

EXAMPLE = Path(__file__).parents[3] / "example_sites" / "large_field.stillfield"
LINE = 20


@pytest.fixture
def view(qapp: QApplication, qtbot: QtBot) -> PlanView:
    made = PlanView(Session(open_site(EXAMPLE)), Theme(qapp, wish="light"))
    qtbot.addWidget(made)
    made.resize(980, 700)
    made.show()
    made.canvas.fit()
    return made


def moved(design: Design, by_m: float) -> Design:
    lines = tuple(
        dataclasses.replace(line, y_m=line.y_m + by_m) if line.id == LINE else line for line in design.lines
    )
    return dataclasses.replace(design, lines=lines)


def painted(canvas: PlanCanvas) -> np.ndarray:
    image = QImage(canvas.width(), canvas.height(), QImage.Format.Format_RGB32)
    painter = QPainter(image)
    canvas.paint_on(painter)
    painter.end()
    flat = np.frombuffer(image.constBits(), np.uint8).reshape(image.height(), image.width(), 4)
    return np.asarray(flat[8:-8, 8:-8, :3].astype(int))  # without the rim that the focus has


def test_a_drag_paints_the_line_in_the_hand_and_those_it_shades(
    view: PlanView, monkeypatch: pytest.MonkeyPatch
) -> None:
    counts: list[int] = []
    whole = rows.paint_mirrors

    def counted(board: Any, sprites: Any, drawing: Any, lines: Sequence[LineOnPlan], *, tint: bool) -> None:
        counts.append(len(lines))
        whole(board, sprites, drawing, lines, tint=tint)

    monkeypatch.setattr(rows, "paint_mirrors", counted)
    session, canvas = view.canvas.session, view.canvas
    design = session.state.design
    canvas.scene = Scene()
    painted(canvas)
    assert sum(counts) == len(design.lines)
    for step in range(4):
        session.preview(moved(design, -0.05 * step))
        painted(canvas)
    counts.clear()
    for step in range(4, 24):
        session.preview(moved(design, -0.05 * step))
        painted(canvas)
    assert np.median(counts) <= 8


def test_it_looks_as_if_all_were_painted(view: PlanView, qapp: QApplication, qtbot: QtBot) -> None:
    session, canvas = view.canvas.session, view.canvas
    design = session.state.design
    for step in range(12):
        session.preview(moved(design, -0.08 * step))
        dragged = painted(canvas)
    fresh = PlanView(Session(open_site(EXAMPLE)), Theme(qapp, wish="light"))
    qtbot.addWidget(fresh)
    fresh.resize(980, 700)
    fresh.show()
    fresh.canvas.fit()
    before = painted(fresh.canvas)
    fresh.canvas.session.preview(moved(design, -0.08 * 11))
    fresh.canvas.scene = Scene()
    anew = painted(fresh.canvas)
    apart, changed = (np.abs(dragged - other).max(axis=2) > 24 for other in (anew, before))
    assert changed.mean() > 0.002
    # edges that fall between pixels may differ, shapes may not
    assert apart.mean() < 0.1 * changed.mean()


def test_what_is_out_of_sight_is_not_painted(view: PlanView, monkeypatch: pytest.MonkeyPatch) -> None:
    counts: list[int] = []
    whole = rows.paint_gear

    def counted(
        board: Any, sprites: Any, drawing: Any, lines: Sequence[LineOnPlan], picked: frozenset[int]
    ) -> None:
        counts.append(len(lines))
        whole(board, sprites, drawing, lines, picked)

    monkeypatch.setattr(rows, "paint_gear", counted)
    view.canvas.zoom(14.0)
    painted(view.canvas)
    assert 0 < max(counts) < 12
