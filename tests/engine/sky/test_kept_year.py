"""The compact form of a weather year: what goes in comes out, and nothing else is taken for one."""

import zlib
from importlib.resources import files
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from studio.engine.sky.kept_year import pack_weather, quantised, unpack_weather
from studio.engine.sky.year import WeatherYear
from studio.errors import BadInputError
from studio.files.weather import read_weather

PACKAGED = Path(str(files("pvlib"))) / "data"
HEAD = b"stillfield weather 1\n"


def _same(one: WeatherYear, other: WeatherYear) -> bool:
    return all(
        np.array_equal(getattr(one, name), getattr(other, name)) for name in ("dni_w_m2", "air_c", "wind_m_s")
    )


def test_a_year_that_was_read_is_kept_exactly_and_small() -> None:
    year = read_weather(PACKAGED / "723170TYA.CSV").year
    packed = pack_weather(year)
    assert len(packed) < 30_000
    assert _same(unpack_weather(packed), year)
    assert pack_weather(unpack_weather(packed)) == packed


@settings(max_examples=20, deadline=None)
@given(seed=st.integers(0, 10_000))
def test_any_year_is_rounded_once_and_then_kept(seed: int) -> None:
    draw = np.random.default_rng(seed)
    year = WeatherYear(draw.uniform(0, 1400, 8760), draw.uniform(-60, 60, 8760), draw.uniform(0, 60, 8760))
    rounded = quantised(year)
    assert _same(quantised(rounded), rounded)
    assert _same(unpack_weather(pack_weather(year)), rounded)
    assert np.abs(rounded.dni_w_m2 - year.dni_w_m2).max() <= 0.05 + 1e-9
    assert np.abs(rounded.air_c - year.air_c).max() <= 0.005 + 1e-9
    assert np.abs(rounded.wind_m_s - year.wind_m_s).max() <= 0.005 + 1e-9


@pytest.mark.parametrize("absurd", [-0.1, 1400.1, float("nan"), float("inf")])
def test_absurd_years_are_not_packed(absurd: float) -> None:
    fine = np.zeros(8760)
    with pytest.raises(BadInputError, match="0 to 1400"):
        pack_weather(WeatherYear(np.full(8760, absurd), fine, fine))
    with pytest.raises(BadInputError, match="8760"):
        pack_weather(WeatherYear(fine[:-1], fine, fine))


@pytest.mark.parametrize(
    "blob",
    [
        b"",
        HEAD,
        HEAD + b"not zlib",
        HEAD + zlib.compress(b"\0" * 52_558),
        HEAD + zlib.compress(b"\0" * 52_562),
        HEAD + zlib.compress(b"\0" * 52_560) + b"more",
        HEAD + zlib.compress(b"\0" * 52_560)[:-3],
        HEAD + zlib.compress(b"\0" * 80_000_000),  # a small blob that would swell
        HEAD + zlib.compress(b"\xff\xff" * 26_280),  # counts far below 0
        HEAD + b"\0" * 200_000,
        b"other weather 1\n" + zlib.compress(b"\0" * 52_560),
    ],
)
def test_anything_else_is_no_kept_weather(blob: bytes) -> None:
    with pytest.raises(BadInputError, match=r"kept weather|8760 numbers"):
        unpack_weather(blob)


def test_flipped_bits_end_in_our_own_error_or_a_year_in_range() -> None:
    packed = pack_weather(read_weather(PACKAGED / "12839.tm2").year)
    draw = np.random.default_rng(1)
    refused = 0
    for _attempt in range(100):
        broken = bytearray(packed)
        broken[int(draw.integers(len(packed)))] ^= 1 << int(draw.integers(8))
        try:
            year = unpack_weather(bytes(broken))
        except BadInputError:
            refused += 1
        else:
            assert year.dni_w_m2.max() <= 1400.0
    assert refused > 95
