"""Lines that stand each its own way: what an edit leaves standing is what a fresh start gives, and only that is kept."""

import dataclasses
import itertools
import pickle
from typing import Any

import numpy as np
import pytest

from studio.design.design import Design, Document
from studio.files.examples import example_path
from studio.files.site import open_site
from studio.study.assess import Assessor, like_the_last
from studio.study.watch import StoppedError, Watch

MOVES = 6
SAME = 1e-9


def mixed() -> tuple[Document, Design]:
    """The small example with two tilts, two facings and a slope, so that no line is parallel to all others."""
    document = open_site(example_path("small_dryer"))
    design = document.design
    lines = tuple(
        dataclasses.replace(
            line,
            tilt_deg=design.mirror.tilt_deg + 3.0 * (place % 2),
            facing_deg=design.mirror.facing_deg + 4.0 * (place % 3),
            azimuth_deg=line.azimuth_deg + 1.0 * place,
        )
        for place, line in enumerate(design.lines)
    )
    ground = dataclasses.replace(design.ground, slope_percent=6.0, falls_towards_deg=120.0)
    return document, dataclasses.replace(design, lines=lines, ground=ground)


def with_line(design: Design, place: int, **change: Any) -> Design:
    lines = list(design.lines)
    lines[place] = dataclasses.replace(lines[place], **change)
    return dataclasses.replace(design, lines=tuple(lines))


def test_after_each_move_all_is_as_from_a_fresh_start() -> None:
    document, design = mixed()
    assessor, rng = Assessor(), np.random.default_rng(3)
    assessor.assess(document, design, calendar=False)
    for _move in range(MOVES):
        place = int(rng.integers(len(design.lines)))
        line = design.lines[place]
        design = with_line(
            design,
            place,
            x_m=line.x_m + float(rng.uniform(-0.5, 0.5)),
            y_m=line.y_m + float(rng.uniform(-0.3, 0.3)),
        )
        assessor.assess(document, design, calendar=False, exact=False)
        kept = assessor.assess(document, pickle.loads(pickle.dumps(design)), calendar=False)
        fresh = Assessor().assess(document, design, calendar=False)
        for key, value in fresh.figures.items():
            assert kept.figures[key] == (value if value is None else pytest.approx(value, rel=SAME)), key
        for one, other in zip(kept.lines, fresh.lines, strict=True):
            assert one.annual_heat_kwh == pytest.approx(other.annual_heat_kwh, rel=SAME)
            assert dict(one.winter_by) == pytest.approx(dict(other.winter_by), rel=SAME)


def test_a_design_from_elsewhere_is_known_by_what_it_says() -> None:
    _document, design = mixed()
    again = pickle.loads(pickle.dumps(design))
    known = like_the_last(again, design)
    assert known == design
    assert known.mirror is design.mirror
    assert all(one is other for one, other in zip(known.lines, design.lines, strict=True))
    moved = with_line(again, 1, y_m=99.0)
    known = like_the_last(moved, design)
    assert known == moved
    assert [one is other for one, other in zip(known.lines, design.lines, strict=True)].count(False) == 1


def test_a_line_that_nothing_touched_is_the_very_same() -> None:
    document, design = mixed()
    assessor = Assessor()
    before = assessor.assess(document, design, calendar=False).rows
    after = assessor.assess(
        document, with_line(design, 0, y_m=design.lines[0].y_m + 0.1), calendar=False
    ).rows
    assert [one is other for one, other in zip(before, after, strict=True)] == [
        False,
        *[True] * (len(before) - 1),
    ]


def _stops_after(most: int) -> Watch:
    """A watch that has enough when it is asked for the ``most``-th time."""
    asked = itertools.count(1)
    return lambda stage, share: next(asked) < most


def test_a_stopped_assessment_leaves_nothing_wrong() -> None:
    document, design = mixed()
    assessor = Assessor()
    assessor.assess(document, design, calendar=False)
    design = with_line(design, 0, y_m=design.lines[0].y_m + 0.2)
    for after in range(3, 9):
        with pytest.raises(StoppedError):
            assessor.assess(document, design, watch=_stops_after(after))
    kept = assessor.assess(document, design, calendar=False)
    fresh = Assessor().assess(document, design, calendar=False)
    assert kept.figures["annual_heat_kwh"] == pytest.approx(fresh.figures["annual_heat_kwh"], rel=SAME)
