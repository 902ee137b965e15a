"""Shade between rows against published formulas, tables and general libraries."""

from dataclasses import replace
from math import asin, atan2, cos, degrees, hypot, radians, sin, tan

import numpy as np
import pvlib
import pytest

from studio.engine.mirror.frame import Vector, mirror_axes
from studio.engine.shade import clip
from studio.engine.shade.parallel import shade_of_line
from studio.engine.shade.polygons import on_ground
from studio.engine.shade.rows import Floats, RowOfMirrors


def sun_at(latitude: float, declination: float, hour_angle: float) -> Vector:
    """East, north, up of the sun: Duffie & Beckman, Solar Engineering of Thermal Processes, section 1.6."""
    lat, decl, hour = radians(latitude), radians(declination), radians(hour_angle)
    return (
        -cos(decl) * sin(hour),
        cos(lat) * sin(decl) - sin(lat) * cos(decl) * cos(hour),
        sin(lat) * sin(decl) + cos(lat) * cos(decl) * cos(hour),
    )


def sun_from(altitude: float, east_of_south: float) -> Vector:
    up, around = radians(altitude), radians(east_of_south)
    return cos(up) * sin(around), -cos(up) * cos(around), sin(up)


def row(y: float, *, tilt: float, count: int = 1, spacing: float = 2.5, width: float = 2.5) -> RowOfMirrors:
    return RowOfMirrors(
        first=(-(count - 1) / 2 * spacing, y, 0.0),
        along=(1.0, 0.0, 0.0),
        spacing_m=spacing,
        count=count,
        axes=mirror_axes(tilt_deg=tilt, facing_deg=180.0),
        width_m=width,
        height_m=2.0,
    )


def shares(target: RowOfMirrors, caster: RowOfMirrors, *suns: Vector) -> Floats:
    return shade_of_line(target, (caster,), np.array(suns)).mean


# latitude; hour angle; altitude; azimuth from south; profile angle; least pitch of rows 2 m high without shade.
# D = h (cos b + sin b / tan(profile)): Duffie & Beckman ch. 1.9; Passias & Kallback, Solar Cells 11 (1984) 281
UNSHADED = [
    (20, 0, 46.55, 0.0, 46.55, 2.527),
    (30, 0, 36.55, 0.0, 36.55, 3.081),
    (35, 0, 31.55, 0.0, 31.55, 3.507),
    (40, 0, 26.55, 0.0, 26.55, 4.105),
    (45, 0, 21.55, 0.0, 21.55, 4.995),
    (50, 0, 16.55, 0.0, 16.55, 6.441),
    (20, -45, 28.260, 47.433, 38.473, 2.740),
    (30, -45, 21.274, 44.118, 28.473, 3.576),
    (35, -45, 17.646, 42.901, 23.473, 4.280),
    (40, -45, 13.954, 41.946, 18.473, 5.380),
    (45, -45, 10.213, 41.235, 13.473, 7.317),
    (50, -45, 6.438, 40.755, 8.473, 11.570),
]


@pytest.mark.parametrize(("latitude", "hour", "altitude", "azimuth", "profile", "pitch"), UNSHADED)
def test_least_pitch_without_shade_at_winter_solstice(
    latitude: float, hour: float, altitude: float, azimuth: float, profile: float, pitch: float
) -> None:
    sun = sun_at(latitude, -23.45, hour)
    assert degrees(asin(sun[2])) == pytest.approx(altitude, abs=1e-3)
    assert degrees(atan2(sun[0], -sun[1])) == pytest.approx(azimuth, abs=1e-3)
    assert degrees(atan2(sun[2], -sun[1])) == pytest.approx(profile, abs=1e-3)
    exact = 2.0 * (cos(radians(latitude)) + sin(radians(latitude)) * -sun[1] / sun[2])
    assert exact == pytest.approx(pitch, abs=1e-3)

    def long_row(y: float) -> RowOfMirrors:
        return row(y, tilt=latitude, width=40000.0)

    target = long_row(0.0)
    assert shares(target, long_row(-exact * (1 + 1e-9)), sun) == pytest.approx([0.0], abs=1e-7)
    # a shorter pitch shades 1 - P/D of the slant: similar triangles; Anderson & Jensen 2024 (see below). The rows
    # are 40 km long, and what their ends leave free is below 0.0004
    for part in (0.95, 0.8, 0.5):
        assert shares(target, long_row(-part * exact), sun)[0] == pytest.approx(1 - part, abs=4e-4)


@pytest.mark.parametrize("part", [0.95, 0.8, 0.5, 0.1])
def test_long_rows_at_noon_shade_one_less_pitch_over_least_pitch(part: float) -> None:
    """Shaded share of the slant 1 - P/D: similar triangles; Anderson & Jensen 2024."""
    sun = sun_at(40.0, -23.45, 0.0)
    least = 2.0 * (cos(radians(40)) + sin(radians(40)) / tan(radians(26.55)))
    assert shares(row(0.0, tilt=40.0), row(-part * least, tilt=40.0), sun)[0] == pytest.approx(
        1 - part, abs=1e-9
    )


def test_equal_rows_follow_pvlibs_shaded_fraction() -> None:
    """pvlib.shading.shaded_fraction1d: Anderson & Jensen, Shaded fraction and backtracking in single-axis trackers on
    rolling terrain, J. Renewable Sustainable Energy 16 (2024) 023504."""
    rng = np.random.default_rng(7)
    seen = 0
    for _case in range(200):
        tilt, pitch, slope = rng.uniform(5, 70), rng.uniform(1.0, 6.0), rng.uniform(-0.3, 0.3)
        zenith = rng.uniform(5, 85)
        expected = pvlib.shading.shaded_fraction1d(
            zenith,
            180.0,
            axis_azimuth=90.0,
            shaded_row_rotation=tilt,
            collector_width=2.0,
            pitch=pitch,
            cross_axis_slope=degrees(atan2(slope, 1.0)),
        )
        caster = replace(row(-pitch, tilt=tilt), first=(0.0, -pitch, -slope * pitch))
        sun = sun_from(90 - zenith, 0.0)
        target = row(0.0, tilt=tilt)
        offset, light = target.into_mirror_frame(np.array([caster.first, sun]))
        # the published formula takes all below the front row's upper edge for opaque, and a row behind the plane of the
        # next for a shading one; a mirror that stands free differs there
        if offset[2] <= 0 or offset[1] - light[1] * offset[2] / light[2] > 0:
            continue
        seen += 0 < expected < 1
        got = shares(target, caster, sun)[0]
        assert got == pytest.approx(float(expected), abs=1e-9)
    assert seen > 20


# z left, z right, tilt left, tilt right, offset of the surface from its axis; shaded share of the right row.
# Anderson & Jensen 2024, data 10.5281/zenodo.10513987: two rows 1 m apart, width 0.5, projected zenith 80 deg
ROLLING = [
    (0.2, 0.0, 50.0, 25.0, 0.0, 1.0),
    (0.1, 0.0, 50.0, 25.0, 0.05, 0.937191),
    (0.0, 0.1, 50.0, 25.0, 0.0, 0.30605),
    (0.0, 0.2, 50.0, 25.0, 0.0, 0.0),
]
# the fifth published case (tilts 5 and 25) takes all below the front row's upper edge for opaque; here light passes
# under a mirror that stands free, so it holds no aperture


@pytest.mark.parametrize(("z_left", "z_right", "tilt_left", "tilt_right", "offset", "expected"), ROLLING)
def test_rows_of_different_tilt(
    z_left: float, z_right: float, tilt_left: float, tilt_right: float, offset: float, expected: float
) -> None:
    def tilted(x: float, z: float, tilt: float) -> RowOfMirrors:
        return RowOfMirrors(
            first=(x, 0.0, z),
            along=(0.0, 1.0, 0.0),
            spacing_m=1.0,
            count=1,
            axes=mirror_axes(tilt_deg=tilt, facing_deg=90.0),
            width_m=1.0,
            height_m=0.5,
            plane_z_m=offset,
        )

    sun = (sin(radians(80)), 0.0, cos(radians(80)))
    shade = clip.shade_of_line(
        tilted(0.0, z_right, tilt_right), (tilted(1.0, z_left, tilt_left),), np.array([sun])
    )
    assert shade.mean[0] == pytest.approx(expected, abs=1e-6)


MORNING = sun_from(17.6460, 42.9011)
NOON = sun_from(31.55, 0.0)


@pytest.mark.parametrize(
    ("pitch", "sun", "expected"),
    [(3.0, MORNING, 0.093221), (3.5, MORNING, 0.035900), (3.0, NOON, 0.144477)],
)
def test_two_finite_panels(pitch: float, sun: Vector, expected: float) -> None:
    """Two equal panels 2.5 by 2 m, tilt 35, facing south. Worked from the parallel projection t - s (t.n)/(s.n) of one
    rectangle on the other (Duffie & Beckman ch. 1.9 gives the same construction for a shading wall)."""
    target, caster = row(0.0, tilt=35.0), row(-pitch, tilt=35.0)
    assert shares(target, caster, sun)[0] == pytest.approx(expected, abs=1.5e-6)
    cut = clip.shade_of_line(target, (caster,), np.array([sun]))
    assert cut.mean[0] == pytest.approx(expected, abs=1.5e-6)


def test_incidence_and_shift_of_the_finite_panels() -> None:
    """cos i from Duffie & Beckman eq. 1.6.2; the shift from the projection formula above, worked by hand."""
    target = row(0.0, tilt=35.0)
    sun = target.into_mirror_frame(np.array(MORNING))
    assert sun[2] == pytest.approx(0.648706, abs=2e-6)
    offset = target.into_mirror_frame(np.array([0.0, -3.0, 0.0]))
    shift = offset[:2] - sun[:2] * offset[2] / sun[2]
    assert shift == pytest.approx([-1.7207, -1.4019], abs=1e-4)


@pytest.mark.parametrize(("spacing", "expected"), [(2.5, 0.299062), (3.0, 0.239250), (4.0, 0.119625)])
def test_full_row_of_panels_in_front(spacing: float, expected: float) -> None:
    """A row of 13 panels 3 m in front of one: a touching row gives the long-row share 1 - 3.0/4.2800 (similar triangles);
    with gaps worked from the same projection by a union of polygons."""
    caster = row(-3.0, tilt=35.0, count=13, spacing=spacing)
    assert shares(row(0.0, tilt=35.0), caster, MORNING)[0] == pytest.approx(expected, abs=1e-5)


@pytest.mark.parametrize(("hour", "length", "east_of_north"), [(0.0, 6.004, 0.0), (45.0, 12.074, 41.95)])
def test_shadow_of_an_upright_pole(hour: float, length: float, east_of_north: float) -> None:
    """3 m pole at latitude 40, winter solstice: length h / tan(altitude), pointing away from the sun."""
    tip = on_ground(np.array([0.0, 0.0, 3.0]), sun_at(40.0, -23.45, hour))
    assert hypot(tip[0], tip[1]) == pytest.approx(length, abs=1e-3)
    assert degrees(atan2(tip[0], tip[1])) == pytest.approx(east_of_north, abs=1e-2)
    assert tip[2] == pytest.approx(0.0, abs=1e-12)
