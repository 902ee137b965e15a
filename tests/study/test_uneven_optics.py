"""Lines on uneven ground share optics tables: what that costs, and that a move costs no new table."""

from dataclasses import replace

import numpy as np
import pytest

from studio.design.design import Design, Document
from studio.design.field import Line
from studio.design.heights import packed_heights
from studio.design.obstacles import Block, Tree
from studio.design.site import Ground, HeightGrid, SpotHeights
from studio.engine.mirror.form import Errors, Floats, MirrorForm, Window
from studio.engine.motion.pose import LineMotion, Poses, best_poses
from studio.study.assess import Assessor
from studio.study.cache import Cache
from studio.study.optics import optics_of
from studio.study.place import place_lines
from studio.study.sky import sky_of

MEASURED = ((-80.0, -80.0), (80.0, -80.0), (-80.0, 80.0), (80.0, 80.0))


def year_light(design: Design, cache: Cache) -> float:
    """What the window accepts in a year, kWh for each m2 of aperture."""
    document = Document(design=design)
    sky = sky_of(design.site, document.asset, cache)
    optics = optics_of(design, place_lines(design)[0], sky, cache)
    return float(sky.part_dni @ (optics.cosine * optics.at_parts.accepted)) / 1000


@pytest.mark.parametrize(("azimuth", "grade"), [(90.0, 1.024), (60.0, 7.024), (20.0, 7.024), (20.0, -3.0)])
def test_shared_tables_change_the_years_light_by_less_than_a_twentieth_of_a_percent(
    azimuth: float, grade: float
) -> None:
    """The same slope once as a plane, with a table of the line's own, once as measured spots.

    Grades lie midway between tables, and midway between the multiples that they are rounded to.
    """
    line = Line(id=1, x_m=0.0, y_m=0.0, azimuth_deg=azimuth, count=12)
    plane = Design(
        lines=(line,),
        ground=Ground(slope_percent=abs(grade), falls_towards_deg=azimuth + (180 if grade > 0 else 0)),
    )
    way = np.array([np.sin(np.radians(azimuth)), np.cos(np.radians(azimuth))])
    spots = tuple((x, y, float(way @ (x, y)) * grade / 100) for x, y in MEASURED)
    measured = replace(plane, ground=Ground(heights=SpotHeights(spots=spots)))
    cache = Cache()
    own, shared = year_light(plane, cache), year_light(measured, cache)
    print(f"azimuth {azimuth:g}, grade {grade:g} %: shared tables {100 * (shared / own - 1):+.4f} %")
    assert own > 100
    assert shared == pytest.approx(own, rel=5e-4)
    assert shared != own


def test_a_field_on_a_measured_slope_is_the_field_on_that_slope() -> None:
    """Heat, shade of mirrors, obstacles and gear, header and posts, once with the ground as a plane, once as spots."""
    slope = Ground(slope_percent=6.3, falls_towards_deg=215.0)
    way = np.array([np.sin(np.radians(215.0)), np.cos(np.radians(215.0))])
    spots = tuple((x, y, 31.0 - 0.063 * float(way @ (x, y))) for x, y in MEASURED)
    plane = Design(
        ground=slope,
        lines=tuple(Line(id=n + 1, x_m=0.0, y_m=2.6 * n, azimuth_deg=84.0, count=6) for n in range(3)),
        obstacles=(
            Block(name="shed", ring=((2.0, -5.0), (6.0, -5.0), (6.0, -3.0), (2.0, -3.0)), height_m=3.0),
            Tree(place=(9.0, -4.0)),
        ),
    )
    measured = replace(plane, ground=Ground(heights=SpotHeights(spots=spots)))
    one, other = (Assessor().assess(Document(design=design), calendar=False) for design in (plane, measured))
    assert other.figures["absorbed_kwh"] == pytest.approx(one.figures["absorbed_kwh"], rel=5e-4)
    # losses stay, so that the heat that is left differs by a few times the share that the light does
    assert other.figures["annual_heat_kwh"] == pytest.approx(one.figures["annual_heat_kwh"], rel=2e-3)
    for key in ("shade_loss_year", "obstacle_loss_year", "shade_loss_winter"):
        assert one.figures[key]
        assert other.figures[key] == pytest.approx(one.figures[key], rel=2e-3, abs=1e-5)
    assert other.figures["pipe_length_m"] == pytest.approx(one.figures["pipe_length_m"])
    assert [line.post_longest_m for line in other.lines] == pytest.approx(
        [line.post_longest_m for line in one.lines]
    )
    assert {finding.key for finding in other.findings} == {finding.key for finding in one.findings}


def waves() -> Ground:
    y, x = np.mgrid[-20:21, -20:21] * 4.0
    heights = 1.2 * np.sin(x / 30) * np.cos(y / 25) + 0.01 * x
    return Ground(
        heights=HeightGrid(
            x_m=-80.0, y_m=-80.0, step_m=4.0, rows=41, columns=41, cells=packed_heights(heights)
        )
    )


def test_a_line_that_moves_over_uneven_ground_needs_no_new_table(monkeypatch: pytest.MonkeyPatch) -> None:
    lines = tuple(Line(id=n + 1, x_m=-15.0, y_m=8.0 * n, count=8) for n in range(4))
    design = Design(lines=lines, ground=waves())
    placed = place_lines(design)
    assert len({line.along.tobytes() for line in placed}) == 4
    made: list[LineMotion] = []

    def counted(form: MirrorForm, errors: Errors, window: Window, motion: LineMotion, suns: Floats) -> Poses:
        made.append(motion)
        return best_poses(form, errors, window, motion, suns)

    monkeypatch.setattr("studio.engine.motion.table.best_poses", counted)
    assessor = Assessor()
    before = assessor.assess(Document(design=design), calendar=False)
    motions = set(made)
    assert 0 < len(motions) <= 4  # four lines of as many grades, on the few tables round about
    made.clear()
    for step in range(1, 4):
        moved = replace(design, lines=(*lines[:2], replace(lines[2], x_m=-15.0 + 0.1 * step), lines[3]))
        after = assessor.assess(Document(design=moved), calendar=False, exact=False)
    assert made == []
    assert after.lines[2].absorbed_kwh != before.lines[2].absorbed_kwh
    assert after.lines[2].absorbed_kwh == pytest.approx(before.lines[2].absorbed_kwh, rel=0.01)
