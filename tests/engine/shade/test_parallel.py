"""The closed form against polygon cutting, plain sampling and its own invariants."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from hypothesis import given, settings
from hypothesis import strategies as st

from studio.engine.mirror.frame import Vector, mirror_axes
from studio.engine.shade import clip
from studio.engine.shade.lines import shade_of_lines
from studio.engine.shade.parallel import shade_of_each, shade_of_line, union_of_rectangles
from studio.engine.shade.rows import Floats, RowOfMirrors


def suns(rng: np.random.Generator, number: int) -> Floats:
    """Suns (number, 3) above the horizon, many of them low."""
    up, around = np.radians(rng.uniform(2, 70, number)), rng.uniform(0, 2 * np.pi, number)
    return np.stack([np.cos(up) * np.sin(around), np.cos(up) * np.cos(around), np.sin(up)], axis=1)


def unit(x: float, y: float, z: float) -> Vector:
    length = (x * x + y * y + z * z) ** 0.5
    return x / length, y / length, z / length


def any_direction(rng: np.random.Generator) -> Vector:
    return unit(rng.normal(), rng.normal(), 0.05 * rng.normal())


def random_rows(rng: np.random.Generator, *, alike: bool, parallel: bool = True) -> tuple[RowOfMirrors, ...]:
    """Three rows; ``alike`` in direction and spacing or each its own."""
    tilt, facing = rng.uniform(0, 60), rng.uniform(0, 360)
    rows = []
    along, spacing = any_direction(rng), rng.uniform(1.3, 2.0)
    for number in range(3):
        if not alike:
            along, spacing = any_direction(rng), rng.uniform(1.3, 2.0)
        if not parallel:
            tilt, facing = rng.uniform(0, 60), rng.uniform(0, 360)
        rows.append(
            RowOfMirrors(
                first=(rng.uniform(-2, 2), 2.0 * number + rng.uniform(-0.5, 0.5), rng.uniform(-0.3, 0.3)),
                along=along,
                spacing_m=spacing,
                count=int(rng.integers(1, 7)),
                axes=mirror_axes(tilt_deg=tilt, facing_deg=facing),
                width_m=1.25 if alike else rng.uniform(0.8, 1.5),
                height_m=1.44,
                plane_z_m=0.1 if alike else rng.uniform(0.0, 0.2),
            )
        )
    return tuple(rows)


@pytest.mark.parametrize("alike", [True, False])
def test_closed_form_is_polygon_cutting(alike: bool) -> None:
    rng = np.random.default_rng(11)
    shaded = 0
    for _field in range(12):
        first, *others = random_rows(rng, alike=alike)
        light = suns(rng, 60)
        closed, cut = (way(first, tuple(others), light) for way in (shade_of_line, clip.shade_of_line))
        assert np.abs(closed.by_mirror - cut.by_mirror).max() < 1e-9
        assert np.abs(closed.by_caster - cut.by_caster).max() < 1e-9
        assert np.abs(closed.by_own_row - cut.by_own_row).max() < 1e-9
        shaded += int(((cut.by_mirror > 0) & (cut.by_mirror < 1)).sum())
    assert shaded > 100


@pytest.mark.parametrize("parallel", [True, False])
def test_plain_sampling_of_points_agrees(parallel: bool) -> None:
    """Points on the target, each followed to the sun: is any other aperture in the way?"""
    rng = np.random.default_rng(5)
    number = 20000
    shaded = 0
    for _field in range(6):
        target, *others = random_rows(rng, alike=False, parallel=parallel)
        light = suns(rng, 8)
        got = clip.shade_of_line(target, tuple(others), light)
        x, y, z = np.array(target.axes)
        spread = rng.uniform(-0.5, 0.5, (number, 2)) * [target.width_m, target.height_m]
        for sun, expected in zip(light, got.by_mirror, strict=True):
            if sun @ z <= 0:
                assert (expected == 0).all()
                continue
            for mirror, vertex in enumerate(target.vertices()):
                points = vertex + target.plane_z_m * z + spread @ np.stack([x, y])
                dark = np.zeros(number, dtype=bool)
                for row in (*others, target):
                    cx, cy, cz = np.array(row.axes)
                    for place, middle in enumerate(row.vertices()):
                        if row is target and place == mirror:
                            continue
                        away = points - middle - row.plane_z_m * cz
                        on_way = -(away @ cz) / (sun @ cz)
                        meets = away + on_way[:, None] * sun
                        dark |= (
                            (on_way > 0)
                            & (np.abs(meets @ cx) < row.width_m / 2)
                            & (np.abs(meets @ cy) < row.height_m / 2)
                        )
                assert dark.mean() == pytest.approx(expected[mirror], abs=5 * 0.5 / number**0.5)
                shaded += 0 < expected[mirror] < 1
    assert shaded > 10


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(1, 12))
def test_union_of_rectangles_is_shapelys(seed: int, members: int) -> None:
    rng = np.random.default_rng(seed)
    corner, size = rng.uniform(-1, 1, (20, members, 2)), rng.uniform(-0.2, 1.0, (20, members, 2))
    boxes = np.concatenate([corner, corner + size], axis=-1)
    used = rng.uniform(size=(20, members)) < 0.8
    got = union_of_rectangles(boxes, used=used)
    for area, those, real in zip(got, boxes, used, strict=True):
        real = real & (those[:, 2] > those[:, 0]) & (those[:, 3] > those[:, 1])
        assert area == pytest.approx(shapely.union_all(shapely.box(*those[real].T)).area, abs=1e-12)


def test_union_of_no_rectangles_is_nothing() -> None:
    assert union_of_rectangles(np.zeros((3, 0, 4))).tolist() == [0, 0, 0]


def rows(*places: float, count: int = 20) -> tuple[RowOfMirrors, ...]:
    return tuple(
        RowOfMirrors(
            first=(0.0, y, 0.0),
            along=(1.0, 0.0, 0.0),
            spacing_m=1.35,
            count=count,
            axes=mirror_axes(tilt_deg=35.0, facing_deg=180.0),
            width_m=1.25,
            height_m=1.44,
        )
        for y in places
    )


def test_union_is_between_the_largest_and_the_sum() -> None:
    field = rows(0.0, -2.0, -4.0)
    shade = shade_of_line(field[0], field[1:], suns(np.random.default_rng(2), 200))
    together = shade.by_caster.sum(axis=1) + shade.by_own_row
    assert (shade.mean <= together + 1e-12).all()
    assert (shade.mean >= shade.by_caster.max(axis=1) - 1e-12).all()
    assert (shade.mean < together - 1e-3).any()
    assert shade.worst == pytest.approx(shade.by_mirror.max(axis=1))


def test_shifting_the_whole_field_changes_nothing() -> None:
    light = suns(np.random.default_rng(3), 100)
    before = shade_of_lines(rows(0.0, -2.0, 3.0), light)
    after = shade_of_lines(rows(500.0, 498.0, 503.0), light)
    for one, other in zip(before, after, strict=True):
        assert np.abs(one.by_mirror - other.by_mirror).max() < 1e-9


def test_shade_of_lines_names_who_casts_and_mixes_both_ways() -> None:
    field = rows(0.0, -2.0)
    turned = RowOfMirrors(**{**vars(rows(2.0)[0]), "axes": mirror_axes(tilt_deg=30.0, facing_deg=200.0)})
    light = np.array([unit(0.1, -1.0, 0.25)])
    alone = shade_of_lines(field, light)
    mixed = shade_of_lines((*field, turned), light, targets=(0,))[0]
    assert mixed.by_caster.shape == (1, 3)
    assert mixed.by_caster[0, 1] == pytest.approx(alone[0].by_caster[0, 1], abs=1e-9)
    assert mixed.by_caster[0, 1] > 0.1
    assert mixed.by_caster[0, [0, 2]] == pytest.approx([0.0, 0.0])


def test_mirrors_in_line_of_the_sun_shade_one_another_on_a_graded_row() -> None:
    (level,) = rows(0.0)
    graded = RowOfMirrors(**{**vars(level), "along": unit(1.0, 0.0, 0.2)})
    light = np.array([unit(1.0, -0.2, 0.15)])
    assert shade_of_line(level, (), light).mean[0] == 0.0
    shade = shade_of_line(graded, (), light)
    assert shade.by_own_row[0] > 0.1
    assert shade.by_mirror[0, -1] == 0.0


def test_a_turned_caster_is_refused() -> None:
    target, caster = rows(0.0, -2.0)
    turned = RowOfMirrors(**{**vars(caster), "axes": mirror_axes(tilt_deg=36.0, facing_deg=180.0)})
    with pytest.raises(ValueError, match="parallel"):
        shade_of_line(target, (turned,), np.array([[0.0, -0.6, 0.8]]))


@pytest.mark.parametrize(
    ("field", "value"),
    [("count", 0), ("width_m", -1.0), ("spacing_m", float("nan")), ("along", (1.0, 1.0, 0.0))],
)
def test_a_row_without_sense_is_refused(field: str, value: object) -> None:
    with pytest.raises(ValueError, match=field):
        RowOfMirrors(**{**vars(rows(0.0)[0]), field: value})


def test_axes_are_right_handed_and_keep_the_facing_when_flat() -> None:
    for tilt, facing in ((35.0, 180.0), (0.0, 180.0), (20.0, 75.0)):
        x, y, z = np.array(mirror_axes(tilt_deg=tilt, facing_deg=facing))
        assert np.cross(y, z) == pytest.approx(x, abs=1e-12)
        assert np.linalg.det(np.stack([x, y, z])) == pytest.approx(1.0)
    assert mirror_axes(tilt_deg=0.0, facing_deg=180.0)[0] == pytest.approx((1.0, 0.0, 0.0))


@pytest.mark.parametrize("odd", ["", "count", "width_m", "along", "absent of one", "absent of all"])
def test_several_at_once_are_as_one_by_one(odd: str) -> None:
    """Alike but for where they stand, or one of them odd; a target among the casters is none to itself."""
    rng = np.random.default_rng(21)
    shaded = 0.0
    for _field in range(8):
        along, axes = (
            any_direction(rng),
            mirror_axes(tilt_deg=rng.uniform(0, 60), facing_deg=rng.uniform(0, 360)),
        )
        field = [
            RowOfMirrors(
                first=(rng.uniform(-2, 2), 2.0 * number, rng.uniform(-0.3, 0.3)), along=along, spacing_m=1.5, count=6,
                axes=axes, width_m=1.25, height_m=1.44, absent=(2,) if odd == "absent of all" else (),
            )
            for number in range(5)
        ]  # fmt: skip
        field[1] = {
            "count": replace(field[1], count=4), "width_m": replace(field[1], width_m=1.0),
            "along": replace(field[1], along=any_direction(rng)), "absent of one": replace(field[1], absent=(1, 3)),
        }.get(odd, field[1])  # fmt: skip
        light = suns(rng, 60)
        casters = tuple(field[1:])
        together = [*shade_of_each(field[:3], casters, light), *shade_of_each(field[1:2], casters, light)]
        for target, its in zip((*field[:3], field[1]), together, strict=True):
            others = tuple(row for row in field[1:] if row is not target)
            alone = shade_of_line(target, others, light)
            assert its.by_mirror == pytest.approx(alone.by_mirror, abs=1e-12)
            assert its.mean == pytest.approx(alone.mean, abs=1e-12)
            assert its.by_own_row == pytest.approx(alone.by_own_row, abs=1e-12)
            of_others = [place for place, row in enumerate(field[1:]) if row is not target]
            assert its.by_caster[:, of_others] == pytest.approx(alone.by_caster, abs=1e-12)
            assert np.delete(its.by_caster, of_others, axis=1) == pytest.approx(0.0)
            shaded += float(alone.mean.sum())
    assert shaded > 1.0
