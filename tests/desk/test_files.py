"""Opening, saving, recovering: real files in a folder of their own."""

import dataclasses
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from PySide6.QtCore import QSettings
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from studio.design.design import Design, Document
from studio.desk.bars import Bars
from studio.desk.differences import told_differences
from studio.desk.files import FileDesk
from studio.desk.session import Session
from studio.desk.theme import Theme
from studio.edits.fields import set_field
from studio.files.picture import picture_of
from studio.files.picture_taken import lay_picture
from studio.files.picture_world import Placement
from studio.files.site import read_site, write_site
from studio.keep import fingerprint
from tests.files.pictures import coded, land

Desk = tuple[FileDesk, Session, Bars]
Make = Callable[[], Desk]


@pytest.fixture
def make(qapp: QApplication, theme: Theme, settings: QSettings, tmp_path: Path) -> Iterator[Make]:
    desks: list[FileDesk] = []

    def build() -> Desk:
        session, bars = Session(), Bars(theme)
        desk = FileDesk(session, bars, settings, state_folder=tmp_path / "state")
        desks.append(desk)
        return desk, session, bars

    yield build
    for desk in desks:
        desk.close(discard=True)


@pytest.fixture
def site(tmp_path: Path, design: Design) -> Path:
    path = tmp_path / "field.stillfield"
    path.write_bytes(write_site(Document(design=design)))
    return path


def set_ribs(session: Session, ribs: int) -> None:
    assert session.apply(set_field(session.state.design, path="mirror.ribs", value=ribs))


def text_of(bars: Bars, key: str) -> str:
    bar = bars.bar(key)
    assert bar is not None
    return bar.text


def press(bars: Bars, key: str, words: str) -> None:
    bar = bars.bar(key)
    assert bar is not None
    next(button for button in bar.buttons if words in button.text()).click()


def test_what_is_kept_wants_to_be_saved_too(make: Make, site: Path) -> None:
    desk, session, _bars = make()
    assert desk.open(site)
    session.keep("2026-03-01")
    assert session.state.unsaved
    assert desk.save()
    assert not session.state.unsaved
    kept = read_site(site.read_bytes()).kept
    assert kept is not None
    assert kept.date == "2026-03-01"


def test_open_edit_save_open_again(make: Make, site: Path) -> None:
    desk, session, _bars = make()
    assert desk.open(site)
    set_ribs(session, 7)
    assert session.state.unsaved
    assert desk.save()
    assert not session.state.unsaved
    assert session.state.saved_clock
    assert len(session.state.undo) == 1
    assert read_site(site.read_bytes()).design.mirror.ribs == 7


def test_a_bad_file_is_told_and_what_was_open_stays(make: Make, site: Path, tmp_path: Path) -> None:
    desk, session, bars = make()
    desk.open(site)
    before = session.state.document
    bad = tmp_path / "bad.stillfield"
    bad.write_text("{", encoding="utf-8")
    assert not desk.open(bad)
    assert session.state.document is before
    assert session.state.path == site
    assert text_of(bars, "file")


def test_the_first_start_shows_a_finished_example(make: Make) -> None:
    desk, session, _bars = make()
    desk.start(None)
    assert session.state.design.lines
    assert session.state.path is None
    assert not session.state.unsaved


def test_the_next_start_opens_the_last_file(make: Make, site: Path) -> None:
    desk, _session, _bars = make()
    desk.open(site)
    desk.close(discard=True)
    desk2, session2, _bars2 = make()
    desk2.start(None)
    assert session2.state.path == site


def test_the_same_file_twice_is_told_and_a_copy_can_be_opened(make: Make, site: Path) -> None:
    desk, _session, _bars = make()
    desk.open(site)
    other, session2, bars2 = make()
    assert not other.open(site)
    assert "open" in text_of(bars2, "file")
    press(bars2, "file", "copy")
    assert session2.state.path is None
    assert len(session2.state.design.lines) == 4


def test_a_file_changed_meanwhile_is_not_written_over_unasked(make: Make, site: Path) -> None:
    desk, session, bars = make()
    desk.open(site)
    set_ribs(session, 7)
    theirs = dataclasses.replace(session.state.design, note="theirs")
    site.write_bytes(write_site(Document(design=theirs)))
    assert not desk.save()
    assert read_site(site.read_bytes()).design.note == "theirs"
    press(bars, "changed", "over")
    assert read_site(site.read_bytes()).design.note == ""
    assert not session.state.unsaved


def test_reload_takes_the_file_as_it_is_now(make: Make, site: Path) -> None:
    desk, session, bars = make()
    desk.open(site)
    set_ribs(session, 7)
    theirs = dataclasses.replace(session.state.design, note="theirs")
    site.write_bytes(write_site(Document(design=theirs)))
    desk.save()
    press(bars, "changed", "Reload")
    assert session.state.design.note == "theirs"
    assert not session.state.unsaved


def crash(desk: FileDesk) -> None:
    """Leave as a killed process does: the journal written, nothing discarded, the lock gone."""
    desk._keeper.close()


def test_after_a_crash_the_edits_are_offered_and_taken(make: Make, site: Path) -> None:
    desk, session, _bars = make()
    desk.open(site)
    set_ribs(session, 7)
    crash(desk)
    again, session2, bars2 = make()
    again.open(site)
    assert session2.state.design.mirror.ribs == 11
    told = text_of(bars2, "recovery")
    assert "Mirror, ribs" in told
    assert "Set mirror, ribs to 7" in told
    press(bars2, "recovery", "Go on")
    assert session2.state.design.mirror.ribs == 7
    assert session2.state.unsaved
    assert session2.state.path == site
    assert again.save()
    assert read_site(site.read_bytes()).design.mirror.ribs == 7


def test_a_picture_laid_after_the_last_save_is_told_as_lost_and_one_that_was_saved_stays(
    make: Make, site: Path
) -> None:
    """The journal holds no pictures: after a crash the file's own stands again, and that is said."""
    desk, session, _bars = make()
    desk.open(site)
    lay_picture_on(session, 0.1)
    assert desk.save()
    saved = session.state.design.underlay
    assert session.apply(set_field(session.state.design, path="underlay.strength", value=0.3))
    crash(desk)
    again, session2, bars2 = make()
    again.open(site)
    press(bars2, "recovery", "Go on")
    assert session2.state.design.underlay == dataclasses.replace(saved, strength=0.3)
    assert bars2.bar("file") is None
    lay_picture_on(session2, 0.2, width=80)
    set_ribs(session2, 7)
    crash(again)
    third, session3, bars3 = make()
    third.open(site)
    press(bars3, "recovery", "Go on")
    assert session3.state.design.mirror.ribs == 7
    assert session3.state.design.underlay == saved
    assert text_of(bars3, "file").startswith("The picture laid under the plan after the last save")
    assert third.save()
    assert read_site(site.read_bytes()).design.underlay == saved


def lay_picture_on(session: Session, m_per_pixel: float, *, width: int = 64) -> None:
    picture = picture_of(coded(land(width, 48)), "roof.png")
    session.take_asset(fingerprint(picture.data), picture.data)
    assert session.apply(lay_picture(session.state.design, picture, Placement(0.0, 0.0, m_per_pixel, 0.0)))


def test_what_a_crash_left_can_be_thrown_away(make: Make, site: Path) -> None:
    desk, session, _bars = make()
    desk.open(site)
    set_ribs(session, 7)
    crash(desk)
    again, session2, bars2 = make()
    again.open(site)
    press(bars2, "recovery", "Throw")
    assert session2.state.design.mirror.ribs == 11
    again.close(discard=True)
    third, _session3, bars3 = make()
    third.open(site)
    assert bars3.bar("recovery") is None


def test_a_design_never_saved_is_offered_at_the_next_start(make: Make) -> None:
    desk, session, _bars = make()
    desk.new()
    set_ribs(session, 5)
    crash(desk)
    again, session2, bars2 = make()
    again.start(None)
    assert bars2.bar("recovery") is not None
    press(bars2, "recovery", "Go on")
    assert session2.state.design.mirror.ribs == 5
    assert session2.state.path is None


def test_differences_are_told_in_words(design: Design) -> None:
    other = set_field(design, path="mirror.ribs", value=7).design
    other = set_field(other, path="lines.3.count", value=9).design
    assert told_differences(design, other) == "Mirror, ribs; Line 3, mirrors"
    less = dataclasses.replace(design, lines=design.lines[:3])
    assert told_differences(design, less).startswith("1 line less")
    assert told_differences(design, design) == "nothing that shows"


def test_save_a_copy_stays_with_the_file(make: Make, site: Path, tmp_path: Path, qtbot: QtBot) -> None:
    desk, session, _bars = make()
    desk.open(site)
    copy = tmp_path / "copy.stillfield"
    assert desk.save_copy(copy)
    assert session.state.path == site
    assert read_site(copy.read_bytes()).design == session.state.design
