"""Rows of any step, tilt and facing on sloping ground: the exact way against cut polygons, rays and the closed form."""

import numpy as np
import pytest

from studio.engine.mirror.frame import mirror_axes
from studio.engine.shade import clip, parallel, unlike
from studio.engine.shade.lines import near_rows, run_alike
from studio.engine.shade.rows import Floats, RowOfMirrors
from studio.engine.shade.unlike import LineTask
from tests.engine.shade.test_parallel import random_rows, suns

FIELDS = 12


def sloping_field(rng: np.random.Generator, *, facings: bool) -> tuple[RowOfMirrors, ...]:
    """Four lines across a slope, each on a straight grade of its own, three tilts; ``facings``: each its own way."""
    slope = rng.uniform(-0.15, 0.15, 2)
    rows = []
    for number in range(4):
        x, y = float(rng.uniform(-2, 2)), 2.2 * number + float(rng.uniform(-0.3, 0.3))
        grade = float(rng.uniform(-0.04, 0.04))
        facing = float(rng.uniform(120, 240)) if facings else 180.0
        rows.append(
            RowOfMirrors(
                first=(x, y, float(slope @ (x, y))),
                along=(1.0 / (1 + grade**2) ** 0.5, 0.0, grade / (1 + grade**2) ** 0.5),
                spacing_m=1.35,
                count=int(rng.integers(3, 12)),
                axes=mirror_axes(tilt_deg=float(rng.choice([25.0, 30.0, 35.0])), facing_deg=facing),
                width_m=1.25,
                height_m=1.44,
                plane_z_m=0.1,
            )
        )
    return tuple(rows)


@pytest.mark.parametrize("facings", [False, True])
def test_fields_on_slopes_are_as_polygons_cut(facings: bool) -> None:
    rng = np.random.default_rng(21)
    shaded = 0
    for _field in range(FIELDS):
        *others, target = sloping_field(rng, facings=facings)
        light = suns(rng, 60)
        exact, cut = (way.shade_of_line(target, tuple(others), light) for way in (unlike, clip))
        for name in ("by_mirror", "mean", "worst", "by_caster", "by_own_row"):
            assert np.abs(getattr(exact, name) - getattr(cut, name)).max() < 1e-9, name
        shaded += int(((cut.by_mirror > 0) & (cut.by_mirror < 1)).sum())
    assert shaded > 500


@pytest.mark.parametrize("alike", [True, False])
@pytest.mark.parametrize("upright", [True, False])
def test_random_rows_are_as_polygons_cut(alike: bool, upright: bool) -> None:
    rng = np.random.default_rng(31)
    for _field in range(FIELDS):
        target, *others = random_rows(rng, alike=alike, parallel=upright)
        light = suns(rng, 60)
        exact, cut = (way.shade_of_line(target, tuple(others), light) for way in (unlike, clip))
        assert np.abs(exact.by_mirror - cut.by_mirror).max() < 1e-9
        if upright:
            closed = parallel.shade_of_line(target, tuple(others), light)
            assert np.abs(exact.by_mirror - closed.by_mirror).max() < 1e-9


def test_many_tasks_at_once_are_as_one_by_one() -> None:
    rng = np.random.default_rng(41)
    tasks = []
    for _field in range(5):
        *others, target = sloping_field(rng, facings=True)
        tasks.append(LineTask(target, tuple(others), suns(rng, 40)))
    for task, together in zip(tasks, unlike.shade_of_lines(tasks), strict=True):
        alone = unlike.shade_of_line(task.target, task.casters, task.suns)
        assert np.abs(alone.by_mirror - together.by_mirror).max() < 1e-12


def test_at_dim_suns_some_mirrors_stand_for_all() -> None:
    rng = np.random.default_rng(51)
    *others, target = sloping_field(rng, facings=False)
    target = RowOfMirrors(**{**vars(target), "count": 40})
    light = suns(rng, 200)
    dim = rng.uniform(size=200) < 0.5
    exact = unlike.shade_of_line(target, tuple(others), light)
    some = unlike.shade_of_line(target, tuple(others), light, dim=dim)
    assert (some.by_mirror[~dim] == exact.by_mirror[~dim]).all()
    assert np.abs(some.mean - exact.mean).max() < 0.1
    assert (some.by_mirror[dim] != exact.by_mirror[dim]).any()


def lattice_of(row: RowOfMirrors, number: int) -> Floats:
    """Points (number x number, 2) spread evenly over an aperture."""
    steps = (np.arange(number) + 0.5) / number - 0.5
    x, y = np.meshgrid(steps * row.width_m, steps * row.height_m)
    return np.stack([x.ravel(), y.ravel()], axis=1)


def test_rays_agree_to_their_own_error() -> None:
    """Each point followed to the sun past every other aperture."""
    rng = np.random.default_rng(61)
    shaded = 0
    for _field in range(4):
        *others, target = sloping_field(rng, facings=True)
        light = suns(rng, 6)
        got = unlike.shade_of_line(target, tuple(others), light)
        points = lattice_of(target, 60)
        x, y, z = np.array(target.axes)
        for sun, expected in zip(light, got.by_mirror, strict=True):
            if sun @ z <= 0:
                assert (expected == 0).all()
                continue
            for mirror, vertex in enumerate(target.vertices()):
                start = vertex + target.plane_z_m * z + points @ np.stack([x, y])
                dark = np.zeros(len(points), np.bool_)
                for row in (target, *others):
                    across, up, out = np.array(row.axes)
                    for place, middle in enumerate(row.vertices()):
                        if row is target and place == mirror:
                            continue
                        away = start - middle - row.plane_z_m * out
                        on_way = -(away @ out) / (sun @ out)
                        meets = away + on_way[:, None] * sun
                        inside = np.abs(meets @ across) < row.width_m / 2
                        dark |= inside & (np.abs(meets @ up) < row.height_m / 2) & (on_way > 0)
                assert dark.mean() == pytest.approx(expected[mirror], abs=4 * 2 / 60)
                shaded += 0 < expected[mirror] < 1
    assert shaded > 20


def test_what_is_near_holds_all_that_shades() -> None:
    rng = np.random.default_rng(71)
    rows = [row for _field in range(3) for row in sloping_field(rng, facings=True)]
    light = suns(rng, 80)
    light = light[light[:, 2] > np.sin(np.radians(5.0))]
    near = near_rows(rows, float(np.max(np.hypot(light[:, 0], light[:, 1]) / light[:, 2])))
    for place, target in enumerate(rows):
        others = [other for number, other in enumerate(rows) if number != place]
        all_of_them = unlike.shade_of_line(target, tuple(others), light)
        some = tuple(rows[number] for number in np.flatnonzero(near[place]))
        assert (
            np.abs(unlike.shade_of_line(target, some, light).by_mirror - all_of_them.by_mirror).max() < 1e-12
        )
    assert not near.all()


def test_rows_that_run_alike_are_told() -> None:
    one = sloping_field(np.random.default_rng(1), facings=False)[0]
    steeper = RowOfMirrors(**{**vars(one), "spacing_m": one.spacing_m + 0.01})
    assert run_alike(one, (one,))
    assert not run_alike(one, (one, steeper))
