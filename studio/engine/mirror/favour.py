"""How the light that a window takes in favours parts of the aperture, in a few numbers.

Light l(x, y) over the aperture is written as a sum of products of Legendre polynomials, x in half widths and y in half
heights, scaled so that each has a mean square of 1 over the aperture: its coefficient is then the mean of l times the
product, and the first the mean of l itself. (Orthonormal series: Abramowitz & Stegun 22.2.10.) What a shadow takes of such
light is the sum over the products of coefficient times the mean of the product over the shadow.
"""

from math import sqrt

import numpy as np

from studio.engine.mirror.form import Floats

DEGREE_X, DEGREE_Y = 2, 4
"""Along y, the mirror's slope, spots are cut off more sharply and shadows of pipes lie across: finer there."""
TERMS = (DEGREE_X + 1) * (DEGREE_Y + 1)
ODD_X = np.repeat(np.arange(DEGREE_X + 1) % 2 == 1, DEGREE_Y + 1)
"""Products (TERMS,) that change their sign when x is turned round."""
_LEAST_LIGHT = 1e-6
_POWERS = np.array([[1.0, 0.0, 0.0], [-1.0, 2.0, 0.0], [1.0, -6.0, 6.0]]) * np.sqrt([[1.0], [3.0], [5.0]])
"""Of each polynomial of x its factors of 1, t and t2, where t runs from 0 to 1 across the aperture."""


def along_y(y: Floats) -> Floats:
    """The polynomials of y, (N, DEGREE_Y + 1), at ``y`` (N,) in half heights, -1 to 1."""
    return np.asarray(
        np.polynomial.legendre.legvander(y, DEGREE_Y) * np.sqrt(2 * np.arange(DEGREE_Y + 1) + 1)
    )


def products(x: Floats, y: Floats) -> Floats:
    """The products (N, TERMS) at ``x`` and ``y`` (N,) in half widths and heights; those of x slow, of y fast."""
    of_x = np.stack([np.ones_like(x), sqrt(3) * x, sqrt(5) / 2 * (3 * x * x - 1)], axis=1)
    return np.asarray((of_x[:, :, None] * along_y(y)[:, None, :]).reshape(len(x), TERMS))


def favour_of(over: Floats) -> Floats:
    """Coefficients ``over`` (..., TERMS) as shares of the light itself, the first taken off; 0 where there is none."""
    light = over[..., :1]
    favour = np.where(light > _LEAST_LIGHT, over / np.where(light > _LEAST_LIGHT, light, 1.0), 0.0)
    favour[..., 0] = 0.0
    return np.asarray(favour)


def in_powers(favour: Floats) -> Floats:
    """Coefficients (..., TERMS) as (..., 3, DEGREE_Y + 1): factors of 1, t and t2 across the aperture, t from 0 to 1, each

    times the polynomials of y."""
    by_x = favour.reshape(*favour.shape[:-1], DEGREE_X + 1, DEGREE_Y + 1)
    return np.asarray(np.einsum("pk,...pq->...kq", _POWERS, by_x))
