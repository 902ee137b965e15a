"""Faults of weather files: each is found by its line, refused or mended as named."""

from collections.abc import Callable
from importlib.resources import files
from pathlib import Path

import numpy as np
import pytest

from studio.errors import BadInputError, FaultyFileError, KeepingError
from studio.files.weather import WEATHER_REPAIRS, WeatherRead, read_weather

PACKAGED = Path(str(files("pvlib"))) / "data"
TMY3 = PACKAGED / "723170TYA.CSV"  # Greensboro, in pvlib's package
TMY2 = PACKAGED / "12839.tm2"  # Miami, in pvlib's package
HEAD = 2  # lines before the first record of a TMY3 file
DNI, AIR, WIND = 7, 31, 46  # columns of a TMY3 file
NOON = HEAD + 24 * 100 + 11  # 0-based line of the record that ends at 12:00 on 11 April
ALL = frozenset(WEATHER_REPAIRS)

Lines = list[str]


def _cut(first: int, count: int) -> Callable[[Lines], None]:
    def change(lines: Lines) -> None:
        del lines[first : first + count]

    return change


def _cell(line: int, column: int, text: str, count: int = 1) -> Callable[[Lines], None]:
    def change(lines: Lines) -> None:
        for number in range(line, line + count):
            cells = lines[number].split(",")
            cells[column] = text
            lines[number] = ",".join(cells)

    return change


def _twice(line: int, dni: str | None) -> Callable[[Lines], None]:
    def change(lines: Lines) -> None:
        lines.insert(line, lines[line])
        if dni is not None:
            _cell(line + 1, DNI, dni)(lines)

    return change


def _swap(line: int) -> Callable[[Lines], None]:
    def change(lines: Lines) -> None:
        lines[line], lines[line + 5] = lines[line + 5], lines[line]

    return change


def _leap(lines: Lines) -> None:
    day = [line for line in lines if line.startswith("02/28/")]
    after = lines.index(day[-1]) + 1
    lines[after:after] = [line.replace("02/28/", "02/29/") for line in day]


def _changed(tmp_path: Path, change: Callable[[Lines], None]) -> Path:
    lines = TMY3.read_text().splitlines()
    change(lines)
    path = tmp_path / "changed.csv"
    path.write_text("\n".join(lines) + "\n")
    return path


@pytest.fixture(scope="module")
def clean() -> WeatherRead:
    return read_weather(TMY3)


@pytest.mark.parametrize(
    ("change", "repair", "spot", "told"),
    [
        (_cut(NOON, 1), "fill-short-gaps", f"line {NOON}", "1 record in short gaps"),
        (_cut(NOON, 3), "fill-short-gaps", f"line {NOON}", "3 records in short gaps"),
        (_cut(NOON, 4), "neighbour-days", f"line {NOON}", "4 records in longer gaps"),
        (
            _cut(len(TMY3.read_text().splitlines()) - 1, 1),
            "fill-short-gaps",
            "line 8761",
            "1 record in short",
        ),
        (_cell(NOON, DNI, "9999"), "fill-short-gaps", f"line {NOON + 1}", "1 record in short gaps"),
        (_cell(NOON, DNI, "-9900"), "fill-short-gaps", f"line {NOON + 1}", "1 record in short gaps"),
        (_cell(NOON, DNI, "NaN"), "fill-short-gaps", f"line {NOON + 1}", "1 record in short gaps"),
        (_cell(NOON, DNI, "oops"), "fill-short-gaps", f"line {NOON + 1}", "1 record in short gaps"),
        (_cell(NOON, 1, "12;00"), "fill-short-gaps", f"line {NOON + 1}", "1 record in short gaps"),
        (_cell(NOON, DNI, "1401"), "clip-dni", f"line {NOON + 1}", "DNI of 1 record set"),
        (_cell(NOON, DNI, "-40", 2), "clip-dni", f"lines {NOON + 1} to {NOON + 2}", "DNI of 2 records set"),
        (_twice(NOON, "3"), "first-of-duplicates", f"line {NOON + 2}", "1 record of an hour"),
        (
            _leap,
            "drop-leap-day",
            f"lines {HEAD + 59 * 24 + 1} to {HEAD + 60 * 24}",
            "29 February left out (24",
        ),
    ],
)
def test_a_fault_is_refused_by_line_and_mended_when_named(
    tmp_path: Path, clean: WeatherRead, change: Callable[[Lines], None], repair: str, spot: str, told: str
) -> None:
    path = _changed(tmp_path, change)
    with pytest.raises(FaultyFileError) as refused:
        read_weather(path)
    assert repair in refused.value.summary
    assert refused.value.faults[0].path == spot
    # another way than the named one does not do
    with pytest.raises(FaultyFileError, match=repair):
        read_weather(path, repair=ALL - {repair})
    read = read_weather(path, repair=frozenset({repair}))
    assert any(told in sentence for sentence in read.repairs)
    assert [fault.path for fault in read.faults] == [fault.path for fault in refused.value.faults]
    near = slice(24 * 100, 24 * 102)
    away = np.ones(8760, dtype=np.bool_)
    away[near] = away[-2:] = away[:1] = False
    assert read.year.dni_w_m2[away] == pytest.approx(clean.year.dni_w_m2[away])


@pytest.mark.parametrize(
    ("change", "told", "spot"),
    [
        (_swap(NOON), "Records out of order", f"line {NOON + 2}"),
        (_twice(NOON, None), "1 record of an hour", f"line {NOON + 2}"),
        (_cell(NOON, AIR, "64.0"), "Air temperature: missing or absurd", f"line {NOON + 1}"),
        (_cell(NOON, AIR, "-9900"), "Air temperature: missing or absurd", f"line {NOON + 1}"),
        (_cell(NOON, WIND, "-1"), "Wind: missing or absurd", f"line {NOON + 1}"),
        (_cell(NOON, WIND, ""), "Wind: missing or absurd", f"line {NOON + 1}"),
    ],
)
def test_what_harms_nothing_is_mended_unasked_and_told(
    tmp_path: Path, clean: WeatherRead, change: Callable[[Lines], None], told: str, spot: str
) -> None:
    read = read_weather(_changed(tmp_path, change))
    assert any(told in sentence for sentence in read.repairs)
    assert read.faults[0].path == spot
    assert np.array_equal(read.year.dni_w_m2, clean.year.dni_w_m2)
    assert read.year.air_c == pytest.approx(clean.year.air_c, abs=3.0)


def test_night_offsets_are_told_and_minus_zero_is_not(tmp_path: Path, clean: WeatherRead) -> None:
    read = read_weather(_changed(tmp_path, _cell(HEAD, DNI, "-2.5", 3)))
    assert read.repairs == ("Night offsets of 3 records set to 0 W/m2.",)
    assert np.array_equal(read.year.dni_w_m2, clean.year.dni_w_m2)
    assert read_weather(_changed(tmp_path, _cell(HEAD, DNI, "-0.0", 3))).repairs == ()


def test_all_faults_are_reported_at_once(tmp_path: Path) -> None:
    def change(lines: Lines) -> None:
        _cell(NOON, DNI, "2000")(lines)
        _cell(NOON + 48, DNI, "9999", 6)(lines)
        _cut(NOON + 96, 2)(lines)
        _leap(lines)

    path = _changed(tmp_path, change)
    with pytest.raises(FaultyFileError) as refused:
        read_weather(path)
    for way in ("drop-leap-day", "clip-dni", "fill-short-gaps", "neighbour-days"):
        assert way in refused.value.summary
    assert len(refused.value.faults) == 4
    assert read_weather(path, repair=ALL).year.dni_w_m2.shape == (8760,)


def test_a_gap_takes_the_mean_of_the_days_beside_it(tmp_path: Path, clean: WeatherRead) -> None:
    path = _changed(tmp_path, _cell(HEAD + 24 * 100, DNI, "9999", 24))
    days = read_weather(path, repair=frozenset({"neighbour-days"})).year.dni_w_m2.reshape(365, 24)
    whole = clean.year.dni_w_m2.reshape(365, 24)
    assert days[100] == pytest.approx((whole[99] + whole[101]) / 2.0, abs=0.051)


def test_more_than_a_week_missing_is_never_mended(tmp_path: Path) -> None:
    with pytest.raises(FaultyFileError, match="lacks so much"):
        read_weather(_changed(tmp_path, _cut(NOON, 24 * 8)), repair=ALL)
    with pytest.raises(FaultyFileError, match="lacks so much"):
        read_weather(_changed(tmp_path, _cell(HEAD, AIR, "99.9", 8760)), repair=ALL)


@pytest.mark.parametrize(
    ("change", "sentence"),
    [
        (_cut(HEAD + 100, 8660), "holds only 100 records"),
        (_cut(HEAD, 8760), "holds no weather records"),
        (lambda lines: lines.extend(lines[HEAD:]), "one year of its steps has 8760"),
        (_cell(0, 5, "79.950"), "falls into the night"),
        (_cell(0, 3, "7"), "falls into the night"),
        (_cell(0, 4, "136.1"), "no place on land"),
        (_cell(0, 4, "north"), "head or its columns"),
        (_cell(1, DNI, "DNX"), "head or its columns"),
        (_cell(HEAD, DNI, "0", 8760), "no direct sun"),
    ],
)
def test_what_is_no_year_of_a_place_is_refused_in_one_sentence(
    tmp_path: Path, change: Callable[[Lines], None], sentence: str
) -> None:
    with pytest.raises(FaultyFileError, match=sentence) as refused:
        read_weather(_changed(tmp_path, change), repair=ALL)
    assert refused.value.summary.count("\n") == 0


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        (b"", "no weather file that is known"),
        (b"hello\nworld\n", "no weather file that is known"),
        (bytes(range(256)), "not text"),
        (b"{" * 100_000, "head or its columns"),
        (b'{"outputs": ' + b"[" * 100_000, "head or its columns"),
        (b'{"inputs": {"location": {}}, "outputs": {"hourly": []}}', "typical year of PVGIS"),
        (b"LOCATION," + b"," * 1_000_000 + b"\nDATA PERIODS,1,1", "holds no weather records"),
        (b"LOCATION,x\n" + b"\n" * 1_000_000, "more than one year"),
        (b"Latitude (decimal degrees):\t45\ntime,Gb(i),Gd(i)\n", "no direct normal irradiance"),
        (b"x" * 50_000_001, "larger than 50 MB"),
        (b"{" + b" " * 6_000_000 + b"}", "larger than 5 MB"),
    ],
)
def test_other_files_are_refused_in_one_sentence(tmp_path: Path, content: bytes, sentence: str) -> None:
    path = tmp_path / "other.txt"
    path.write_bytes(content)
    with pytest.raises(FaultyFileError, match=sentence):
        read_weather(path)


def test_what_cannot_be_opened(tmp_path: Path) -> None:
    with pytest.raises(KeepingError, match="is not a file"):
        read_weather(tmp_path / "absent.epw")
    with pytest.raises(KeepingError, match="is not a file"):
        read_weather(tmp_path)


def test_unknown_repairs_and_clocks_are_refused() -> None:
    with pytest.raises(BadInputError, match="drop-leap-day"):
        read_weather(TMY3, repair=frozenset({"polish"}))
    with pytest.raises(BadInputError, match="UTC\\+15"):
        read_weather(TMY3, utc_offset_h=15.0)


def test_another_clock_turns_the_same_year(clean: WeatherRead) -> None:
    turned = read_weather(TMY3, utc_offset_h=-4.0)
    assert turned.place.utc_offset_h == -4.0
    assert turned.year.dni_w_m2[1:] == pytest.approx(clean.year.dni_w_m2[:-1], abs=1e-9)
    half = read_weather(TMY2, utc_offset_h=-4.5)
    assert half.dni_kwh_m2 == pytest.approx(read_weather(TMY2).dni_kwh_m2, rel=2e-4)
