"""Laying one plane on another by turning, one scale and a shift: the way a picture comes to lie on the land."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from studio.errors import BadInputError
from studio.text import _

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Similarity:
    """``z -> factor · z + shift`` of points read as complex numbers x + iy."""

    factor: complex
    shift: complex

    @property
    def scale(self) -> float:
        """What a length is multiplied by."""
        return abs(self.factor)

    @property
    def turned_deg(self) -> float:
        """By how much a direction is turned, clockwise, from -180 to 180."""
        turned = -float(np.degrees(np.angle(self.factor)))
        return 180.0 if turned == -180.0 else turned + 0.0

    def of(self, points: ArrayLike) -> Array:
        """Points (..., 2) where they come to lie."""
        given = np.asarray(points, dtype=float)
        laid = self.factor * (given[..., 0] + 1j * given[..., 1]) + self.shift
        return np.stack([laid.real, laid.imag], axis=-1)


def best_similarity(points: ArrayLike, onto: ArrayLike) -> tuple[Similarity, float]:
    """The similarity that lays ``points`` (n, 2) on ``onto`` (n, 2), and the farthest that one then lies off.

    Least squares over all pairs without mirroring; with two pairs it is exact. With both sets taken about their means,
    the factor is sum(conj(z) w) / sum(|z|²): the plane case of S. Umeyama, Least-squares estimation of transformation
    parameters between two point patterns, IEEE PAMI 13 (1991) 376-380, written in complex numbers.

    Raises BadInputError where the points, or the places they are to lie on, are all one.
    """
    given, wanted = (np.asarray(side, dtype=float).reshape(-1, 2) for side in (points, onto))
    z, w = given[:, 0] + 1j * given[:, 1], wanted[:, 0] + 1j * wanted[:, 1]
    about, place = z.mean(), w.mean()
    size = float((np.abs(z - about) ** 2).sum())
    factor = complex((np.conj(z - about) * (w - place)).sum()) / size if size > 0 else 0j
    if not np.isfinite(factor) or factor == 0:
        raise BadInputError(_("The two points are one and the same; two that lie apart would be right."))
    laid = Similarity(factor, complex(place - factor * about))
    return laid, float(np.abs(factor * z + laid.shift - w).max())
