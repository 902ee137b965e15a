"""Light over an aperture as a sum of polynomials, and what shadows take of it."""

from dataclasses import replace

import numpy as np
import pytest

from studio.engine.mirror.favour import ODD_X, TERMS, along_y, favour_of, in_powers, products
from studio.engine.shade.blocks import covered, scan
from studio.engine.shade.gear_shade import line_gear_shade, own_gear_of_line
from studio.engine.shade.lines import shade_of_lines
from tests.engine.shade.test_gear import field, posed, sky


def test_the_products_are_orthonormal_over_the_aperture() -> None:
    """Means over the aperture by Gauss-Legendre (exact up to degree 15)."""
    nodes, weights = np.polynomial.legendre.leggauss(8)
    x, y = (part.ravel() for part in np.meshgrid(nodes, nodes))
    share = np.outer(weights, weights).ravel() / 4
    of_all = products(x, y)
    assert of_all.T @ (of_all * share[:, None]) == pytest.approx(np.eye(TERMS), abs=1e-12)
    turned = products(-x, y)
    assert turned == pytest.approx(of_all * np.where(ODD_X, -1, 1), abs=1e-12)


def test_coefficients_become_shares_of_the_light() -> None:
    over = np.arange(1.0, TERMS + 1)[None] * np.array([[0.5], [0.0]])
    found = favour_of(over)
    assert found[0] == pytest.approx(np.arange(1.0, TERMS + 1) * (np.arange(TERMS) > 0))
    assert not found[1].any()


def test_what_shadows_take_of_uneven_light_is_its_integral_over_their_union() -> None:
    """Against a fine lattice of points; random bars and boxes, some over one another."""
    generator = np.random.default_rng(5)
    apertures, shadows, width, height = 6, 5, 1.25, 1.44
    centre = generator.uniform(-0.6, 0.6, (apertures, shadows, 2))
    extents = generator.uniform(-0.25, 0.25, (apertures, shadows, 3, 2))
    used = generator.random((apertures, shadows)) < 0.8
    favour = generator.normal(0.0, 0.3, (apertures, TERMS))
    favour[:, 0] = 0.0
    scans = scan(centre, extents, used, width=width, height=height, slabs=200)
    weights = np.einsum("fkq,fq->fk", in_powers(favour)[scans.row], along_y(scans.y / (height / 2)))
    area, besides = covered(scans, np.arange(apertures), used, right=width / 2, weights=weights)
    side = (np.arange(500) + 0.5) / 250 - 1
    x, y = (part.ravel() for part in np.meshgrid(side, side))
    light = favour @ products(x, y).T
    for place in range(apertures):
        shaded = np.zeros(len(x), np.bool_)
        for shadow in np.flatnonzero(used[place]):
            away = np.stack([x * width / 2, y * height / 2], axis=1) - centre[place, shadow]
            sides = extents[place, shadow]
            within = np.ones(len(x), np.bool_)
            for edge in sides:
                normal = np.array([-edge[1], edge[0]])
                within &= np.abs(away @ normal) <= np.abs(sides @ normal).sum()
            shaded |= within
        assert area[place] / (width * height) == pytest.approx(shaded.mean(), abs=2e-3)
        assert besides[place] / (width * height) == pytest.approx((light[place] * shaded).mean(), abs=2e-3)


def test_even_light_is_taken_by_area_and_what_favours_a_side_is_not() -> None:
    rows, suns = field(), sky()
    shade = shade_of_lines(rows, suns)[1]
    lines = posed(rows, suns)
    bare = line_gear_shade(lines[1], (lines[0], lines[2]), shade)
    assert not bare.uneven.any()
    ramp = np.zeros((len(suns), TERMS))
    ramp[:, 1] = 0.5  # rises with y, up the slope
    found = []
    for factor in (0.0, 1.0, -2.0):
        target = replace(lines[1], favour=factor * ramp)
        own = own_gear_of_line(target)
        both = line_gear_shade(target, (lines[0], lines[2]), shade, own=own)
        assert both.extra == pytest.approx(bare.extra, abs=1e-9)
        assert both.uneven == pytest.approx(
            line_gear_shade(target, (lines[0], lines[2]), shade).uneven, abs=1e-9
        )
        found.append(both.uneven)
    assert not found[0].any()
    assert found[2] == pytest.approx(-2.0 * found[1], abs=1e-9)
    # neighbours to the south shade the mirrors' feet, where this light is least
    by_mirrors = shade.mean > 0.2
    assert by_mirrors.any()
    assert (found[1][by_mirrors] < 0).all()
