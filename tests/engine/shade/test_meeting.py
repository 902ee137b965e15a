"""Whether a line may reach another, asked of whole rows, against looking at every member and every mirror."""

from dataclasses import replace

import numpy as np
import pytest

from studio.engine.mirror.frame import mirror_axes
from studio.engine.motion.place import line_direction
from studio.engine.shade.gear import KINDS, LineGear
from studio.engine.shade.meeting import reached, reaches
from studio.engine.shade.outlook import outlook
from studio.engine.shade.reach import Bools
from studio.engine.shade.rows import Floats, RowOfMirrors
from tests.engine.shade.test_gear import posed, sky

MOST_TOO_OFTEN = 0.15
"""Of the pairs of a line and a sun that are met: those that no member meets."""


def rows_on_uneven_ground(rng: np.random.Generator, *, facings: bool) -> tuple[RowOfMirrors, ...]:
    rows = []
    for place in range(9):
        azimuth = 90.0 + (rng.uniform(-25.0, 25.0) if facings else 0.0)
        east, north, up = line_direction(azimuth, float(rng.uniform(-4.0, 4.0))).tolist()
        facing = 180.0 + (azimuth - 90.0)
        rows.append(
            RowOfMirrors(
                first=(float(rng.uniform(0, 20)), float(2.7 * place + rng.uniform(-0.3, 0.3)), float(rng.uniform(0, 1.5))),
                along=(east, north, up),
                spacing_m=float(rng.choice([1.35, 1.35, 1.6])),
                count=int(rng.integers(1, 30)),
                axes=mirror_axes(tilt_deg=float(rng.choice([25.0, 35.0])), facing_deg=facing),
                width_m=1.25,
                height_m=1.44,
                plane_z_m=0.1,
            )
        )  # fmt: skip
    return tuple(rows)


def by_members(target: LineGear, caster: LineGear) -> Bools:
    """Suns (S,) at which the box of some member's shadow meets some mirror's aperture."""
    look = outlook(target, (caster,), np.ones(len(target.suns), np.bool_))
    met = (look.high >= look.low)[:, : len(KINDS)].any(axis=1)
    found = np.zeros(len(target.suns), np.bool_)
    found[look.lit] = met.reshape(-1, look.lit.size).any(axis=0)
    return found


@pytest.mark.parametrize("facings", [False, True], ids=["facing alike", "facing otherwise"])
def test_it_never_misses_and_rarely_says_yes_too_often(facings: bool) -> None:
    rng = np.random.default_rng(17)
    met = asked = 0
    suns: Floats = sky(9, 25)
    for _field in range(3):
        rows = rows_on_uneven_ground(rng, facings=facings)
        lines = posed(rows, suns)
        for place, target in enumerate(lines):
            others = [line for number, line in enumerate(lines) if number != place]
            truth = np.array([by_members(target, caster) for caster in others])
            found = reached(target, others)
            assert (found | ~truth).all()
            met, asked = met + int(truth.sum()), asked + int(found.sum())
    assert 0 < met <= asked < met * (1.0 + MOST_TOO_OFTEN)


def test_turned_round_it_says_the_same() -> None:
    rng = np.random.default_rng(18)
    lines = posed(rows_on_uneven_ground(rng, facings=True), sky())
    caster, *targets = lines
    together = reaches(caster, targets)
    assert together.any()
    assert not together.all()
    assert (together == np.array([reached(target, [caster])[0] for target in targets])).all()


def test_a_row_behind_the_mirrors_is_not_met() -> None:
    rng = np.random.default_rng(19)
    rows = rows_on_uneven_ground(rng, facings=False)
    behind = replace(rows[0], first=(0.0, 400.0, 0.0))
    target, caster = posed((rows[0], behind), sky())
    assert not reached(target, [caster]).any()
    assert reached(caster, [target]).any() == by_members(caster, target).any()
