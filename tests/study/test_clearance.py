"""Mirrors and receivers near the ground: by hand, just touching and just not."""

import dataclasses
from typing import Any

import numpy as np
import pytest

from studio.design.design import Design
from studio.design.field import Line
from studio.edits.registry import apply_mend
from studio.study.clearance import clearance_of, ground_findings
from studio.study.place import place_lines

DESIGN = Design(lines=(Line(id=1, x_m=0.0, y_m=0.0, count=3),))


def changed(
    *, line: dict[str, Any] | None = None, motion: dict[str, Any] | None = None, **mirror: Any
) -> Design:
    return dataclasses.replace(
        DESIGN,
        mirror=dataclasses.replace(DESIGN.mirror, **mirror),
        motion=dataclasses.replace(DESIGN.motion, **(motion or {})),
        lines=(dataclasses.replace(DESIGN.lines[0], **(line or {})),),
    )


def keys(design: Design) -> list[str]:
    return [finding.key for finding in ground_findings(design, place_lines(design))]


def test_the_low_edge_stands_where_the_tilt_puts_it() -> None:
    design = changed(tilt_deg=40.0, stands_at_m=1.0)
    found = clearance_of(design, place_lines(design)[0])
    assert found.mirror_m == pytest.approx(1.0 - 0.72 * np.sin(np.radians(40.0)))


def test_a_mirror_that_just_touches_and_one_that_just_does_not() -> None:
    low = 0.72 * np.sin(np.radians(40.0))
    assert "mirror_in_ground" not in keys(changed(tilt_deg=40.0, stands_at_m=low + 0.002))
    touching = changed(tilt_deg=40.0, stands_at_m=low - 0.002)
    assert "mirror_in_ground" in keys(touching)
    finding = next(iter(ground_findings(touching, place_lines(touching))))
    assert finding.mend is not None
    mended = apply_mend(touching, finding.mend).design
    assert "mirror_in_ground" not in keys(mended)


def test_a_lines_own_height_is_what_its_mend_sets() -> None:
    design = changed(tilt_deg=40.0, line={"stands_at_m": 0.3})
    finding = next(iter(ground_findings(design, place_lines(design))))
    assert finding.mend is not None
    assert finding.mend.arguments["path"] == "lines.1.stands_at_m"


def test_a_receiver_that_swings_low_meets_the_ground() -> None:
    """A steep mirror that faces south: a roll of + swings its receiver down in front of it."""
    fine = {"roll_from_deg": -29.0, "roll_to_deg": 29.0}
    assert keys(changed(tilt_deg=36.0, motion=fine)) == []
    steep = changed(tilt_deg=70.0, stands_at_m=0.8, motion={"roll_from_deg": -29.0, "roll_to_deg": 60.0})
    assert "receiver_meets_ground" in keys(steep)
    assert clearance_of(steep, place_lines(steep)[0]).swung_m < 0


def test_sloping_ground_counts() -> None:
    ground = dataclasses.replace(DESIGN.ground, slope_percent=20.0, falls_towards_deg=0.0)
    level = clearance_of(DESIGN, place_lines(DESIGN)[0])
    sloping = dataclasses.replace(DESIGN, ground=ground)
    rising_south = clearance_of(sloping, place_lines(sloping)[0])
    # the low edge reaches 0.72 cos(tilt) south, where the ground is higher
    ahead = 0.72 * np.cos(np.radians(DESIGN.mirror.tilt_deg))
    assert rising_south.mirror_m == pytest.approx(level.mirror_m - 0.2 * ahead, abs=1e-6)
