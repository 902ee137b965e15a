"""Rows behind one another in winter against published pitches and pvlib."""

import dataclasses
from functools import cache
from math import cos, radians, sin, tan
from typing import Any

import numpy as np
import pandas as pd
import pytest
from pvlib import atmosphere, clearsky, irradiance, shading, solarposition

from studio.design.field import Line
from studio.study.assessment import Assessment
from tests.outside.dryer import ASSESSOR, Floats, changed, example


@dataclasses.dataclass(frozen=True)
class WinterSun:
    """21 December at the example: apparent solar hours, zenith and azimuth by pvlib, DNI of a clear sky."""

    solar_h: Floats
    zenith_deg: Floats
    azimuth_deg: Floats
    dni: Floats


@cache
def winter_sun() -> WinterSun:
    site = example().design.site
    moments = pd.date_range("2025-12-21 06:00", "2025-12-21 18:00", freq="1min", tz="UTC")
    sun = solarposition.get_solarposition(
        moments, site.latitude_deg, site.longitude_deg, altitude=site.altitude_m
    )
    clock = (moments.hour + moments.minute / 60.0).to_numpy(dtype=float)
    solar = clock + site.longitude_deg / 15.0 + sun["equation_of_time"].to_numpy(dtype=float) / 60.0
    wanted = np.linspace(10.0, 14.0, 49)
    turbidity = clearsky.lookup_linke_turbidity(moments, site.latitude_deg, site.longitude_deg)
    zenith = sun["apparent_zenith"].to_numpy(dtype=float)
    relative = atmosphere.get_relative_airmass(zenith)
    airmass = atmosphere.get_absolute_airmass(relative, atmosphere.alt2pres(site.altitude_m))
    dni = clearsky.ineichen(zenith, airmass, turbidity.to_numpy(dtype=float), altitude=site.altitude_m)["dni"]

    def at(values: Any) -> Floats:
        return np.asarray(np.interp(wanted, solar, np.nan_to_num(np.asarray(values, dtype=float))))

    return WinterSun(wanted, at(zenith), at(sun["azimuth"]), at(dni))


def unshaded_pitch_m(solar_h: float) -> float:
    """D = h (cos b + sin b / tan(profile angle)), tan(pa) = tan(altitude) / cos(azimuth from south).

    Duffie & Beckman ch. 1.9; Passias & Kallback, Solar Cells 11 (1984) 281.
    """
    sun, mirror = winter_sun(), example().design.mirror
    altitude = radians(90.0 - float(np.interp(solar_h, sun.solar_h, sun.zenith_deg)))
    aside = radians(float(np.interp(solar_h, sun.solar_h, sun.azimuth_deg)) - 180.0)
    profile = tan(altitude) / cos(aside)
    tilt = radians(mirror.tilt_deg)
    return mirror.height_m * (cos(tilt) + sin(tilt) / profile)


def long_rows(pitch_m: float) -> Assessment:
    """Touching mirrors in two rows on level ground; the front one reaches far past the ends of the one behind."""
    width = example().design.mirror.width_m
    front = Line(id=1, x_m=0.0, y_m=0.0, spacing_m=width, count=60)
    behind = Line(id=2, x_m=20 * width, y_m=pitch_m, spacing_m=width, count=20)
    return ASSESSOR.assess(changed(example(), lines=(front, behind)), calendar=False)


def pvlib_shares(pitch_m: float) -> tuple[float, float]:
    """Mean (weighted with DNI x cosine) and largest shaded share of a long row, pvlib.shading.shaded_fraction1d."""
    sun, mirror = winter_sun(), example().design.mirror
    share = np.asarray(
        shading.shaded_fraction1d(
            sun.zenith_deg,
            sun.azimuth_deg,
            axis_azimuth=90.0,
            shaded_row_rotation=mirror.tilt_deg,
            collector_width=mirror.height_m,
            pitch=pitch_m,
        )
    )
    light = sun.dni * np.cos(
        np.radians(irradiance.aoi(mirror.tilt_deg, 180.0, sun.zenith_deg, sun.azimuth_deg))
    )
    light[[0, -1]] *= 0.5
    return float((share * light).sum() / light.sum()), float(share.max())


def test_rows_just_farther_apart_than_the_published_pitch_pass_unshaded() -> None:
    """Rows shade longest at 10 and 14 h solar; half a per cent is left for refraction in the air of the moment."""
    pitch = 1.005 * unshaded_pitch_m(10.0)
    assert unshaded_pitch_m(10.0) > unshaded_pitch_m(12.0)
    line = long_rows(pitch).lines[1]
    assert line.winter_mean == 0.0
    assert line.winter_largest == 0.0


def test_rows_just_nearer_than_the_published_pitch_are_shaded_at_the_ends_of_the_check() -> None:
    line = long_rows(0.98 * unshaded_pitch_m(10.0)).lines[1]
    assert 0.0 < line.winter_mean < line.winter_largest < 0.03
    assert min(abs(line.winter_largest_hour - 10.0), abs(line.winter_largest_hour - 14.0)) < 1e-6


@pytest.mark.parametrize("share_of_pitch", [0.95, 0.8, 0.6])
def test_winter_shade_of_long_rows_is_that_of_pvlib(share_of_pitch: float) -> None:
    """Anderson & Jensen, Shaded fraction and backtracking in single-axis trackers on rolling terrain (2024), in pvlib."""
    pitch = share_of_pitch * unshaded_pitch_m(10.0)
    front, behind = long_rows(pitch).lines
    mean, largest = pvlib_shares(pitch)
    assert largest == pytest.approx(1.0 - share_of_pitch, abs=1e-6)  # similar triangles
    assert behind.winter_mean == pytest.approx(mean, abs=0.002)
    assert behind.winter_largest == pytest.approx(largest, abs=0.002)
    assert front.winter_mean == 0.0
    ((caster, by_it),) = behind.winter_by
    assert caster == 1
    assert by_it == pytest.approx(behind.winter_mean, abs=1e-9)
