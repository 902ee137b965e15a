"""Reports of faults hold no path, no name, no word that a person typed; the newest twenty are kept."""

from pathlib import Path

import pytest

from studio.desk.crash import report, report_text
from studio.errors import BadInputError
from studio.numbers_in import read_number


def fault() -> Exception:
    try:
        int("Rosa's farm")
    except ValueError as error:
        return error
    raise AssertionError


def test_names_and_paths_are_taken_out() -> None:
    text = report_text(fault())
    assert "Rosa" not in text
    assert "ValueError" in text
    assert str(Path(__file__).parent) not in text
    assert "test_crash.py" in text
    told = report_text(OSError("no /home/rosa/field.stillfield or C:\\rosa here"))
    assert "rosa" not in told


def test_our_own_modules_are_told_from_the_package_on() -> None:
    with pytest.raises(BadInputError) as caught:
        read_number("x", "m")
    assert "studio/numbers_in.py" in report_text(caught.value)


def test_reports_do_not_pile_up(tmp_path: Path) -> None:
    for _number in range(25):
        assert report(fault(), folder=tmp_path) is not None
    assert len(list(tmp_path.iterdir())) == 20


def test_a_report_that_cannot_be_written_is_none(tmp_path: Path) -> None:
    taken = tmp_path / "taken"
    taken.write_text("", encoding="utf-8")
    assert report(fault(), folder=taken / "below") is None
