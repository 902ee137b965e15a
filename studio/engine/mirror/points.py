"""Points that stand for the whole film: Gauss-Legendre within every strip, never across a rib."""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from math import ceil, sqrt

import numpy as np
from numpy.typing import NDArray

from studio.engine.mirror.form import Errors, Floats, MirrorForm, strip_points

_SPREAD = 0.2
"""Spread of the images along a strip, as a share of the strip's length."""
_FAR_SPREAD = 0.2
"""What is added to that at most for suns far off the axis."""
_FAR_ACROSS = 0.5, 0.8
"""Points across the strips to search with and to weigh with for far suns, against those that weigh near ones."""
_MOST = 48
_FINER = 1.5


@dataclass(frozen=True)
class Points:
    """``position`` (P, 3) in m, unit ``normal`` (P, 3), ``area`` (P,) in m2 of the film itself.

    The area that a sun sees of a point is ``area`` times the cosine between normal and sun. ``patch`` (2, P, 3) is the
    RMS distance in m, as vectors across the strip and along it, of the film that a point stands for from the point.
    """

    position: Floats
    normal: Floats
    area: Floats
    patch: Floats
    form: MirrorForm

    def __len__(self) -> int:
        return len(self.area)


def point_counts(form: MirrorForm, errors: Errors, *, fineness: float = 1.0) -> tuple[int, int]:
    """Points across the widest strip and along it, so that images of neighbours lie within two sigma of the blur.

    Across a flat strip the images lie as far apart as the points, across a bulging one farther. Along it, light at
    the angle i to the axis leaves the share 1 - cos i of the distance (the astigmatism of a mirror seen from the sphere
    of radius f about its vertex: Coddington's foci at f cos i and f/cos i): a fifth, up to 37 degrees. For suns farther
    off see :func:`points_by_sun`.
    Where the focal lengths along and across differ, the spot lies at either or between, and their difference adds to
    the fifth. Gauss-Legendre sums of what such a blur smooths converge fast from there on. Never fewer than 3 across
    and 8 along. ``fineness`` multiplies both.
    """
    return int(np.max(_across(form, errors, fineness))), _along(form, errors, fineness, _SPREAD)


def _along(form: MirrorForm, errors: Errors, fineness: float, spread: float) -> int:
    """Points along a strip whose images lie over ``spread`` of its length."""
    spacing = 2e-3 * errors.blur_mrad * min(form.focal_m, form.across_m) / fineness
    apart = spread + abs(form.across_m / form.focal_m - 1)
    return min(max(ceil(apart * form.height_m / spacing), ceil(8 * fineness)), _MOST)


def _across(form: MirrorForm, errors: Errors, fineness: float) -> NDArray[np.intp]:
    """Points across every strip, (ribs - 1,), at the worse of the two distances at which the spot may lie."""
    lifted = form.tension_ratio - 2 * form.focal_m * form.pressure_per_m
    apart = max(
        abs(1 + lifted * (reach / form.focal_m)) / (2e-3 * errors.blur_mrad * reach / fineness)
        for reach in (form.focal_m, form.across_m)
    )
    counts = np.ceil(apart * form.strip_widths_m).astype(np.intp)
    return np.minimum(np.maximum(counts, ceil(3 * fineness)), _MOST)


@lru_cache(maxsize=16)
def surface_points(form: MirrorForm, errors: Errors, *, fineness: float = 1.0) -> Points:
    """Points over every strip of ``form``, as many as ``point_counts`` says; areas sum up to the film's."""
    return _points(form, _across(form, errors, fineness), _along(form, errors, fineness, _SPREAD))


@dataclass(frozen=True)
class PointsBySun:
    """Points for the suns ``rows`` (R,) of many: ``search`` finds their poses, ``weigh`` tells what these bring."""

    rows: NDArray[np.intp]
    search: Points
    weigh: Points


def points_by_sun(form: MirrorForm, errors: Errors, suns: Floats) -> Iterator[PointsBySun]:
    """Points for ``suns`` (S, 3): up to 37 degrees off the axis ``search_points`` and ``surface_points``, beyond it more along
    the strips and fewer across, which keeps a table's cost.

    A pose is chosen on few points, and finds where their sum happens to be too high. Chosen and weighed on as few along
    the strips as near suns, the light of far suns came out up to 2 % too high on the mean of a year.
    """
    beyond = np.maximum(1.0 - suns[:, 2] - _SPREAD, 0.0)
    # half of it does, as these sums converge faster than two sigma ask; suns more than 53 degrees off bring little
    tenths = np.ceil(10 * (_SPREAD + np.minimum(beyond / 2, _FAR_SPREAD)))
    for tenth in np.unique(tenths):
        rows = np.flatnonzero(tenths == tenth)
        if tenth <= 10 * _SPREAD:
            yield PointsBySun(rows, search_points(form, errors), surface_points(form, errors))
        else:
            search, weigh = (_far_points(form, errors, float(tenth) / 10, share) for share in _FAR_ACROSS)
            yield PointsBySun(rows, search, weigh)


@lru_cache(maxsize=64)
def _far_points(form: MirrorForm, errors: Errors, spread: float, across: float) -> Points:
    counts = np.ceil(across * _across(form, errors, 1.0)).astype(np.intp)
    return _points(form, np.maximum(counts, 2), _along(form, errors, 1.0, spread))


@lru_cache(maxsize=16)
def search_points(form: MirrorForm, errors: Errors) -> Points:
    """Points enough to find a pose by, but not to weigh it with: fewer across the strips, as many along them."""
    fewer = np.ceil(0.6 * _across(form, errors, 1.0)).astype(np.intp)
    return _points(form, np.maximum(fewer, 2), _along(form, errors, 1.0, _SPREAD))


def spot_points(form: MirrorForm, errors: Errors, *, sun: Floats, fineness: float = 1.0) -> Points:
    """Points for the light of one ``sun`` (3,) to 0.0005 of it, where ``surface_points`` serves a year's mean.

    Half as many again across and along, and along the strips more still the farther the sun is off the axis, by the
    astigmatism that ``point_counts`` speaks of.
    """
    finer = _FINER * fineness
    spread = max(_SPREAD, _FINER * (1 - float(sun[2])))
    return _points(form, _across(form, errors, finer), _along(form, errors, finer, spread))


def _points(form: MirrorForm, across: NDArray[np.intp], along: int) -> Points:
    """Every second strip has one point more along it, so that the sums' small errors do not all fall alike.

    Counted from both edges, so that the points stay symmetric in x. ``across`` (ribs - 1,) is each strip's own.
    """
    strips = np.arange(form.ribs - 1)
    second = np.minimum(strips, strips[::-1]) % 2
    parts = [
        _on_strips(form, strips[(across == count) & (second == more)], count, along + more)
        for count in sorted(set(across.tolist()))
        for more in (0, 1)
    ]
    position, upward, flat_m2, sides = (np.concatenate(arrays) for arrays in zip(*parts, strict=True))
    length = np.linalg.norm(upward, axis=-1)
    # tangents whose share along x, or along y, is 1
    none, one = np.zeros(len(length)), np.ones(len(length))
    tangents = np.stack([np.stack([one, none, -upward[:, 0]], -1), np.stack([none, one, -upward[:, 1]], -1)])
    return Points(
        position=position,
        normal=upward / length[:, None],
        area=flat_m2 * length,
        patch=tangents * sides.T[:, :, None] / sqrt(12),
        form=form,
    )


def _on_strips(
    form: MirrorForm, strips: NDArray[np.intp], across: int, along: int
) -> tuple[Floats, Floats, Floats, Floats]:
    """Positions, upward normals, areas in the x-y plane, and sides (P, 2) of the patches along x and y."""
    node_x, weight_x = np.polynomial.legendre.leggauss(across)
    node_y, weight_y = np.polynomial.legendre.leggauss(along)
    position, upward = strip_points(
        form, strips[:, None, None], (node_x[:, None] + 1) / 2, node_y * form.height_m / 2
    )
    width = form.strip_widths_m[strips, None, None]
    area = np.outer(weight_x, weight_y) / 4 * width * form.height_m
    wide = weight_x[:, None] / 2 * width
    sides = np.stack(np.broadcast_arrays(wide, weight_y / 2 * form.height_m), axis=-1)
    return position.reshape(-1, 3), upward.reshape(-1, 3), area.reshape(-1), sides.reshape(-1, 2)
