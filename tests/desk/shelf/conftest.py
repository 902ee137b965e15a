"""A site with six invented mirrors on its shelf, and its page; assessments are real and run in the test's own process."""

import dataclasses
from collections.abc import Iterator, Mapping
from functools import cache
from typing import Any

import pytest
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from studio.design.design import Document
from studio.desk.session import Session
from studio.desk.shelf.page import ShelfPage
from studio.desk.theme import Theme
from studio.edits.edit import admit
from studio.edits.fields import set_fields
from studio.edits.shelf import put_on_shelf
from studio.files.examples import example_path
from studio.files.site import open_site
from studio.study.assess import Assessor

MIRRORS: Mapping[str, Mapping[str, Any]] = {
    "7 ribs": {"mirror.ribs": 7},
    "15 ribs": {"mirror.ribs": 15},
    "sphere": {"mirror.surface": "sphere"},
    "longer focus": {"mirror.focal_m": 1.6, "motion.arm_m": 1.52, "motion.stroke_m": 1.3},
    "bigger window": {"receiver.window_width_m": 0.26, "receiver.window_height_m": 0.23, "receiver.fins": 44},
    "circles, set weekly": {"mirror.surface": "circles", "motion.roll": "held", "motion.hold_days": 7},
}
"""Invented."""
ASSESSOR = Assessor()
"""One for all tests: what is worked out once is there."""


@cache
def one_line() -> Document:
    """One line of the small example, nothing on the shelf."""
    document = open_site(example_path("small_dryer"))
    design = dataclasses.replace(document.design, lines=document.design.lines[:1], shelf=())
    return dataclasses.replace(document, design=design)


@cache
def six() -> Document:
    """The same with six mirrors on the shelf."""
    design = one_line().design
    for label, values in MIRRORS.items():
        other = admit(design, set_fields(design, values=values)).design
        shelf = admit(other, put_on_shelf(other, label=label)).design.shelf
        design = dataclasses.replace(design, shelf=shelf)
    return dataclasses.replace(one_line(), design=design)


def the_assessor() -> Assessor:
    """The one there is."""
    return ASSESSOR


def page_on(document: Document, theme: Theme, qtbot: QtBot) -> ShelfPage:
    """A page in sight on a document."""
    page = ShelfPage(Session(document), theme, make=the_assessor)
    qtbot.addWidget(page)
    page.resize(980, 880)
    with qtbot.waitExposed(page):
        page.show()
    return page


@pytest.fixture
def empty(qapp: QApplication, theme: Theme, qtbot: QtBot) -> Iterator[ShelfPage]:
    """A page with nothing on the shelf."""
    page = page_on(one_line(), theme, qtbot)
    yield page
    page.shut()


@pytest.fixture
def page(qapp: QApplication, theme: Theme, qtbot: QtBot) -> Iterator[ShelfPage]:
    """A page with six mirrors."""
    page = page_on(six(), theme, qtbot)
    yield page
    page.shut()
