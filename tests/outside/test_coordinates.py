"""Coordinates held against published examples: projections, scale and convergence, areas, traverses."""

from math import atan2, cos, degrees, radians, sin

import numpy as np
import pytest
import shapely
from pyproj import CRS, Geod, Proj, Transformer

from studio.drawings.on_earth import degrees_of_site, site_of_degrees
from studio.files.land.areas import geodesic_area
from studio.files.land.found import How
from studio.files.land.look import look_at_text
from studio.files.land.systems import crs_of, degrees_of
from studio.files.land.traverse import by_compass_rule, misclosure_of, walked

GEOD = Geod(ellps="WGS84")


def test_transverse_mercator_example_of_iogp_guidance_note_7_2() -> None:
    """IOGP Geomatics guidance note 7-2, method 9807: 50° 30' N, 0° 30' E on the National Grid of Great Britain."""
    grid = crs_of(
        "+proj=tmerc +lat_0=49 +lon_0=-2 +k=0.9996013 +x_0=400000 +y_0=-100000 +a=6377563.396 +rf=299.32496 +type=crs"
    )
    there = Transformer.from_crs(grid.geodetic_crs, grid, always_xy=True)
    assert there.transform(0.5, 50.5) == pytest.approx((577274.99, 69740.50), abs=0.01)
    assert there.transform(577274.99, 69740.50, direction="INVERSE") == pytest.approx((0.5, 50.5), abs=2e-7)


def test_the_same_by_the_official_factor_of_epsg_27700() -> None:
    """EPSG:27700 (EPSG dataset; scale 0.9996012717): worked out by PROJ, beside the rounded factor of the note above."""
    grid = crs_of("EPSG:27700")
    there = Transformer.from_crs(grid.geodetic_crs, grid, always_xy=True)
    assert there.transform(0.5, 50.5) == pytest.approx((577274.984, 69740.492), abs=0.005)


def test_utm_place_scale_and_convergence() -> None:
    """EPSG:32613 (UTM zone 13 north, EPSG dataset), worked out by PROJ; the way back is the one that land files take."""
    grid = crs_of("EPSG:32613")
    assert degrees_of(np.array([[484697.638, 4399190.458]]), grid)[0] == pytest.approx(
        (-105.1786, 39.742476), abs=2e-8
    )
    factors = Proj(grid).get_factors(-105.1786, 39.742476)
    assert factors.meridional_scale == pytest.approx(0.99960288, abs=1e-7)
    assert factors.meridian_convergence == pytest.approx(-0.1142, abs=1e-4)


def test_a_hundred_metres_on_the_tape_are_less_on_the_map_and_a_hundred_on_the_site() -> None:
    """The scale above makes 100 m on the tape 99.960 m on the map (EPSG:32613); the site frame has no such scale."""
    grid = crs_of("EPSG:32613")
    end = GEOD.fwd(-105.1786, 39.742476, 37.0, 100.0)[:2]
    places = np.array([(-105.1786, 39.742476), end])
    there = Transformer.from_crs(4326, grid, always_xy=True).transform(places[:, 0], places[:, 1])
    assert np.hypot(*np.diff(there, axis=1))[0] == pytest.approx(99.960, abs=0.001)
    site = site_of_degrees(places, latitude_deg=39.742476, longitude_deg=-105.1786)
    assert np.hypot(*(site[1] - site[0])) == pytest.approx(100.0, abs=1e-6)
    assert degrees(atan2(*(site[1] - site[0]))) == pytest.approx(37.0, abs=1e-6)


@pytest.mark.parametrize("latitude", [-60.0, -12.2, 0.0, 43.6, 65.0])
def test_lengths_on_the_site_are_geodesic_within_a_millionth(latitude: float) -> None:
    """Karney, Algorithms for geodesics (J. Geodesy 87, 2013), as pyproj.Geod has it, up to 9 km from the reference point."""
    rng = np.random.default_rng(7)
    starts = rng.uniform(-6000, 6000, (200, 2))
    ends = starts + 100 * np.column_stack([f(np.linspace(0, 2 * np.pi, 200)) for f in (np.sin, np.cos)])
    one, two = (
        degrees_of_site(places, latitude_deg=latitude, longitude_deg=12.0) for places in (starts, ends)
    )
    lengths = np.asarray(GEOD.inv(one[:, 0], one[:, 1], two[:, 0], two[:, 1])[2])
    assert np.abs(lengths / np.hypot(*(ends - starts).T) - 1).max() < 1e-6
    back = site_of_degrees(one, latitude_deg=latitude, longitude_deg=12.0)
    assert np.abs(back - starts).max() < 1e-6


def _shoelace(ring: np.ndarray[tuple[int, int], np.dtype[np.float64]]) -> float:
    """Gauss's area formula."""
    x, y = ring.T
    return float(abs(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))) / 2)


def test_area_by_shoelace_by_shapely_and_on_the_ellipsoid() -> None:
    """Gauss's shoelace formula, shapely, and the geodesic polygon of Karney (2013) on one plot of some 20 ha."""
    turn = np.linspace(0, 2 * np.pi, 37, endpoint=False)
    reach = 250 + 60 * np.sin(3 * turn)
    ring = np.column_stack((reach * np.cos(turn), reach * np.sin(turn)))
    assert shapely.Polygon(ring).area == pytest.approx(_shoelace(ring), rel=1e-12)
    there = degrees_of_site(ring, latitude_deg=43.6, longitude_deg=3.87)
    assert geodesic_area([there]) == pytest.approx(_shoelace(ring), rel=1e-7)
    # a national map's own area is off by its scale squared, here by 6 parts in ten thousand
    grid = Transformer.from_crs(4326, CRS.from_epsg(2154), always_xy=True).transform(there[:, 0], there[:, 1])
    assert abs(_shoelace(np.column_stack(grid)) / _shoelace(ring) - 1) > 5e-4


LEGS = (
    ("N 26 10 E", 285.10),
    ("S 75 25 E", 610.45),
    ("S 15 30 W", 720.48),
    ("N 1 42 W", 203.00),
    ("N 53 06 W", 647.02),
)
"""Azimuths 26° 10', 104° 35', 195° 30', 358° 18', 306° 54'."""


def test_a_textbook_traverse_from_memory_with_its_misclosure() -> None:
    """Five legs after a worked example of Wolf and Ghilani, Elementary Surveying (compass rule), from memory: a person has
    to look it up. The misclosure held against is worked out here leg by leg in plain trigonometry."""
    table = "bearing,distance (ft)\n" + "\n".join(f"{bearing},{length}" for bearing, length in LEGS)
    azimuths = (26 + 10 / 60, 104 + 35 / 60, 195.5, 358.3, 306.9)
    departure = sum(length * sin(radians(a)) for a, (_b, length) in zip(azimuths, LEGS, strict=True))
    latitude = sum(length * cos(radians(a)) for a, (_b, length) in zip(azimuths, LEGS, strict=True))
    perimeter = sum(length for _b, length in LEGS)
    look = look_at_text(table)
    assert look.misclosure is not None
    assert look.misclosure.perimeter_m == pytest.approx(perimeter * 0.3048)
    assert look.misclosure.length_m == pytest.approx(np.hypot(departure, latitude) * 0.3048)
    assert look.misclosure.bearing_deg == pytest.approx(degrees(atan2(departure, latitude)) % 360)
    assert look.misclosure.ratio == pytest.approx(perimeter / np.hypot(departure, latitude))


def test_the_compass_rule_by_hand() -> None:
    """Bowditch's rule (The Analyst, 1808): a square of 100 m whose last leg is 0.4 m short takes 0.1 m from each leg."""
    bearings, lengths = [0.0, 90.0, 180.0, 270.0], [100.0, 100.0, 100.0, 99.6]
    ends = walked(bearings, lengths)
    missed = misclosure_of(ends, lengths)
    assert (missed.length_m, missed.bearing_deg) == pytest.approx((0.4, 90.0))
    assert missed.ratio == pytest.approx(399.6 / 0.4)
    adjusted = by_compass_rule(ends, lengths)
    share = 0.4 * np.cumsum(lengths) / 399.6
    assert adjusted == pytest.approx(
        np.array([[0, 100], [100, 100], [100, 0], [0.4, 0]]) - np.outer(share, [1, 0])
    )
    table = "bearing,distance\n" + "\n".join(f"{b},{d}" for b, d in zip(bearings, lengths, strict=True))
    raw, spread = (look_at_text(table, how=How(adjust=adjust)) for adjust in (False, True))
    assert raw.areas[0].rings[0][3] == pytest.approx((100.0, 0.0))
    assert spread.areas[0].rings[0][3] == pytest.approx(adjusted[2])
