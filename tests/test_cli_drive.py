"""The command that writes the drive table, as its user meets it."""

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from studio.cli import main
from studio.files.examples import example_path
from studio.papers.drive import FILES

SMALL = example_path("small_dryer")


def told(monkeypatch: pytest.MonkeyPatch, *words: str | Path) -> int:
    """Exit status of the command line, run in this process."""
    monkeypatch.setattr(sys, "argv", ["stillfield", *map(str, words)])
    try:
        main()
    except SystemExit as ended:
        return int(ended.code or 0)
    return 0


def test_drive_writes_all_papers_without_qt_and_will_not_write_over_them(tmp_path: Path) -> None:
    into = tmp_path / "drive"
    code = (
        "import sys; from studio.cli import main; sys.argv[0] = 'stillfield'\n"
        "try:\n    main()\nexcept SystemExit as ended:\n    status = ended.code or 0\n"
        "sys.exit(99 if {'PySide6', 'pyqtgraph'} & set(sys.modules) else status)\n"
    )

    def run() -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [sys.executable, "-c", code, "drive", str(SMALL), "--into", str(into)],
            capture_output=True, encoding="utf-8", timeout=120, check=False,
            env={**os.environ, "PYTHONPATH": str(Path(__file__).parents[1])},
        )  # fmt: skip

    done = run()
    assert (done.returncode, done.stderr) == (0, "")
    written = done.stdout.splitlines()
    assert [Path(line).name for line in written[: len(FILES)]] == list(FILES)
    assert "What one drive moves, hot" in written
    assert "What holding it back costs" in written
    assert max(map(len, written[len(FILES) :])) <= 80
    law = json.loads((into / "drive_law.json").read_text(encoding="utf-8"))
    assert law["groups"][0]["lines"] == [1, 2, 3]
    assert law["groups"][0]["error"]["slide_worst_mm"] <= 5
    assert law["groups"][0]["error"]["roll_worst_deg"] <= 0.3
    again = run()
    assert again.returncode == 3
    assert len(again.stderr.splitlines()) == 1
    assert "drive.csv is already" in again.stderr


def test_a_field_without_lines_and_a_folder_left_out_are_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    tree = json.loads(SMALL.read_text(encoding="utf-8"))
    tree["design"]["lines"] = []
    empty = tmp_path / "empty.stillfield"
    empty.write_text(json.dumps(tree), encoding="utf-8")
    assert told(monkeypatch, "drive", empty, "--into", tmp_path / "out") == 3
    assert "place a line of mirrors first" in capsys.readouterr().err
    assert not (tmp_path / "out").exists()
    assert told(monkeypatch, "drive", SMALL) == 2
    assert "--into" in capsys.readouterr().err
