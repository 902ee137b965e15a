"""Level and sloping ground."""

import numpy as np
import pytest

from studio.engine.ground.plane import grade_percent, ground_normal, height_at
from studio.errors import BadInputError


def test_falls_the_way_it_says() -> None:
    def falling(x: float, y: float, towards: float) -> float:
        return float(height_at(x, y, slope_percent=4.0, falls_towards_deg=towards, reference=(10.0, 20.0)))

    assert falling(10.0, 20.0, 180.0) == 0.0
    assert falling(10.0, 120.0, 180.0) == pytest.approx(4.0)
    assert falling(110.0, 20.0, 90.0) == pytest.approx(-4.0)
    assert falling(110.0, 20.0, 0.0) == pytest.approx(0.0, abs=1e-12)


def test_grade_is_the_rise_along_a_walk() -> None:
    for azimuth in (0.0, 37.0, 90.0, 215.0):
        step = np.radians(azimuth)
        rise = height_at(100 * np.sin(step), 100 * np.cos(step), slope_percent=5.0, falls_towards_deg=150.0)
        assert grade_percent(azimuth, slope_percent=5.0, falls_towards_deg=150.0) == pytest.approx(rise)


def test_normal_is_square_to_the_ground() -> None:
    normal = np.array(ground_normal(slope_percent=8.0, falls_towards_deg=130.0))
    assert np.linalg.norm(normal) == pytest.approx(1.0)
    for x, y in ((1.0, 0.0), (0.0, 1.0)):
        rise = float(height_at(x, y, slope_percent=8.0, falls_towards_deg=130.0))
        assert normal @ [x, y, rise] == pytest.approx(0.0, abs=1e-12)


def test_a_negative_slope_is_refused() -> None:
    with pytest.raises(BadInputError, match="must be 0 or more"):
        height_at(0.0, 0.0, slope_percent=-1.0, falls_towards_deg=0.0)
