"""A skyline from a table: what is taken, and one sentence for what is not."""

from pathlib import Path

import pytest

from studio.errors import FaultyFileError, KeepingError
from studio.files.horizon import LARGEST, read_horizon

WANTED = ((0.0, 2.5), (90.0, 10.0), (270.5, -1.0))


@pytest.mark.parametrize(
    "text",
    [
        "0,2.5\n90,10\n270.5,-1\n",
        "azimuth,elevation\n0,2.5\n90,10\n270.5,-1\n",
        "\ufeffAzimut;Höhe\r\n0;2,5\r\n90;10\r\n270,5;-1\r\n",
        "# surveyed\n0\t2.5\n\n90\t10\n270.5\t-1",
        "0 2,5\n90 10\n270,5 -1\n",
    ],
)
def test_tables_of_many_hands_are_read_alike(tmp_path: Path, text: str) -> None:
    path = tmp_path / "skyline.csv"
    path.write_text(text, encoding="utf-8")
    assert read_horizon(path) == WANTED


@pytest.mark.parametrize(
    ("data", "said"),
    [
        (b"", "0 points"),
        (b"azimuth,elevation\n", "0 points"),
        (b"0,1\n361,2\n", "line 2"),
        (b"0,1\n10,86\n", "line 2"),
        (b"0,1\n10\n", "line 2"),
        (b"0,1\n10,2,3\n", "line 2"),
        (b"0,1\n10,nan\n", "line 2"),
        (b"0,1\n10,=2+3\n", "line 2"),
        (b"\xff\xfe0\x00,\x001\x00", "UTF-8"),
        (b"0,1\n" * 1001, "1001 points"),
        (b"0,1\n" * (LARGEST // 4 + 1), "too large"),
    ],
)
def test_what_is_no_skyline_is_refused_in_a_sentence(tmp_path: Path, data: bytes, said: str) -> None:
    path = tmp_path / "skyline.csv"
    path.write_bytes(data)
    with pytest.raises(FaultyFileError) as error:
        read_horizon(path)
    whole = "\n".join([str(error.value), *map(str, error.value.faults)])
    assert said in whole


def test_a_file_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(KeepingError):
        read_horizon(tmp_path / "none.csv")
