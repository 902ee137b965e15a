"""``stillfield spot``: both ways, the losses, and its refusals, as a person at a terminal meets them."""

import json
import sys
from pathlib import Path

import pytest

from studio.cli import main
from studio.files.examples import example_path

SITE = example_path("workshop_plot")


def run(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], *words: str
) -> tuple[int, str, str]:
    monkeypatch.setattr(sys, "argv", ["stillfield", "spot", str(SITE), *words])
    status = 0
    try:
        main()
    except SystemExit as ended:
        status = int(ended.code or 0)
    out, err = capsys.readouterr()
    return status, out, err


def test_as_json(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    status, out, err = run(monkeypatch, capsys, "--at", "12-21T10:30", "--rays", "20000", "--json")
    assert (status, err) == (0, "")
    tree = json.loads(out)
    assert tree["ray_way"]["rays"] == 20_000
    assert tree["cone_way"]["accepted"] == pytest.approx(
        tree["ray_way"]["accepted"], abs=0.003 + 3 * tree["ray_way"]["accepted_error"]
    )
    watts = {step["key"]: step["w"] for step in tree["losses"]}
    facing = watts.pop("facing")
    assert sum(watts.values()) == pytest.approx(facing)
    assert tree["window"]["peak_kw_m2"] > tree["window"]["mean_kw_m2"] > 1


def test_for_a_person(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    status, out, err = run(monkeypatch, capsys, "--sun", "180", "45", "--rays", "5000", "--slide", "0.05")
    assert (status, err) == (0, "")
    assert "Pose as given: slide +0.050 m" in out
    assert "burns skin and eyes" in out
    assert max(len(row) for row in out.splitlines()) <= 80


def test_the_same_words_give_the_same_numbers(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ("--sun", "170", "40", "--rays", "3000")
    assert run(monkeypatch, capsys, *words) == run(monkeypatch, capsys, *words)


@pytest.mark.parametrize(
    "words", [(), ("--at", "12-21T23:00"), ("--sun", "0", "-10"), ("--at", "03-21T12:00", "--line", "77")]
)
def test_refused_in_one_sentence(
    words: tuple[str, ...], monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    status, out, err = run(monkeypatch, capsys, *words)
    assert (status, out) == (3, "")
    assert len(err.strip().splitlines()) == 1


def test_a_tried_change_moves_the_spot(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ("--sun", "180", "50", "--rays", "20000", "--json")
    few = json.loads(run(monkeypatch, capsys, *words, "--set", "mirror.ribs=5")[1])
    many = json.loads(run(monkeypatch, capsys, *words)[1])
    assert few["ray_way"]["accepted"] < many["ray_way"]["accepted"] - 0.02
    assert Path(SITE).exists()
