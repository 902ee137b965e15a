"""Shadows of poles and the skyline against hand formulas.

Shadow length of an upright pole on level ground: h / tan(elevation), towards the azimuth opposite the sun's (plane
trigonometry; Duffie & Beckman, Solar Engineering of Thermal Processes, ch. 1.6 for the angles).
"""

from math import cos, radians, sin, tan

import numpy as np
import pytest

from studio.engine.mirror.frame import mirror_axes
from studio.engine.shade.obstacles import BlockBody, CrownBody, PoleBody, Slope, obstacle_shade
from studio.engine.shade.rows import RowOfMirrors
from studio.engine.sky.horizon import skyline_deg
from studio.engine.sky.sun import direction_from

HEIGHT = 7.0


def plate(x: float, y: float, *, side: float = 0.02, z: float = 0.0) -> RowOfMirrors:
    """A small plate that lies level at a place."""
    return RowOfMirrors(
        first=(x, y, z), along=(1.0, 0.0, 0.0), spacing_m=1.0, count=1, axes=mirror_axes(tilt_deg=0.0, facing_deg=180.0),
        width_m=side, height_m=side,
    )  # fmt: skip


@pytest.mark.parametrize(("elevation", "azimuth"), [(20.0, 130.0), (35.0, 180.0), (60.0, 250.0), (8.0, 95.0)])
def test_a_poles_shadow_ends_at_its_height_over_the_tangent_of_the_suns_elevation(
    elevation: float, azimuth: float
) -> None:
    length = HEIGHT / tan(radians(elevation))
    away = np.array([sin(radians(azimuth + 180.0)), cos(radians(azimuth + 180.0))])
    sun = direction_from(np.array([elevation]), np.array([azimuth]))
    pole = PoleBody(0.0, 0.0, 0.05, 0.0, HEIGHT)

    def dark(far: float, *, aside: float = 0.0) -> float:
        x, y = far * away + aside * np.array([away[1], -away[0]])
        return float(obstacle_shade(plate(x, y), [pole], np.zeros((1, 1)), sun).mean[0, 0])

    # the rod's thickness carries its shadow's end half a thickness on
    assert dark(length - 0.02) == 1.0
    assert dark(length + 0.05 + 0.02) == 0.0
    assert dark(length / 2, aside=0.05 - 0.015) == 1.0
    assert dark(length / 2, aside=0.05 + 0.015) == 0.0


def test_a_wall_shades_as_far_as_the_profile_angle_says() -> None:
    """Shadow of a long wall square to it: h / tan(profile angle); tan p = tan(elevation) / cos(azimuth from its normal)."""
    wall = BlockBody(((-200.0, 0.0), (200.0, 0.0), (200.0, 0.2), (-200.0, 0.2)), 2.0)
    for elevation, azimuth in ((25.0, 180.0), (25.0, 140.0), (40.0, 230.0)):
        reach = 2.0 * cos(radians(azimuth - 180.0)) / tan(radians(elevation))
        sun = direction_from(np.array([elevation]), np.array([azimuth]))
        for by, wanted in ((-0.05, 1.0), (0.05, 0.0)):
            row = plate(0.0, 0.2 + reach + by)
            assert obstacle_shade(row, [wall], np.zeros((1, 1)), sun).mean[0, 0] == wanted, (
                elevation,
                azimuth,
                by,
            )


def test_on_a_slope_that_falls_away_from_the_sun_the_shadow_is_longer() -> None:
    """On ground that falls by s away from the sun: h / (tan(elevation) - s), by similar triangles."""
    fall, elevation = 0.1, 20.0
    reach = HEIGHT / (tan(radians(elevation)) - fall)
    sun = direction_from(np.array([elevation]), np.array([180.0]))
    block = BlockBody(((-9.0, -1.0), (9.0, -1.0), (9.0, 0.0), (-9.0, 0.0)), HEIGHT, Slope(0.0, -fall, 0.0))
    for by, wanted in ((-0.05, 1.0), (0.05, 0.0)):
        row = plate(0.0, reach + by, z=-fall * (reach + by))
        assert obstacle_shade(row, [block], np.zeros((1, 1)), sun).mean[0, 0] == wanted


def test_a_crowns_shadow_is_as_large_as_the_ellipse_it_throws() -> None:
    """A sphere's shadow on level ground is an ellipse of area pi r² / sin(elevation)."""
    radius, elevation = 1.5, 33.0
    sun = direction_from(np.array([elevation]), np.array([200.0]))
    far = 6.0 / tan(radians(elevation))
    row = RowOfMirrors(
        first=(far * sin(radians(20.0)) - 4.0, far * cos(radians(20.0)) - 4.0, 0.0), along=(1.0, 0.0, 0.0),
        spacing_m=0.25, count=33, axes=mirror_axes(tilt_deg=0.0, facing_deg=180.0), width_m=0.25, height_m=0.25,
    )  # fmt: skip
    area = 0.0
    for step in range(33):
        x, y, z = row.first
        strip = RowOfMirrors(
            first=(x, y + 0.25 * step, z), along=row.along, spacing_m=0.25, count=33, axes=row.axes, width_m=0.25,
            height_m=0.25,
        )  # fmt: skip
        shade = obstacle_shade(strip, [CrownBody(0.0, 0.0, 6.0, radius, radius)], np.zeros((1, 1)), sun)
        area += float(shade.mean[0, 0]) * 33 * 0.0625
    assert area == pytest.approx(np.pi * radius**2 / sin(radians(elevation)), rel=0.005)


def test_the_skyline_between_two_peaks_is_the_straight_line_between_them() -> None:
    """Two peaks of 120 m and 60 m, 800 m and 1,000 m away: atan(h / d), and halfway between their mean."""
    peaks = tuple(
        (azimuth, float(np.degrees(np.arctan(h / d))))
        for azimuth, h, d in ((90.0, 120, 800), (150.0, 60, 1000))
    )
    assert skyline_deg(peaks, 120.0) == pytest.approx((8.5308 + 3.4336) / 2, abs=1e-3)
