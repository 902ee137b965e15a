"""What one drive moves: twist, balance, force, findings that come and go, and what every restriction of motion costs."""

import dataclasses
from typing import Any

import numpy as np
import pytest

from studio.design.design import Design, Document
from studio.edits.places import leave_out
from studio.files.examples import example_path
from studio.files.site import open_site
from studio.study.cache import Cache
from studio.study.drive_checks import drive_findings
from studio.study.one_drive import MOST_MIRRORS, TWIST_LOSS, drives_of, one_drive_of, statics_of
from studio.study.optics import optics_of
from studio.study.place import place_lines
from studio.study.restrictions import restrictions_of
from studio.study.sky import sky_of

DOCUMENT: Document = open_site(example_path("small_dryer"))
CACHE = Cache()
SKY = sky_of(DOCUMENT.design.site, DOCUMENT.asset, CACHE)


def changed(**motion: Any) -> Design:
    return dataclasses.replace(DOCUMENT.design, motion=dataclasses.replace(DOCUMENT.design.motion, **motion))


def keys(design: Design) -> list[str]:
    return [finding.key for finding in drive_findings(design, place_lines(design))]


def test_frames_that_are_not_balanced_twist_the_pipe_and_counterweights_take_it_off() -> None:
    loose, balanced = changed(balance_share=0.9), changed()
    twisted, straight = (statics_of(design, place_lines(design)[0]) for design in (loose, balanced))
    assert twisted.off_roll_deg > 20 * straight.off_roll_deg
    assert twisted.hangs_kg_m == pytest.approx(straight.hangs_kg_m)
    found = next(f for f in drive_findings(loose, place_lines(loose)) if f.key == "pipe_twists")
    assert found.mend is not None
    assert dict(found.mend.arguments) == {"path": "motion.balance_share", "value": 1.0}
    assert "pipe_twists" not in keys(balanced)


def test_the_finding_of_twist_comes_at_an_eighth_of_the_window() -> None:
    design = changed()
    limit = np.degrees(design.receiver.window_height_m / design.motion.arm_m) / 8
    here = statics_of(design, place_lines(design)[0]).off_roll_deg
    # with the frames balanced, twist is all friction and grows in proportion
    just_below, just_above = (
        changed(friction=design.motion.friction * limit / here * by) for by in (0.99, 1.01)
    )
    assert "pipe_twists" not in keys(just_below)
    assert "pipe_twists" in keys(just_above)


def test_the_finding_of_growth_comes_and_its_mend_takes_it_away() -> None:
    cold = changed(spaced_for="cold")
    line = dataclasses.replace(cold.lines[0], count=10)
    short = dataclasses.replace(cold, lines=(line,))
    long = dataclasses.replace(cold, lines=(dataclasses.replace(line, count=40),))
    assert "pipe_grows" not in keys(short)
    assert "pipe_grows" in keys(long)
    assert "pipe_grows" not in keys(dataclasses.replace(long, motion=changed().motion))


def test_the_finding_of_sag() -> None:
    assert "pipe_sags" not in keys(changed())
    assert "pipe_sags" in keys(changed(mirrors_per_frame=6))


def test_twist_costs_light_and_limits_how_many_mirrors_one_drive_carries() -> None:
    design = changed()
    line = place_lines(design)[0]
    one = one_drive_of(design, line, SKY, CACHE)
    assert 0 < one.twist_loss < TWIST_LOSS
    assert line.count < one.most_mirrors < MOST_MIRRORS
    heavier = dataclasses.replace(design, motion=dataclasses.replace(design.motion, receiver_kg=30.0))
    assert one_drive_of(heavier, line, SKY, CACHE).most_mirrors < one.most_mirrors
    statics = one.statics
    assert statics.torque_nm == pytest.approx(statics.twist.torque_nm)
    # rollers of 0.05 on level ground
    assert statics.force_n == pytest.approx(0.05 * statics.mass_kg * 9.80665, rel=1e-6)


def test_empty_places_hang_nothing_on_the_pipe() -> None:
    """Five of fifteen receivers left out in the middle; two frames hang none."""
    whole = changed(balance_share=0.0, mirrors_per_frame=2)
    gapped = leave_out(whole, id=1, mirrors=(5, 6, 7, 8, 9)).design
    full, less = (place_lines(design)[0] for design in (whole, gapped))
    before, after = statics_of(whole, full), statics_of(gapped, less)
    one_kg = whole.motion.receiver_kg
    assert (before.mirrors, after.mirrors) == (full.count, full.count - 5)
    assert before.mass_kg - after.mass_kg == pytest.approx(5 * one_kg)
    assert after.force_n / before.force_n == pytest.approx(after.mass_kg / before.mass_kg)
    assert after.hangs_kg_m == before.hangs_kg_m, "the heaviest frame is as heavy as it was"
    # frames stand before the 1st, 3rd ... mirror: that before the 5th hangs one receiver less, the next two both
    assert before.torque_nm - after.torque_nm == pytest.approx(5 / 2 * torque_of_receivers(whole), rel=1e-9)
    asked = [
        -np.diff(np.diff(one.twist.by_frame_deg)[:7]) for one in (before, after)
    ]  # by the 2nd to 7th frame
    assert (asked[0] - asked[1]) * 5 / (asked[0] - asked[1]).sum() == pytest.approx(
        [0, 1, 2, 2, 0, 0], abs=1e-6
    )
    assert after.sag.deepest_m > before.sag.deepest_m, "a full span beside an empty one sags deeper"


def torque_of_receivers(design: Design) -> float:
    """What one frame's receivers ask at the worst roll: the whole frame less one whose receivers weigh nothing."""
    bare = dataclasses.replace(design, motion=dataclasses.replace(design.motion, receiver_kg=0.0))
    torques = [statics_of(one, place_lines(one)[0]).twist for one in (design, bare)]
    frames = len(torques[0].by_frame_deg)
    return (torques[0].torque_nm - torques[1].torque_nm) / frames


def test_a_line_with_gaps_has_its_own_drive_and_one_drive_carries_as_many_as_ever() -> None:
    design = leave_out(DOCUMENT.design, id=1, mirrors=(5, 6)).design
    drives = drives_of(design, SKY, CACHE)
    by_line = {one.statics.line_id: one for one in drives}
    makes = {line.make for line in place_lines(design)}
    assert len(drives) == len(makes)
    whole, gapped = by_line[2], by_line[1]
    assert gapped.statics.mirrors == whole.statics.mirrors - 2
    assert gapped.most_mirrors == whole.most_mirrors
    assert 0 < gapped.twist_loss < whole.twist_loss


def test_growth_and_aim_cost_what_the_year_takes_off_for_them() -> None:
    """Against the optics of the year, which means its own table over the same receivers."""
    straight = one_drive_of(changed(), place_lines(changed())[0], SKY, CACHE)
    assert straight.growth_loss == pytest.approx(0.0, abs=1e-6)
    assert straight.aim_loss == pytest.approx(0.0, abs=1e-6)
    loose = changed(spaced_for="cold", aim_slide_mm=30.0, aim_roll_deg=1.0)
    line = place_lines(loose)[0]
    one = one_drive_of(loose, line, SKY, CACHE)
    light = SKY.part_dni * np.maximum(SKY.part_suns @ line.axes[2], 0.0)
    for name, design in (
        ("growth", changed(spaced_for="cold")),
        ("aim", changed(aim_slide_mm=30.0, aim_roll_deg=1.0)),
    ):
        whole, less = (
            float(light @ optics_of(each, line, SKY, CACHE).at_parts.accepted) for each in (changed(), design)
        )
        found = one.growth_loss if name == "growth" else one.aim_loss
        assert found == pytest.approx(1 - less / whole, abs=2e-3)
        assert found > 0


def test_restrictions_cost_what_is_known_of_east_west_lines() -> None:
    """A weekly roll loses little, a slide set by hand nearly all (common practice, no source)."""
    rows = {
        row.key: row.loss for row in restrictions_of(DOCUMENT.design, place_lines(DOCUMENT.design)[0], SKY)
    }
    assert 0 <= rows["limits"] < 0.05
    assert rows["roll_set"] < 0.06
    assert rows["roll_set"] < rows["roll_fixed"]
    assert rows["slide_set"] > 0.5
    assert rows["as_built"] == pytest.approx(rows["limits"], abs=1e-9)
    assert all(np.isfinite(loss) for loss in rows.values())
