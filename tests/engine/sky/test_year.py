"""A year shaped from twelve monthly sums."""

from typing import TypedDict

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from studio.engine.sky.calendar import DAYS_OF_MONTHS, months_of_hours
from studio.engine.sky.sun import hour_suns
from studio.engine.sky.year import ShapedYear, clear_year, year_from_months
from studio.errors import BadInputError

LENGTHS = np.asarray(DAYS_OF_MONTHS)
SUNNY = (4.5, 5.2, 6.0, 7.1, 7.9, 8.6, 7.9, 7.4, 7.0, 6.0, 4.9, 4.2)  # invented, kWh/m2 a day
WARMTH = (8.0, 10.0, 13.0, 16.0, 21.0, 26.0, 29.0, 28.0, 25.0, 19.0, 13.0, 8.0)  # invented, degC
BREEZE = (2.0, 2.5, 3.0, 3.5, 4.0, 4.0, 3.5, 3.0, 3.0, 2.5, 2.0, 2.0)  # invented, m/s


class Site(TypedDict):
    latitude_deg: float
    longitude_deg: float
    altitude_m: float
    utc_offset_h: float


DESERT: Site = {"latitude_deg": 35.0, "longitude_deg": -116.8, "altitude_m": 586.0, "utc_offset_h": -8.0}
SUNS = hour_suns(**DESERT)
TURBIDITY = (3.0,) * 12


def _year(sums: tuple[float, ...] = SUNNY, *, seed: int = 0, swing_k: float = 12.0) -> ShapedYear:
    return year_from_months(
        monthly_daily_dni_kwh_m2=sums,
        monthly_air_c=WARMTH,
        daily_swing_k=swing_k,
        wind_m_s=BREEZE,
        seed=seed,
        turbidity=TURBIDITY,
        suns=SUNS,
        **DESERT,
    )


def _daily(hourly: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> list[float]:
    return list(np.bincount(months_of_hours(), weights=hourly) / 1000.0 / LENGTHS)


@settings(max_examples=40, deadline=None)
@given(shares=st.lists(st.floats(0.0, 1.25), min_size=12, max_size=12), seed=st.integers(0, 2**32))
def test_monthly_sums_are_met_exactly(shares: list[float], seed: int) -> None:
    clear = _daily(clear_year(SUNS, altitude_m=586.0, turbidity=TURBIDITY))
    sums = tuple(share * most for share, most in zip(shares, clear, strict=True))
    shaped = _year(sums, seed=seed)
    assert _daily(shaped.weather.dni_w_m2) == pytest.approx(sums, rel=1e-9, abs=1e-12)
    assert shaped.rescaled_months == tuple(month for month, share in enumerate(shares, 1) if share > 1.0)
    assert (shaped.weather.dni_w_m2 >= 0.0).all()
    assert (shaped.weather.dni_w_m2[SUNS.sunlit_h == 0.0] == 0.0).all()


def test_no_hour_passes_the_clear_sky_where_the_sum_fits_it() -> None:
    clear = clear_year(SUNS, altitude_m=586.0, turbidity=TURBIDITY)
    shaped = _year()
    assert shaped.rescaled_months == ()
    assert (shaped.weather.dni_w_m2 <= clear * (1 + 1e-9)).all()


def test_a_year_has_clear_days_closed_days_and_broken_ones() -> None:
    clear = clear_year(SUNS, altitude_m=586.0, turbidity=TURBIDITY).reshape(365, 24)
    days = _year().weather.dni_w_m2.reshape(365, 24).sum(axis=1) / clear.sum(axis=1)
    assert (days > 0.95).mean() > 0.15
    assert (days < 0.25).mean() > 0.03
    # neighbours are more alike than days at random
    assert np.corrcoef(days[:-1], days[1:])[0, 1] > 0.15
    noon = _year().weather.dni_w_m2.reshape(365, 24)[:, 10:14] / clear[:, 10:14]
    assert noon.std(axis=1).max() > 0.2


def test_months_beyond_the_clear_sky_are_named_and_clear_throughout() -> None:
    clear = clear_year(SUNS, altitude_m=586.0, turbidity=TURBIDITY)
    most = _daily(clear)
    sums = (most[0] * 1.05, *SUNNY[1:6], most[6] * 1.1, *SUNNY[7:])
    shaped = _year(sums)
    assert shaped.rescaled_months == (1, 7)
    january = months_of_hours() == 0
    assert shaped.weather.dni_w_m2[january] == pytest.approx(clear[january] * 1.05)


def test_a_sum_no_sky_can_give_is_met_and_named() -> None:
    shaped = _year((*SUNNY[:5], 19.0, *SUNNY[6:]))
    assert shaped.rescaled_months == (6,)
    assert _daily(shaped.weather.dni_w_m2)[5] == pytest.approx(19.0)


def test_a_month_without_sun_has_no_sum() -> None:
    with pytest.raises(BadInputError, match="Month 12 has no sun"):
        year_from_months(
            monthly_daily_dni_kwh_m2=(0.0, 1.0, 2.0, 3.0, 3.0, 3.0, 3.0, 3.0, 2.0, 1.0, 0.0, 1.0),
            monthly_air_c=WARMTH,
            daily_swing_k=5.0,
            wind_m_s=BREEZE,
            latitude_deg=78.0,
            longitude_deg=15.0,
            altitude_m=0.0,
            utc_offset_h=1.0,
        )


@pytest.mark.parametrize("sums", [(5.0,) * 11, (float("nan"),) * 12, (-1.0,) * 12])
def test_anything_but_twelve_sums_is_refused(sums: tuple[float, ...]) -> None:
    with pytest.raises(BadInputError, match="twelve numbers"):
        _year(sums)


def test_the_same_seed_gives_the_same_year_and_another_one_another() -> None:
    first, again, other = _year(seed=3), _year(seed=3), _year(seed=4)
    assert np.array_equal(first.weather.dni_w_m2, again.weather.dni_w_m2)
    assert not np.array_equal(first.weather.dni_w_m2, other.weather.dni_w_m2)


def test_air_has_its_monthly_means_and_its_daily_swing() -> None:
    air = _year(swing_k=14.0).weather.air_c
    assert np.bincount(months_of_hours(), weights=air) / 24.0 / LENGTHS == pytest.approx(WARMTH)
    days = air.reshape(365, 24)
    assert np.ptp(days, axis=1).mean() == pytest.approx(14.0, abs=0.4)
    assert 14 <= np.bincount(days.argmax(axis=1)).argmax() <= 15
    # no step from month to month beyond the daily course
    assert np.abs(np.diff(days.mean(axis=1))).max() < 0.4
    assert _year().weather.wind_m_s[months_of_hours() == 5] == pytest.approx(4.0)


def test_a_place_looks_up_its_own_turbidity() -> None:
    looked_up = year_from_months(
        monthly_daily_dni_kwh_m2=SUNNY,
        monthly_air_c=WARMTH,
        daily_swing_k=12.0,
        wind_m_s=BREEZE,
        **DESERT,
    )
    assert looked_up.weather.dni_kwh_m2 == pytest.approx(_year().weather.dni_kwh_m2)
    assert not np.array_equal(looked_up.weather.dni_w_m2, _year().weather.dni_w_m2)
