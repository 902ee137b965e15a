"""Who is near enough to shade whom: after every move what looking at all anew finds, and the very tuples where nothing moved."""

from dataclasses import replace

import numpy as np
import pytest

from studio.design.design import Design
from studio.files.examples import example_path
from studio.files.site import open_site
from studio.study.assessment import PlacedLine
from studio.study.neighbours import Near, Neighbours
from studio.study.place import place_line

SHADOW = 6.0


@pytest.fixture(scope="module")
def design() -> Design:
    return open_site(example_path("large_field")).design


def found(neighbours: Neighbours, placed: tuple[PlacedLine, ...]) -> Near:
    return neighbours.of(placed, tall_m=2.4, wide_m=0.9, shadow=SHADOW)


def plainly(placed: tuple[PlacedLine, ...]) -> Near:
    """Box by box."""
    near: Near = {}
    for line in placed:
        low, high = (np.array(corner) for corner in line.box)
        others = []
        for other in placed:
            its_low, its_high = (np.array(corner) for corner in other.box)
            gap = np.maximum(np.maximum(low - its_high, its_low - high), 0.0)
            if other is not line and np.hypot(*gap[:2]) < (2.4 + abs(its_high[2] - low[2])) * SHADOW + 0.9:
                others.append(other)
        near[line.id] = tuple(others)
    return near


def test_after_each_move_as_all_looked_at_anew(design: Design) -> None:
    rng = np.random.default_rng(8)
    lines = list(design.lines[:24])
    placed = [place_line(line, design.mirror, design.ground) for line in lines]
    kept = Neighbours()
    for number in range(40):
        for place in rng.choice(len(lines), size=int(rng.integers(0, 4)), replace=False).tolist():
            dx, dy = rng.uniform(-1, 1, 2) * rng.choice([0.5, 40.0, 400.0])
            lines[place] = replace(lines[place], x_m=lines[place].x_m + dx, y_m=lines[place].y_m + dy)
            placed[place] = place_line(lines[place], design.mirror, design.ground)
        if number % 10 == 9:
            del lines[-1], placed[-1]
        assert found(kept, tuple(placed)) == plainly(tuple(placed))


def test_lines_far_from_what_moved_keep_their_very_tuples(design: Design) -> None:
    placed = tuple(place_line(line, design.mirror, design.ground) for line in design.lines)
    kept = Neighbours()
    before = dict(found(kept, placed))
    moved = place_line(replace(design.lines[0], y_m=design.lines[0].y_m - 0.5), design.mirror, design.ground)
    after = found(kept, (moved, *placed[1:]))
    near = {line.id for line in placed[1:] if placed[0] in before[line.id]}
    assert 0 < len(near) < len(placed) - 1
    for line in placed[1:]:
        assert (after[line.id] is before[line.id]) == (line.id not in near)
    assert found(kept, ()) == {}
