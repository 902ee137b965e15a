"""Shade by obstacles against shadows cut with shapely on the plane of the aperture, and by what must hold."""

from itertools import pairwise

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st
from shapely.geometry.base import BaseGeometry

from studio.engine.mirror.frame import mirror_axes
from studio.engine.shade.obstacles import (
    BlockBody,
    Body,
    CrownBody,
    FenceBody,
    PoleBody,
    Slope,
    may_reach,
    obstacle_shade,
)
from studio.engine.shade.rows import Floats, RowOfMirrors
from studio.engine.sky.sun import direction_from

_ROUND = 40
OPAQUE = np.zeros((1, 1))
SHED = BlockBody(((6.0, -8.0), (10.0, -8.0), (10.0, -4.0), (8.0, -4.0), (8.0, -6.0), (6.0, -6.0)), 3.5)


def line(*, tilt: float = 40.0, count: int = 6, azimuth: float = 90.0) -> RowOfMirrors:
    way = np.radians(azimuth)
    return RowOfMirrors(
        first=(0.0, 0.0, 1.0), along=(float(np.sin(way)), float(np.cos(way)), 0.0), spacing_m=2.0, count=count,
        axes=mirror_axes(tilt_deg=tilt, facing_deg=180.0), width_m=1.25, height_m=1.5, plane_z_m=0.1,
    )  # fmt: skip


def faces(body: Body) -> list[Floats]:
    """The surface of a body as convex faces (P, 3); round ones by many."""
    if isinstance(body, BlockBody):
        ring, ground = np.array(body.ring), np.array([body.ground.east, body.ground.north])
        low = np.column_stack([ring, body.ground.at_origin + ring @ ground])
        high = low + np.array([0.0, 0.0, body.height_m])
        return _sides(low, high)
    if isinstance(body, FenceBody):
        path, ground = np.array(body.path), np.array([body.ground.east, body.ground.north])
        low = np.column_stack([path, body.ground.at_origin + path @ ground])
        high = low + np.array([0.0, 0.0, body.height_m])
        return [np.stack([low[k], low[k + 1], high[k + 1], high[k]]) for k in range(len(path) - 1)]
    turn = np.linspace(0.0, 2 * np.pi, _ROUND, endpoint=False)
    circle = np.column_stack([np.cos(turn), np.sin(turn)])
    if isinstance(body, PoleBody):
        ring = (body.x_m, body.y_m) + body.radius_m * circle
        low, high = (np.column_stack([ring, np.full(_ROUND, z)]) for z in (body.low_m, body.high_m))
        return [*_sides(low, high), high]
    levels = -np.cos(np.linspace(0.0, np.pi, 17))
    rings = [
        np.column_stack([
            (body.x_m, body.y_m) + body.radius_m * np.sqrt(1 - level**2) * circle,
            np.full(_ROUND, body.z_m + body.half_height_m * level),
        ])
        for level in levels
    ]  # fmt: skip
    return [face for low, high in pairwise(rings) for face in _sides(low, high)]


def _sides(low: Floats, high: Floats) -> list[Floats]:
    after = [np.roll(ring, -1, axis=0) for ring in (low, high)]
    return [np.stack(face) for face in zip(low, after[0], after[1], high, strict=True)]


def shadow(body: Body, row: RowOfMirrors, mirror: int, sun: Floats) -> BaseGeometry:
    """The body's shadow on the plane of one aperture: its faces cut at that plane, thrown along the sun, united."""
    axes = np.array(row.axes)
    middle = row.vertices()[mirror] + row.plane_z_m * axes[2]
    toward = axes @ sun
    thrown = []
    for face in faces(body):
        points = (face - middle) @ axes.T
        front = _in_front(points)
        if len(front) > 2:
            flat = front[:, :2] - front[:, 2:] * toward[:2] / toward[2]
            thrown.append(shapely.MultiPoint(flat).convex_hull)
    return shapely.union_all([one for one in thrown if one.geom_type == "Polygon"])


def _in_front(points: Floats) -> Floats:
    kept = []
    for here, there in zip(points, np.roll(points, -1, axis=0), strict=True):
        if here[2] > 0:
            kept.append(here)
        if (here[2] > 0) != (there[2] > 0):
            kept.append(here + (there - here) * here[2] / (here[2] - there[2]))
    return np.array(kept).reshape(-1, 3)


def cut_share(body: Body, row: RowOfMirrors, sun: Floats) -> float:
    aperture = shapely.box(-row.width_m / 2, -row.height_m / 2, row.width_m / 2, row.height_m / 2)
    return float(
        np.mean(
            [shadow(body, row, m, sun).intersection(aperture).area / aperture.area for m in range(row.count)]
        )
    )


BODIES: tuple[Body, ...] = (
    SHED,
    BlockBody(((-3.0, -6.0), (12.0, -6.0), (12.0, -5.8), (-3.0, -5.8)), 2.5, Slope(0.05, -0.08, 0.2)),
    FenceBody(((-2.0, -3.0), (5.0, -4.5), (12.0, -4.0)), 2.2, Slope(0.03, 0.05, 0.1)),
    PoleBody(4.0, -5.0, 0.4, 0.0, 9.0),
    CrownBody(5.0, -6.0, 4.5, 2.0, 2.5),
    CrownBody(-6.0, 1.0, 4.0, 3.0, 2.0),
)


@pytest.mark.parametrize("body", BODIES)
def test_share_is_that_of_the_shadow_cut_from_the_aperture(body: Body) -> None:
    row = line()
    suns = direction_from(
        np.array([12.0, 25.0, 40.0, 18.0, 30.0]), np.array([180.0, 150.0, 200.0, 120.0, 265.0])
    )
    found = obstacle_shade(row, [body], OPAQUE, suns).mean[0]
    wanted = np.array([cut_share(body, row, sun) for sun in suns])
    assert wanted.max() > 0.02
    # 21 points on each of 6 apertures
    assert found == pytest.approx(wanted, abs=0.015)
    assert found.mean() == pytest.approx(wanted.mean(), abs=0.005)


@st.composite
def bodies(draw: st.DrawFn) -> Body:
    x, y = draw(st.floats(-15.0, 15.0)), draw(st.floats(-15.0, 15.0))
    size, height = draw(st.floats(0.3, 4.0)), draw(st.floats(0.5, 12.0))
    match draw(st.sampled_from(["pole", "crown", "wall"])):
        case "pole":
            return PoleBody(x, y, size, 0.0, height)
        case "crown":
            return CrownBody(x, y, height / 2 + 1.0, size, height / 2)
    length, turn = draw(st.floats(1.0, 30.0)), np.radians(draw(st.floats(0.0, 180.0)))
    along, across = np.array([np.sin(turn), np.cos(turn)]), np.array([np.cos(turn), -np.sin(turn)])
    corners = [
        (x, y) + part * along + side * across for part, side in ((0, 0), (length, 0), (length, 0.3), (0, 0.3))
    ]
    return BlockBody(
        tuple((float(one[0]), float(one[1])) for one in corners), height, Slope(0.04, -0.06, 0.0)
    )


@settings(max_examples=150, deadline=None, derandomize=True)
@given(
    body=bodies(), azimuth=st.floats(0.0, 360.0), elevation=st.floats(1.0, 85.0), tilt=st.floats(0.0, 70.0),
)  # fmt: skip
def test_what_is_left_out_beforehand_shades_nothing(
    body: Body, azimuth: float, elevation: float, tilt: float
) -> None:
    """Rays from a grid of the test's own over the aperture: where a good part of them meets the body, so do the others."""
    row = line(tilt=tilt, count=1)
    axes = np.array(row.axes)
    suns = direction_from(np.array([elevation]), np.array([azimuth]))
    x, y = np.meshgrid(np.linspace(-0.6, 0.6, 9), np.linspace(-0.7, 0.7, 9))
    points = row.vertices()[0] + 0.1 * axes[2] + x.ravel()[:, None] * axes[0] + y.ravel()[:, None] * axes[1]
    met = body.meets(points, np.repeat(suns, len(points), axis=0)).mean()
    found = obstacle_shade(row, [body], OPAQUE, suns).mean[0, 0]
    cosine = float(suns[0] @ axes[2])
    if cosine > 0.01:
        assert found == pytest.approx(met, abs=0.2)
        assert may_reach(body, row, suns) or met == 0.0
    elif cosine < 0.0:
        assert found == 0.0


def test_crowns_multiply_and_what_is_opaque_stays_dark() -> None:
    row, sun = line(count=1), direction_from(np.array([30.0]), np.array([180.0]))
    near, far = CrownBody(0.0, -5.0, 3.9, 4.0, 4.0), CrownBody(0.0, -12.0, 8.0, 5.0, 5.0)
    wall = BlockBody(((-5.0, -20.0), (5.0, -20.0), (5.0, -19.0), (-5.0, -19.0)), 30.0)
    passes = np.array([[0.3, 0.5, 0.0], [0.8, 0.9, 1.0], [0.4, 1.0, 1.0]])
    shade = obstacle_shade(row, [near, far, wall], passes, sun)
    assert shade.covered[:, 0] == pytest.approx([1.0, 1.0, 1.0])
    assert shade.mean[:, 0] == pytest.approx([1.0, 1 - 0.8 * 0.9, 0.6])


def test_a_mirror_inside_a_shed_is_dark_and_one_on_its_roof_is_not() -> None:
    sun = direction_from(np.array([60.0]), np.array([170.0]))
    ring = ((-5.0, -5.0), (5.0, -5.0), (5.0, 5.0), (-5.0, 5.0))
    row = line(count=1)
    assert obstacle_shade(row, [BlockBody(ring, 2.5)], OPAQUE, sun).mean[0, 0] == 1.0
    assert obstacle_shade(row, [BlockBody(ring, 0.3)], OPAQUE, sun).mean[0, 0] == 0.0


def test_behind_the_mirrors_nothing_is_shaded() -> None:
    row = line(tilt=80.0)
    sun = direction_from(np.array([20.0]), np.array([0.0]))
    assert (
        obstacle_shade(row, [BlockBody(((-9.0, 3.0), (9.0, 3.0), (9.0, 4.0)), 20.0)], OPAQUE, sun).mean[0, 0]
        == 0
    )
