"""The smallest passing pitch."""

import numpy as np
import pytest

from studio.engine.shade.rows import Floats
from studio.engine.shade.winter import passing_pitch


def falling(scale: float) -> Floats:
    """Invented: long rows whose least pitch without shade is 4 m, at pitches of 3 m and 2.5 m."""
    return np.maximum(0.0, 1 - scale * np.array([3.0, 2.5]) / 4.0)


def test_finds_the_pitch_to_within_5_mm_on_the_passing_side() -> None:
    found = passing_pitch(falling, limit=0.05, pitch_m=3.0, least_scale=0.5, most_scale=3.0)
    exact = 0.95 * 4.0 / 2.5
    assert found.scale is not None
    assert exact <= found.scale <= exact + 0.005 / 3.0
    assert found.shade == pytest.approx(falling(found.scale))
    assert found.shade.max() <= 0.05
    assert found.steady


def test_none_when_even_the_largest_does_not_pass() -> None:
    found = passing_pitch(falling, limit=0.05, pitch_m=3.0, least_scale=0.5, most_scale=1.0)
    assert found.scale is None
    assert found.shade == pytest.approx(falling(1.0))


def test_the_least_scale_when_that_passes() -> None:
    found = passing_pitch(falling, limit=0.9, pitch_m=3.0, least_scale=0.5, most_scale=1.0)
    assert found.scale == 0.5


def test_says_when_shade_does_not_fall_with_pitch() -> None:
    def humped(scale: float) -> Floats:
        return np.array([0.2 if scale < 1.2 else 0.3 if scale < 2.5 else 0.0])

    found = passing_pitch(humped, limit=0.05, pitch_m=3.0, least_scale=0.5, most_scale=3.0)
    assert found.scale == pytest.approx(2.5, abs=0.005)
    assert not found.steady


def test_bounds_without_sense_are_refused() -> None:
    with pytest.raises(ValueError, match="scales run from 2"):
        passing_pitch(falling, limit=0.05, pitch_m=3.0, least_scale=2.0, most_scale=1.0)
