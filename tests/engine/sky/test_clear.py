"""Clear sky and turbidity against pvlib as a whole."""

import numpy as np
import pandas as pd
import pytest
from pvlib import atmosphere, clearsky, irradiance

from studio.engine.sky.clear import clear_dni, daily_turbidity, monthly_turbidity

PLACES = [
    (35.0, -116.8),
    (-33.9, 18.4),
    (60.0, 25.0),
    (0.0, 179.99),
    (-89.99, -180.0),
    (90.0, 180.0),
    (45.04, 8.0),
]


@pytest.mark.parametrize("altitude_m", [0.0, 586.0, 2500.0])
@pytest.mark.parametrize("turbidity", [2.0, 3.5, 7.0])
def test_dni_is_pvlibs(altitude_m: float, turbidity: float) -> None:
    elevation = np.array([-10.0, -0.01, 0.01, 0.5, 3.0, 10.0, 30.0, 60.0, 90.0])
    day = np.array([1, 60, 120, 172, 200, 240, 280, 320, 365])
    mass = atmosphere.get_absolute_airmass(
        atmosphere.get_relative_airmass(90.0 - elevation), atmosphere.alt2pres(altitude_m)
    )
    above = irradiance.get_extra_radiation(day)
    wanted = clearsky.ineichen(90.0 - elevation, mass, turbidity, altitude_m, above)["dni"]
    ours = clear_dni(elevation, day, altitude_m=altitude_m, turbidity=turbidity)
    # pvlib's bound by the global irradiance divides by the sine again; below 1 deg only rounding is left of it
    assert ours == pytest.approx(np.where(elevation > 0, wanted, 0.0), rel=1e-9, abs=1e-9)


@pytest.mark.parametrize(("latitude", "longitude"), PLACES)
def test_turbidity_is_pvlibs(latitude: float, longitude: float) -> None:
    months = pd.date_range("2025-01-15", periods=12, freq="MS", tz="UTC")
    wanted = clearsky.lookup_linke_turbidity(months, latitude, longitude, interp_turbidity=False)
    rolled = {int(stamp.month): float(value) for stamp, value in wanted.items()}
    assert monthly_turbidity(latitude, longitude) == tuple(rolled[month] for month in range(1, 13))


def test_daily_turbidity_is_pvlibs() -> None:
    days = pd.date_range("2025-01-01", periods=365, tz="UTC")
    wanted = clearsky.lookup_linke_turbidity(days, 35.0, -116.8)
    ours = daily_turbidity(monthly_turbidity(35.0, -116.8))
    # pvlib counts a day by its end, we by its middle
    assert ours == pytest.approx(wanted.to_numpy(), abs=0.03)
    assert daily_turbidity([3.0] * 12) == pytest.approx(np.full(365, 3.0))


def test_a_sky_darkens_with_turbidity_and_clears_with_height() -> None:
    assert clear_dni(40.0, 80, altitude_m=0.0, turbidity=5.0) < clear_dni(
        40.0, 80, altitude_m=0.0, turbidity=3.0
    )
    assert clear_dni(40.0, 80, altitude_m=2000.0, turbidity=3.0) > clear_dni(
        40.0, 80, altitude_m=0.0, turbidity=3.0
    )
    assert clear_dni([-0.1, 0.0], 80, altitude_m=0.0, turbidity=3.0) == pytest.approx([0.0, 0.0])
