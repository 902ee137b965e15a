"""Workmanship: setting-out drawn and measured, errors added, the table in order."""

import numpy as np
import pytest

from studio.engine.mirror.workmanship import (
    combined_slope_mrad,
    setting_out_slope,
    workmanship_table,
)
from studio.errors import BadInputError


@pytest.mark.parametrize(
    ("parts", "together"), [((), 0.0), ((3.0,), 3.0), ((3.0, 4.0), 5.0), ((1.0, 2.0, 2.0), 3.0)]
)
def test_independent_errors_add_by_their_squares(parts: tuple[float, ...], together: float) -> None:
    assert combined_slope_mrad(*parts) == pytest.approx(together)


def test_setting_out_is_that_of_many_ribs_drawn() -> None:
    """Heights drawn with a seed for 200 ribs held at 200 points each."""
    height = np.random.default_rng(3).normal(0, 0.5, (200, 200))
    found = setting_out_slope(0.5, strip_width_m=0.125, held_every_m=0.3)
    assert found.across_mrad == pytest.approx(np.std(np.diff(height, axis=0)) / 0.125, rel=0.02)
    assert found.along_mrad == pytest.approx(np.std(np.diff(height, axis=1)) / 0.3, rel=0.02)
    assert 2 * found.slope_mrad**2 == pytest.approx(found.across_mrad**2 + found.along_mrad**2)


def test_wide_strips_forgive_setting_out() -> None:
    narrow, wide = (setting_out_slope(1, strip_width_m=b, held_every_m=0.3).across_mrad for b in (0.1, 0.2))
    assert narrow == pytest.approx(2 * wide)


def test_the_table_goes_from_fine_to_rough_and_says_where_from() -> None:
    table = workmanship_table(strip_width_m=0.125, held_every_m=0.3)
    slopes = [row.slope_mrad for row in table]
    assert slopes == sorted(slopes)
    assert len({row.words for row in table}) == len(table) == 5
    for row in table:
        assert (row.origin == "guess") == (row.setting_out_mm is not None)
        if row.setting_out_mm is not None:
            least = setting_out_slope(row.setting_out_mm, strip_width_m=0.125, held_every_m=0.3)
            assert row.slope_mrad > least.slope_mrad


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(BadInputError, match="found 1, -2 mrad"):
        combined_slope_mrad(1, -2)
    with pytest.raises(BadInputError, match="setting-out must not be below 0 mm"):
        setting_out_slope(-1, strip_width_m=1, held_every_m=1)
    with pytest.raises(BadInputError, match="strip's width"):
        setting_out_slope(1, strip_width_m=0, held_every_m=1)
