"""The command line, run in the tests' own process."""

import sys
from pathlib import Path

import pytest

from studio.cli import main


class Told:
    """Exit status, standard output and standard error of the command line, in a terminal of 80 columns."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
        self.monkeypatch, self.capsys = monkeypatch, capsys

    def __call__(self, *words: str | Path) -> tuple[int, str, str]:
        self.monkeypatch.setattr(sys, "argv", ["stillfield", *map(str, words)])
        status = 0
        try:
            main()
        except SystemExit as ended:
            status = int(ended.code or 0)
        out, err = self.capsys.readouterr()
        return status, out, err


@pytest.fixture
def told(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Told:
    """Runs the command line in this process."""
    monkeypatch.setenv("COLUMNS", "80")
    return Told(monkeypatch, capsys)
