"""Every format against pvlib's own reader, and every record under the sun it was made under.

For a beam of DNI > 300 W/m2, (GHI - DHI) / DNI is the sine of the sun's elevation: it tells the time of a record.
"""

import os
from collections.abc import Callable
from importlib.resources import files
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from numpy.typing import NDArray
from pvlib import iotools

from studio.engine.sky.sun import clock_suns
from studio.files.weather import WeatherRead, read_weather

Floats = NDArray[np.float64]

PACKAGED = Path(str(files("pvlib"))) / "data"
REAL = Path(os.environ.get("STILLFIELD_DATA", "absent")) / "weather"
needs_real = pytest.mark.skipif(not REAL.is_dir(), reason="STILLFIELD_DATA names no folder with weather/")


def _tmy3(path: Path) -> pd.DataFrame:
    return pd.DataFrame(iotools.read_tmy3(path, map_variables=True)[0])


def _tmy2(path: Path) -> pd.DataFrame:
    data = pd.DataFrame(iotools.read_tmy2(path)[0])
    names = {"GHI": "ghi", "DNI": "dni", "DHI": "dhi", "DryBulb": "temp_air", "Wspd": "wind_speed"}
    data = data.rename(columns=names)
    data[["temp_air", "wind_speed"]] /= 10.0
    return data


def _epw(path: Path) -> pd.DataFrame:
    data = pd.DataFrame(iotools.read_epw(path)[0])
    return data[~((data["month"] == 2) & (data["day"] == 29))]


def _nsrdb(path: Path) -> pd.DataFrame:
    return pd.DataFrame(iotools.read_nsrdb_psm4(path)[0])


def _pvgis(path: Path) -> pd.DataFrame:
    return pd.DataFrame(iotools.read_pvgis_tmy(path)[0])


def _as_they_stand(column: Floats) -> Floats:
    """Hour-ending records in the file's order are the hours of the year in order."""
    return column


def _half_hours(column: Floats) -> Floats:
    """Moments at :00 and :30: the mean over the hour by the trapezoidal rule."""
    whole, half = column[::2], column[1::2]
    return (whole + 2.0 * half + np.roll(whole, -1)) / 4.0


def _ten_past_utc(column: Floats) -> Floats:
    """Seen at :10.566 UTC; the middle of our hour (UTC+1) is :30, between two of them."""
    share = (0.5 - 0.1761) / 1.0
    return np.roll(column, 1) * (1 - share) + column * share


CASES = [
    (PACKAGED / "723170TYA.CSV", _tmy3, _as_they_stand),
    (PACKAGED / "703165TY.csv", _tmy3, _as_they_stand),
    (PACKAGED / "12839.tm2", _tmy2, _as_they_stand),
    *(
        pytest.param(REAL / name, reader, place, marks=needs_real)
        for name, reader, place in [
            ("23050.tm2", _tmy2, _as_they_stand),
            ("TX-El_Paso_International_Ap_Ut.tmy3", _tmy3, _as_they_stand),
            ("USA_CA_Barstow.Daggett.AP.723815_TMY3.epw", _epw, _as_they_stand),
            ("CUB_Santiago.de.Cuba.782640_SWERA.epw", _epw, _as_they_stand),
            ("USA_IL_Chicago-OHare.Intl.AP.725300_AMY_2012_LeapYear.epw", _epw, _as_they_stand),
            ("test_read_psm4.csv", _nsrdb, _half_hours),
            ("tmy_45.000_8.000_2005_2023.csv", _pvgis, _ten_past_utc),
            ("tmy_45.000_8.000_2005_2023.json", _pvgis, _ten_past_utc),
        ]
    ),
]
Case = tuple[Path, Callable[[Path], pd.DataFrame], Callable[[Floats], Floats]]


@pytest.mark.parametrize(("path", "reader", "placed"), CASES, ids=lambda value: getattr(value, "name", ""))
def test_every_record_stands_under_its_own_sun(
    path: Path, reader: Callable[[Path], pd.DataFrame], placed: Callable[[Floats], Floats]
) -> None:
    read = read_weather(path, repair=frozenset({"drop-leap-day"}))
    data = reader(path)
    dni = placed(np.asarray(data["dni"], dtype=np.float64))
    # the same direct sun as pvlib reads, up to what was moved from wholly dark hours to the lit one beside
    far = np.abs(read.year.dni_w_m2 - dni) > 0.051
    assert far.sum() < 100
    assert read.dni_kwh_m2 == pytest.approx(dni.sum() / 1000.0, rel=2e-4)
    beam = placed(np.asarray(data["ghi"] - data["dhi"], dtype=np.float64))
    shifts = np.array([-60, -30, -10, -4, -2, 0, 2, 4, 10, 30, 60])
    misses = [_miss(read, beam, float(minutes)) for minutes in shifts]
    assert abs(int(shifts[int(np.argmin(misses))])) <= 2
    assert _miss(read, beam, 0.0) < 0.02


@pytest.mark.parametrize(
    ("path", "reader", "placed"), CASES[:3], ids=lambda value: getattr(value, "name", "")
)
def test_air_and_wind_are_the_mean_of_the_hours_two_ends(
    path: Path, reader: Callable[[Path], pd.DataFrame], placed: Callable[[Floats], Floats]
) -> None:
    """TMY manuals give both at the time indicated, which is the hour's end."""
    read, data = read_weather(path), reader(path)
    for ours, theirs in ((read.year.air_c, "temp_air"), (read.year.wind_m_s, "wind_speed")):
        end = placed(np.asarray(data[theirs], dtype=np.float64))
        assert ours == pytest.approx((end + np.roll(end, 1)) / 2.0, abs=0.0051)


@needs_real
def test_both_forms_of_one_year_agree() -> None:
    csv = read_weather(REAL / "tmy_45.000_8.000_2005_2023.csv")
    json = read_weather(REAL / "tmy_45.000_8.000_2005_2023.json")
    assert csv.place == json.place
    assert np.array_equal(csv.year.dni_w_m2, json.year.dni_w_m2)
    assert np.array_equal(csv.year.air_c, json.year.air_c)


@needs_real
@pytest.mark.parametrize(
    ("name", "dni_kwh_m2"),
    [
        ("USA_CA_Barstow.Daggett.AP.723815_TMY3.epw", 2723),
        ("23050.tm2", 2477),
        ("TX-El_Paso_International_Ap_Ut.tmy3", 2430),
        ("test_read_psm4.csv", 2268),
        ("tmy_45.000_8.000_2005_2023.csv", 1592),
    ],
)
def test_yearly_sums(name: str, dni_kwh_m2: float) -> None:
    assert read_weather(REAL / name).dni_kwh_m2 == pytest.approx(dni_kwh_m2, abs=0.6)


@needs_real
def test_impossible_air_is_replaced_and_told() -> None:
    read = read_weather(REAL / "CUB_Santiago.de.Cuba.782640_SWERA.epw")
    assert read.faults[0].found == "64"
    assert read.year.air_c.max() < 60.0
    assert len(read.repairs) == 1


def _miss(read: WeatherRead, beam: Floats, minutes: float) -> float:
    """Root mean square of the beam's sine against the sun's, with the sun ``minutes`` later."""
    place = read.place
    hours = np.arange(8760) + 0.5 + minutes / 60.0
    sun = clock_suns(
        1,
        hours,
        latitude_deg=place.latitude_deg,
        longitude_deg=place.longitude_deg,
        altitude_m=place.altitude_m,
        utc_offset_h=place.utc_offset_h,
    )
    strong = read.year.dni_w_m2 > 300.0
    off = beam[strong] / read.year.dni_w_m2[strong] - np.sin(np.radians(sun.elevation_deg[strong]))
    return float(np.sqrt(np.mean(off**2)))
