"""The skyline by formula: between its points, round past north, and the hours it hides."""

import numpy as np
import pytest

from studio.engine.sky.horizon import hidden_share, is_hidden, skyline_deg
from studio.engine.sky.sun import direction_from

RIDGE = ((60.0, 4.0), (120.0, 10.0), (300.0, 1.0))


@pytest.mark.parametrize(
    ("azimuth", "elevation"),
    [(60.0, 4.0), (90.0, 7.0), (210.0, 5.5), (0.0, 2.5), (360.0, 2.5), (330.0, 1.75)],
)
def test_straight_between_points_and_round_past_north(azimuth: float, elevation: float) -> None:
    assert skyline_deg(RIDGE, azimuth) == pytest.approx(elevation)


def test_none_is_level_and_one_point_is_the_same_all_round() -> None:
    assert skyline_deg((), [0.0, 200.0]) == pytest.approx([0.0, 0.0])
    assert skyline_deg(((10.0, 3.0),), [0.0, 200.0]) == pytest.approx([3.0, 3.0])


def test_the_suns_centre_decides() -> None:
    suns = direction_from(np.array([9.99, 10.01, 6.9, 7.1]), np.array([120.0, 120.0, 90.0, 90.0]))
    assert is_hidden(RIDGE, suns).tolist() == [True, False, True, False]


@pytest.mark.parametrize(
    ("latitude", "declination", "wall"), [(35.0, 0.0, 12.0), (50.0, 20.0, 8.0), (-30.0, 10.0, 20.0)]
)
def test_hours_that_a_level_ridge_hides_by_the_hour_angle_of_that_elevation(
    latitude: float, declination: float, wall: float
) -> None:
    """sin(elevation) = sin φ sin δ + cos φ cos δ cos ω (Duffie & Beckman, eq. 1.6.5), solved for ω."""
    lat, decl = np.radians(latitude), np.radians(declination)

    def hour_angle(elevation: float) -> float:
        level = np.sin(np.radians(elevation)) - np.sin(lat) * np.sin(decl)
        return float(np.degrees(np.arccos(level / np.cos(lat) / np.cos(decl))))

    steps = np.arange(-180.0, 180.0, 15.0) + 7.5
    rise = hour_angle(0.0)
    low, high = np.clip(steps - 7.5, -rise, rise), np.clip(steps + 7.5, -rise, rise)
    hidden = hidden_share(
        ((0.0, wall),), np.full(24, declination), (low + high) / 2, (high - low) / 15.0, latitude_deg=latitude
    )
    wanted = 2 * (rise - hour_angle(wall)) / 15.0
    # eight looks an hour
    assert float((hidden * (high - low) / 15.0).sum()) == pytest.approx(wanted, abs=2 / 16)
