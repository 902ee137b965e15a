"""A line with places left out: its light, its parts and its findings."""

from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from studio.design.design import Design, Document
from studio.design.field import Line, Store
from studio.design.obstacles import Block, Pole
from studio.design.site import Ground, NoBuild, Plot, SpotHeights
from studio.edits.fields import set_field
from studio.edits.places import leave_out
from studio.edits.registry import apply_mend
from studio.engine.heat.flow import inside_film_w_m2k
from studio.engine.heat.pipe import insulated_loss_w_m
from studio.engine.heat.year import Conditions, LineHeat, LinesHeat, lines_heat
from studio.files.site import open_site
from studio.study import line_heat
from studio.study.assess import Assessor
from studio.study.assessment import Array, Assessment
from studio.study.cache import Cache
from studio.study.findings import Finding
from studio.study.lay import lay_of
from studio.study.place import place_lines, row_of
from studio.study.shade import mirror_shade
from studio.study.sky import sky_of
from tests.study.slow_way import slow_year
from tests.study.test_staircase import assert_closes

SMALL = Path(__file__).parents[2] / "example_sites" / "small_dryer.stillfield"
LEFT_OUT = (6, 7, 11)


@cache
def document() -> Document:
    return open_site(SMALL)


def gapped() -> Document:
    """The small example, its second line without three mirrors."""
    return replace(document(), design=leave_out(document().design, id=2, mirrors=LEFT_OUT).design)


@cache
def with_gaps() -> Assessment:
    return Assessor().assess(gapped(), calendar=False)


@cache
def whole() -> Assessment:
    return Assessor().assess(document(), calendar=False)


def kwh(assessment: Assessment) -> dict[str, float]:
    return {step.key: step.kwh for step in assessment.staircase}


def material(assessment: Assessment, key: str) -> float:
    return next(line.quantity for block in assessment.materials for line in block.lines if line.key == key)


def test_the_staircase_closes() -> None:
    assert_closes(with_gaps())
    mirrors = sum(line.count for line in document().design.lines)
    share = (mirrors - len(LEFT_OUT)) / mirrors
    assert kwh(with_gaps())["facing"] == pytest.approx(share * kwh(whole())["facing"], rel=1e-12)
    assert kwh(with_gaps())["cosine"] == pytest.approx(share * kwh(whole())["cosine"], rel=1e-9)
    assert with_gaps().figures["mirrors"] == mirrors - len(LEFT_OUT)
    aperture = whole().figures["aperture_m2"]
    assert aperture is not None
    assert with_gaps().figures["aperture_m2"] == pytest.approx(share * aperture, rel=1e-12)


def test_light_and_shade_of_mirrors_are_those_of_the_stretches_as_lines_end_to_end() -> None:
    """The sum over the field of every cause that pipes and frames have no part in."""
    design = gapped().design
    line = design.line(2)
    runs = ((0, 5), (7, 3), (11, line.count - 11))
    assert all(line.first_number + first + count - 1 not in LEFT_OUT for first, count in runs)
    parts = tuple(
        replace(line, id=20 + first, x_m=line.x_m + first * line.spacing_m, count=count, left_out=())
        for first, count in runs
    )
    assert line.azimuth_deg == 90.0
    lines = tuple(other for other in design.lines if other.id != 2) + parts
    apart = Assessor().assess(replace(document(), design=replace(design, lines=lines)), calendar=False)
    for key in ("facing", "cosine", "horizon", "obstacles"):
        assert kwh(with_gaps())[key] == pytest.approx(kwh(apart)[key], rel=1e-9, abs=1e-6), key
    ours, theirs = shaded_by_mirrors(with_gaps()), shaded_by_mirrors(apart)
    np.testing.assert_allclose(ours.m2_at_nodes, theirs.m2_at_nodes, rtol=1e-9, atol=1e-9)
    assert ours.blended_kwh == pytest.approx(theirs.blended_kwh, rel=1e-9)
    # months in which cubics between the nodes dip below nothing are cut off line by line: the year's sums are not quite additive
    for one, assessment in ((ours, with_gaps()), (theirs, apart)):
        assert one.cut_off_kwh == pytest.approx(-kwh(assessment)["mirrors"], rel=1e-9)
    assert ours.blended_kwh != pytest.approx(shaded_by_mirrors(whole()).blended_kwh, rel=0.01)


@dataclass(frozen=True)
class ShadedByMirrors:
    """What mirrors take from a field: ``m2_at_nodes`` (N,) of aperture at each place of the sun that shade is tabulated at;
    of the year's light, blended between them (``blended_kwh``), and with each line's months cut off at nothing."""

    m2_at_nodes: Array
    blended_kwh: float
    cut_off_kwh: float


def shaded_by_mirrors(assessment: Assessment) -> ShadedByMirrors:
    """Shade of every line worked out by itself, past all others."""
    design = assessment.design
    sky = sky_of(design.site, document().asset, Cache())
    rows = {line.id: row_of(line, design.mirror) for line in assessment.rows}
    m2_at_nodes, blended, cut_off = np.zeros(len(sky.nodes.suns)), 0.0, 0.0
    for line in assessment.rows:
        others = tuple(row for key, row in rows.items() if key != line.id)
        share = mirror_shade(rows[line.id], others, sky.nodes.suns).mean
        m2 = line.mirrors * design.mirror.width_m * design.mirror.height_m
        light_kwh = m2 * sky.part_dni * np.maximum(sky.part_suns @ line.axes[2], 0.0) / 1000.0
        m2_at_nodes += m2 * share
        by_month = sky.by_month(sky.by_hour(light_kwh * sky.nodes.between(share)))
        blended += float(by_month.sum())
        cut_off += float(np.maximum(by_month, 0.0).sum())
    return ShadedByMirrors(m2_at_nodes, blended, cut_off)


def test_what_goes_with_a_mirror_goes_and_pipe_frames_and_drive_stay() -> None:
    some, all_of_them = with_gaps(), whole()
    mirrors = sum(line.count for line in document().design.lines)
    for key in ("receiver", "fixings_per_mirror", "labour_per_mirror"):
        assert material(some, key) == mirrors - len(LEFT_OUT), key
    film = material(all_of_them, "film_per_m2") * (mirrors - len(LEFT_OUT)) / mirrors
    assert material(some, "film_per_m2") == pytest.approx(film, abs=0.06)
    for key in ("line_pipe_per_m", "frame", "drive", "flexible_end"):
        assert material(some, key) == material(all_of_them, key), key
    window = document().design.receiver.window_width_m
    more = material(some, "line_insulation_per_m") - material(all_of_them, "line_insulation_per_m")
    assert more == pytest.approx(len(LEFT_OUT) * window, abs=0.11)
    assert material(some, "rod_bar") < material(all_of_them, "rod_bar")
    ours, before = ({line.id: line for line in one.lines} for one in (some, all_of_them))
    assert ours[2].mirrors == before[2].mirrors - len(LEFT_OUT)
    assert ours[2].pipe_m == before[2].pipe_m
    assert ours[1].mirrors == before[1].mirrors


def test_receivers_that_are_there_lose_heat_and_the_pipe_runs_on(monkeypatch: pytest.MonkeyPatch) -> None:
    """What the pipe loses is set by its insulated length, longer where receivers stood, by the hours in which its line
    delivers, fewer as less light warms it up, and by its flow, in which less oil parts less readily with its heat. Recomputed
    hour by hour with the film and the loss of the very pipe at four temperatures from inlet to outlet."""
    told: list[tuple[tuple[LineHeat, ...], LinesHeat, Conditions]] = []

    def listened(
        absorbed_w: Array, lines: tuple[LineHeat, ...], conditions: Conditions, **more: Any
    ) -> LinesHeat:
        found = lines_heat(absorbed_w, lines, conditions, **more)
        told.append((lines, found, conditions))
        return found

    monkeypatch.setattr(line_heat, "lines_heat", listened)
    lost, expected, hours, mirror_hours = [], [], [], []
    for one in (gapped(), document()):
        told.clear()
        lost.append(-kwh(Assessor().assess(one, calendar=False))["line_pipe"])
        ((lines, found, conditions),) = told
        expected.append(
            sum(pipe_loss_kwh(place, line, found, conditions) for place, line in enumerate(lines))
        )
        hours.append(found.delivers.sum(axis=0))
        mirror_hours.append(float(hours[-1] @ [line.mirrors for line in lines]))
    assert lost == pytest.approx(expected, rel=0.01)
    assert lost[0] / lost[1] == pytest.approx(expected[0] / expected[1], abs=5e-4)
    assert hours[0][1] < 0.95 * hours[1][1]
    # receivers lose by how many deliver how long, and a little by the flow
    share = mirror_hours[0] / mirror_hours[1]
    assert kwh(with_gaps())["receiver"] / kwh(whole())["receiver"] == pytest.approx(share, abs=0.005)


def pipe_loss_kwh(place: int, line: LineHeat, heat_of_lines: LinesHeat, conditions: Conditions) -> float:
    """The year's loss of a line's pipe: all hours with flow, each by the share of it in which the line delivers."""
    c = conditions
    on = heat_of_lines.flow_kg_s[:, place] > 0.0
    delivers = heat_of_lines.delivers[on, place]
    flow = heat_of_lines.flow_kg_s[on, place] / delivers
    rise = (c.outlet_c - c.inlet_c) / 4
    loss_w_m = np.zeros(len(flow))
    for oil_c in c.inlet_c + rise * (np.arange(4) + 0.5):
        film = inside_film_w_m2k(c.oil, oil_c, flow, bore_m=c.pipe.size.bore_m)
        loss_w_m += insulated_loss_w_m(oil_c, c.air_c[on], c.wind_m_s[on], run=c.pipe, inside_w_m2k=film) / 4
    return line.pipe_m * float(delivers @ loss_w_m) / 1000.0


def test_what_is_remembered_of_the_whole_line_is_not_taken_for_one_with_gaps() -> None:
    """Gaps come, move and go in one assessor: every answer is that of a fresh one."""
    assessor = Assessor()
    designs = [document().design, gapped().design]
    designs.append(set_field(designs[1], path="lines.2.left_out", value="4; 7; 12").design)
    designs.append(document().design)
    for design in designs:
        got = assessor.assess(replace(document(), design=design), calendar=False)
        fresh = Assessor().assess(replace(document(), design=design), calendar=False)
        assert kwh(got) == pytest.approx(kwh(fresh), rel=1e-9, abs=1e-6)
        assert got.lines == fresh.lines


def test_the_slow_way_agrees() -> None:
    """Rays past the true shapes of the mirrors, receivers, pipes and frames that are there."""
    year = slow_year(gapped(), pairs=200, rays_per_mirror=16, seed=7)
    live = kwh(with_gaps())["absorbed"]
    assert live == pytest.approx(year.kwh["absorbed"], rel=0.01, abs=3 * year.error_kwh["absorbed"])
    left = kwh(with_gaps())["facing"] + kwh(with_gaps())["cosine"]
    shade = -(kwh(with_gaps())["mirrors"] + kwh(with_gaps())["gear"]) / left
    slow = (year.kwh["mirrors"] + year.kwh["gear"]) / year.kwh["on aperture"]
    assert shade == pytest.approx(slow, abs=0.01)


def test_the_worst_mirror_goes_by_its_own_number() -> None:
    design = gapped().design
    line = replace(design.line(2), first_number=31, left_out=tuple(one + 30 for one in LEFT_OUT))
    lines = tuple(line if one.id == 2 else one for one in design.lines)
    found = Assessor().assess(replace(document(), design=replace(design, lines=lines)), calendar=False)
    worst = {one.id: one.winter_largest_mirror for one in found.lines}[2]
    assert 31 <= worst <= line.last_number
    assert worst not in line.left_out


# findings and what mends them -------------------------------------------------------------------------------------

ASSESSOR = Assessor()
WIDE = Plot(
    boundary=((-20.0, -20.0), (60.0, -20.0), (60.0, 60.0), (-20.0, 60.0)),
    setback_m=2.0,
    maintenance_gap_m=0.8,
)
ROW = Line(id=3, x_m=0.0, y_m=0.0, spacing_m=1.35, count=12, first_number=4)


def findings(design: Design) -> dict[str, Finding]:
    return {one.key: one for one in ASSESSOR.assess(Document(design=design), calendar=False).findings}


def field(line: Line = ROW, plot: Plot = WIDE, **parts: Any) -> Design:
    return replace(Design(plot=plot, lines=(line,), store=Store(x_m=30.0, y_m=30.0)), **parts)


def pit(x0: float, x1: float) -> Plot:
    ring = ((x0, -1.0), (x1, -1.0), (x1, 1.0), (x0, 1.0))
    return replace(WIDE, no_build=(NoBuild(name="gully", ring=ring),))


def mended(design: Design, key: str) -> tuple[Finding, Design]:
    found = findings(design)[key]
    assert found.mend is not None
    after = apply_mend(design, found.mend).design
    assert key not in findings(after)
    return found, after


def test_mirrors_over_a_gully_in_the_middle_are_left_out() -> None:
    """The gully lies from 4.5 to 6.5 m: mirrors 3.4 to 7.4 m from the first vertex, 1.25 m wide, reach into it."""
    found, after = mended(field(plot=pit(4.5, 6.5)), "mirror_in_no_build_area")
    assert found.mend is not None
    assert found.mend.edit == "leave_out"
    assert after.line(3).left_out == (7, 8, 9)
    assert (after.line(3).count, after.line(3).first_number) == (12, 4)


def test_mirrors_over_a_gully_at_the_far_end_make_the_line_shorter() -> None:
    found, after = mended(field(plot=pit(13.0, 16.0)), "mirror_in_no_build_area")
    assert found.mend is not None
    assert found.mend.edit == "shorten_line"
    assert (after.line(3).count, after.line(3).left_out, after.line(3).first_number) == (10, (), 4)


def test_a_second_gully_is_mended_after_the_first() -> None:
    design = field(plot=pit(4.5, 6.5))
    two = replace(
        design,
        plot=replace(design.plot, no_build=(*design.plot.no_build, *pit(10.5, 11.0).no_build)),
    )
    _found, once = mended(two, "mirror_in_no_build_area")
    assert set(once.line(3).left_out) == {7, 8, 9, 12}
    assert once.line(3).mirrors == 8


def test_a_shed_in_the_middle_of_a_line() -> None:
    shed = Block(name="pump house", ring=((4.8, -0.5), (5.8, -0.5), (5.8, 0.5), (4.8, 0.5)), height_m=0.9)
    found, after = mended(field(obstacles=(shed,)), "mirror_in_obstacle")
    assert found.mend is not None
    assert found.mend.edit == "leave_out"
    assert after.line(3).left_out == (8,)


def test_a_line_that_cuts_a_corner_out_of_the_plot() -> None:
    """A notch in the boundary, 1 m wide: a mirror in the middle stands outside it, then others in its setback."""
    notch = (
        (-20.0, -20.0), (60.0, -20.0), (60.0, 60.0), (6.0, 60.0), (6.0, -0.2), (5.0, -0.2), (5.0, 60.0), (-20.0, 60.0),
    )  # fmt: skip
    _found, once = mended(field(plot=replace(WIDE, boundary=notch)), "mirror_outside_plot")
    assert once.line(3).left_out == (8,)
    _found, twice = mended(once, "mirror_inside_setback")
    assert set(once.line(3).left_out) < set(twice.line(3).left_out)
    assert twice.line(3).count == 12


def test_a_line_at_the_edge_of_the_plot_is_shortened_at_its_drive_end() -> None:
    found, after = mended(field(replace(ROW, x_m=-21.5)), "mirror_outside_plot")
    assert found.mend is not None
    assert found.mend.edit == "shorten_line"
    kept = after.line(3)
    assert kept.first_number == ROW.first_number + ROW.count - kept.count
    assert kept.x_m == pytest.approx(-21.5 + (ROW.count - kept.count) * 1.35)


def test_a_line_that_has_next_to_no_room_is_not_offered_to_be_a_stub() -> None:
    found = findings(field(plot=pit(-3.0, 12.0)))["mirror_in_no_build_area"]
    assert found.mend is None


def test_gaps_only_of_neighbours_ask_for_room_for_a_frame() -> None:
    tight = replace(ROW, spacing_m=1.27)
    assert "no_room_for_frame" in findings(field(tight))
    assert "no_room_for_frame" in findings(field(replace(tight, left_out=(5, 6))))
    every_other = tuple(range(5, 15, 2))
    assert "no_room_for_frame" not in findings(field(replace(tight, count=11, left_out=every_other[:5])))


def test_a_pole_shades_less_where_its_mirror_is_left_out() -> None:
    pole = Pole(name="mast", place=(5.4, -2.0), radius_m=0.4, height_m=8.0)
    whole_line = ASSESSOR.assess(Document(design=field(obstacles=(pole,))), calendar=False).lines[0]
    gap = field(replace(ROW, left_out=(7, 8, 9)), obstacles=(pole,))
    with_gap = ASSESSOR.assess(Document(design=gap), calendar=False).lines[0]
    assert with_gap.obstacle_loss_year < 0.9 * whole_line.obstacle_loss_year


def test_over_uneven_ground_posts_are_of_the_mirrors_that_are_there_and_the_line_lies_as_it_did() -> None:
    """A hump below the middle: without the mirrors over it no post is the shortest, and no grade changes."""
    spots = tuple(
        (float(x), float(y), 1.0 if x == 8 and y == 0 else 0.02 * x) for x in range(-24, 64, 8) for y in (-20, 0, 60)
    )  # fmt: skip
    ground = Ground(heights=SpotHeights(spots=spots))
    lays = []
    for left_out in ((), (9, 10, 11)):
        design = field(replace(ROW, left_out=left_out), ground=ground)
        lays.append(lay_of(design, place_lines(design)[0]))
        assert_closes(ASSESSOR.assess(Document(design=design), calendar=False))
    before, after = lays
    there = [place for place in range(12) if place not in (5, 6, 7)]
    assert (after.posts_m == before.posts_m[there]).all()
    assert (after.steepest_percent == before.steepest_percent[there]).all()
    assert after.grade_percent == before.grade_percent
    assert after.posts_m.min() > before.posts_m.min() + 0.05
