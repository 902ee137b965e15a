"""Points that stand for the whole film: Gauss-Legendre within every strip, never across a rib."""

from dataclasses import dataclass
from math import ceil

import numpy as np
from numpy.typing import NDArray

from studio.engine.mirror.form import Errors, Floats, MirrorForm, strip_points

_SPREAD = 0.2
"""Spread of the images along a strip, as a share of the strip's length."""
_MOST = 48


@dataclass(frozen=True)
class Points:
    """``position`` (P, 3) in m, unit ``normal`` (P, 3), ``area`` (P,) in m2 of the film itself.

    The area that a sun sees of a point is ``area`` times the cosine between normal and sun.
    """

    position: Floats
    normal: Floats
    area: Floats
    form: MirrorForm

    def __len__(self) -> int:
        return len(self.area)


def point_counts(form: MirrorForm, errors: Errors, *, fineness: float = 1.0) -> tuple[int, int]:
    """Points across one strip and along it, so that images of neighbours lie within two sigma of the blur.

    Across a flat strip the images lie as far apart as the points, across a bulging one farther. Along it, light at the angle i to the axis
    leaves the share 1 - cos i of the distance (the astigmatism of a mirror seen from the sphere of radius f about
    its vertex: Coddington's foci at f cos i and f/cos i): a fifth, up to 37 degrees. Suns farther off bring little.
    Gauss-Legendre sums of what such a blur smooths converge fast from there on. Never fewer than 3 across and 8
    along. ``fineness`` multiplies both.
    """
    spacing = 2e-3 * errors.blur_mrad * form.focal_m / fineness
    across = ceil((1 + form.tension_ratio) * form.strip_width_m / spacing)
    along = ceil(_SPREAD * form.height_m / spacing)
    return min(max(across, ceil(3 * fineness)), _MOST), min(max(along, ceil(8 * fineness)), _MOST)


def surface_points(form: MirrorForm, errors: Errors, *, fineness: float = 1.0) -> Points:
    """Points over every strip of ``form``, as many as ``point_counts`` says; areas sum up to the film's."""
    return _points(form, *point_counts(form, errors, fineness=fineness))


def search_points(form: MirrorForm, errors: Errors) -> Points:
    """Points enough to find a pose by, but not to weigh it with: fewer across the strips, as many along them."""
    across, along = point_counts(form, errors)
    return _points(form, max(2, ceil(0.6 * across)), along)


def _points(form: MirrorForm, across: int, along: int) -> Points:
    """Every second strip has one point more along it, so that the sums' small errors do not all fall alike.

    Counted from both edges, so that the points stay symmetric in x.
    """
    strips = np.arange(form.ribs - 1)
    second = np.minimum(strips, strips[::-1]) % 2 == 1
    parts = [
        _on_strips(form, strips[~second], across, along),
        _on_strips(form, strips[second], across, along + 1),
    ]
    position, upward, patch = (np.concatenate(arrays) for arrays in zip(*parts, strict=True))
    length = np.linalg.norm(upward, axis=-1)
    return Points(position=position, normal=upward / length[:, None], area=patch * length, form=form)


def _on_strips(
    form: MirrorForm, strips: NDArray[np.intp], across: int, along: int
) -> tuple[Floats, Floats, Floats]:
    node_x, weight_x = np.polynomial.legendre.leggauss(across)
    node_y, weight_y = np.polynomial.legendre.leggauss(along)
    position, upward = strip_points(
        form, strips[:, None, None], (node_x[:, None] + 1) / 2, node_y * form.height_m / 2
    )
    patch = np.outer(weight_x, weight_y) / 4 * form.strip_width_m * form.height_m
    everywhere = np.broadcast_to(patch, position.shape[:-1])
    return position.reshape(-1, 3), upward.reshape(-1, 3), everywhere.reshape(-1)
