"""Receivers beside their spots in the year: growth of the hot pipe, anchors, aim, and what old files hold."""

import dataclasses
from typing import Any

import numpy as np
import pytest

from studio.design.design import Document
from studio.files.examples import example_path
from studio.files.site import open_site
from studio.study.assess import Assessor
from studio.study.beside import offsets_of, spread_of
from studio.study.place import place_lines

DOCUMENT = open_site(example_path("small_dryer"))
ASSESSOR = Assessor()


def with_motion(**fields: Any) -> Document:
    motion = dataclasses.replace(DOCUMENT.design.motion, **fields)
    return dataclasses.replace(DOCUMENT, design=dataclasses.replace(DOCUMENT.design, motion=motion))


def heat(document: Document) -> float:
    value = ASSESSOR.assess(document, calendar=False).figures["annual_heat_kwh"]
    assert value is not None
    return value


def test_spaced_for_the_hot_pipe_every_receiver_meets_its_spot() -> None:
    line = place_lines(DOCUMENT.design)[0]
    assert not np.any(offsets_of(DOCUMENT.design, line))
    assert spread_of(DOCUMENT.design, line).none


def test_spaced_for_the_cold_pipe_they_stand_off_by_the_growth_between_them() -> None:
    design = with_motion(spaced_for="cold").design
    line = place_lines(design)[0]
    offsets = offsets_of(design, line)
    run = line.spacing_m * (line.count - 1)
    # 140 to 190 degC: EN 1993-1-2 gives 1.5 to 2.2 mm a metre
    assert 1.5e-3 * run < offsets[-1] - offsets[0] < 2.2e-3 * run
    left = np.array(spread_of(design, line).slides_m)
    assert left.max() == pytest.approx(-left.min(), abs=2e-4)


def test_where_the_anchor_is_moves_all_alike_and_the_drive_takes_it_off() -> None:
    near, far = with_motion(spaced_for="cold").design, with_motion(spaced_for="cold", anchor_share=1.0).design
    line = place_lines(near)[0]
    apart = offsets_of(near, line) - offsets_of(far, line)
    np.testing.assert_allclose(apart, apart[0], atol=1e-12)
    assert apart[0] > 0
    assert spread_of(near, line) == spread_of(far, line)


def test_growth_and_aim_each_cost_heat_and_nothing_else_moves() -> None:
    whole = heat(DOCUMENT)
    cold = heat(with_motion(spaced_for="cold"))
    loose = heat(with_motion(aim_slide_mm=30.0, aim_roll_deg=1.0))
    looser = heat(with_motion(aim_slide_mm=60.0, aim_roll_deg=2.0))
    assert cold < whole
    assert looser < loose < whole
    assert cold > 0.97 * whole  # 15 mirrors at 190 degC: some 2 cm either way on a window of 20 cm
    still = ASSESSOR.assess(with_motion(aim_slide_mm=30.0), calendar=False)
    assert (
        still.figures["shade_loss_winter"]
        == ASSESSOR.assess(DOCUMENT, calendar=False).figures["shade_loss_winter"]
    )


def test_held_settings_feel_the_aim_too() -> None:
    held = heat(with_motion(roll="held"))
    assert heat(with_motion(roll="held", aim_slide_mm=40.0)) < held
