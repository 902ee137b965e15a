"""Rows with places left out: as the stretches between the gaps would be as rows of their own, and as polygons cut."""

from dataclasses import replace

import numpy as np
import pytest

from studio.engine.mirror.frame import mirror_axes
from studio.engine.shade import clip, lines, parallel, unlike
from studio.engine.shade.obstacles import PoleBody, obstacle_shade
from studio.engine.shade.polygons import mirror_outlines
from studio.engine.shade.rows import RowOfMirrors
from tests.engine.shade.test_parallel import random_rows, suns
from tests.engine.shade.test_unlike import sloping_field


def with_gaps(row: RowOfMirrors, rng: np.random.Generator) -> RowOfMirrors:
    """A row with one to half of its inner places left out."""
    inner = np.arange(1, row.count - 1)
    gone = rng.choice(inner, size=int(rng.integers(1, len(inner) // 2 + 1)), replace=False)
    return replace(row, absent=tuple(sorted(int(place) for place in gone)))


def stretches(row: RowOfMirrors) -> list[RowOfMirrors]:
    """The mirrors between the gaps, each stretch a row without any."""
    runs = np.split(row.there, np.flatnonzero(np.diff(row.there) > 1) + 1)
    return [
        replace(row, first=tuple(row.vertices()[run[0]].tolist()), count=len(run), absent=()) for run in runs
    ]


def gapped_field(rng: np.random.Generator, kind: str) -> list[RowOfMirrors]:
    if kind == "slopes":
        rows = list(sloping_field(rng, facings=True))
    else:
        rows = list(random_rows(rng, alike=kind == "alike", parallel=True))
    return [with_gaps(replace(row, count=max(row.count, 5)), rng) for row in rows]


@pytest.mark.parametrize("kind", ["alike", "parallel", "slopes"])
def test_every_way_is_as_the_stretches_end_to_end(kind: str) -> None:
    rng = np.random.default_rng(81)
    seen, gaps = 0, 0
    for _field in range(10):
        target, *others = gapped_field(rng, kind)
        light = suns(rng, 50)
        parts = stretches(target)
        around = [part for other in others for part in stretches(other)]
        ways = [unlike, clip] if kind == "slopes" else [unlike, clip, parallel]
        apart = [
            clip.shade_of_line(part, (*around, *(one for one in parts if one is not part)), light)
            for part in parts
        ]
        expected = np.concatenate([shade.by_mirror for shade in apart], axis=1)
        for way in ways:
            got = way.shade_of_line(target, tuple(others), light)
            assert np.abs(got.by_mirror[:, target.there] - expected).max() < 1e-9
            assert (got.by_mirror[:, list(target.absent)] == 0.0).all()
            assert np.abs(got.mean - expected.mean(axis=1)).max() < 1e-9
            assert np.abs(got.worst - expected.max(axis=1)).max() < 1e-9
        # who casts it: a row's stretches together, each weighed by the mirrors it falls on
        weights = np.array([part.count for part in parts]) / target.mirrors
        cast = sum(
            weight * shade.by_caster[:, : len(around)] for weight, shade in zip(weights, apart, strict=True)
        )
        of = np.repeat(np.arange(len(others)), [len(stretches(other)) for other in others])
        for number in range(len(others)):
            whole = unlike.shade_of_line(target, tuple(others), light).by_caster[:, number]
            assert np.abs(whole - cast[:, of == number].sum(axis=1)).max() < 1e-9
        seen += int(((expected > 0) & (expected < 1)).sum())
        gaps += len(target.absent)
    assert seen > 200
    assert gaps >= 10


def test_two_lines_end_to_end_lose_as_much_as_one_with_a_gap() -> None:
    """The same light in all: the sum over the mirrors, whichever way they are called lines."""
    rng = np.random.default_rng(82)
    rows = [with_gaps(replace(row, count=9), rng) for row in sloping_field(rng, facings=False)]
    rows[1] = replace(rows[1], absent=(3, 4))
    light = suns(rng, 80)
    one_by_one = [part for row in rows for part in stretches(row)]
    together = lines.shade_of_lines(tuple(rows), light)
    apart = lines.shade_of_lines(tuple(one_by_one), light)
    total = sum(row.mirrors * shade.mean for row, shade in zip(rows, together, strict=True))
    again = sum(row.mirrors * shade.mean for row, shade in zip(one_by_one, apart, strict=True))
    assert total == pytest.approx(again, abs=1e-9)
    assert len(one_by_one) > len(rows)
    assert float(np.max(total)) > 1.0


def test_at_dim_suns_the_mirrors_that_are_there_stand_for_all() -> None:
    rng = np.random.default_rng(83)
    *others, target = sloping_field(rng, facings=False)
    target = replace(target, count=40, absent=(5, 6, 20))
    light = suns(rng, 60)
    dim = np.ones(60, np.bool_)
    some = unlike.shade_of_line(target, tuple(others), light, dim=dim)
    exact = unlike.shade_of_line(target, tuple(others), light)
    assert (some.by_mirror[:, [5, 6, 20]] == 0.0).all()
    assert np.abs(some.mean - exact.mean).max() < 0.12


def test_a_pole_shades_only_the_mirrors_that_are_there() -> None:
    row = RowOfMirrors(
        (0.0, 0.0, 1.0),
        (1.0, 0.0, 0.0),
        1.4,
        9,
        mirror_axes(tilt_deg=30.0, facing_deg=180.0),
        1.25,
        1.44,
        0.1,
    )
    pole = (PoleBody(5.6, -3.0, 0.4, 0.0, 9.0),)
    rng = np.random.default_rng(84)
    light = suns(rng, 80)
    passes = np.zeros((1, 1))
    whole = obstacle_shade(row, pole, passes, light)
    gapped = replace(row, absent=(3, 4))
    some = obstacle_shade(gapped, pole, passes, light)
    assert (some.by_mirror[:, [3, 4]] == 0.0).all()
    assert np.abs(some.by_mirror[:, gapped.there] - whole.by_mirror[:, gapped.there]).max() < 1e-12
    assert some.mean == pytest.approx(whole.by_mirror[:, gapped.there].mean(axis=1), abs=1e-12)
    assert some.covered[0] == pytest.approx(some.mean[0], abs=1e-12)
    assert whole.by_mirror[:, [3, 4]].max() > 0.2


def test_shadows_on_the_ground_are_those_of_the_mirrors_that_are_there() -> None:
    row = RowOfMirrors(
        (0.0, 0.0, 1.0),
        (1.0, 0.0, 0.0),
        1.4,
        6,
        mirror_axes(tilt_deg=30.0, facing_deg=180.0),
        1.25,
        1.44,
        0.1,
    )
    sun = (0.3, -0.5, (1 - 0.09 - 0.25) ** 0.5)
    whole, some = mirror_outlines(row, sun), mirror_outlines(replace(row, absent=(1, 4)), sun)
    assert np.abs(some - whole[[0, 2, 3, 5]]).max() == 0.0


@pytest.mark.parametrize("absent", [(9,), (-1,), tuple(range(9))])
def test_places_that_the_row_has_not_and_a_row_of_none_are_refused(absent: tuple[int, ...]) -> None:
    with pytest.raises(ValueError, match="left out"):
        RowOfMirrors(
            (0.0, 0.0, 1.0), (1.0, 0.0, 0.0), 1.4, 9, mirror_axes(tilt_deg=30.0, facing_deg=180.0), 1.25, 1.44,
            absent=absent,
        )  # fmt: skip
