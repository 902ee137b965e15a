"""Planting a design: what it holds, where it stands, and that the study finds nothing out of place. Plots are invented."""

import dataclasses
import os
from math import inf

import numpy as np
import pytest
from shapely import Point, Polygon

from studio.design.design import Design
from studio.design.field import Line, Store
from studio.design.mirror import Mirror
from studio.design.obstacles import Block, Fence, Pole, Tree
from studio.design.site import Ground, NoBuild, Plot
from studio.edits.edit import Edit, admit
from studio.edits.geometry import first_vertex, square
from studio.edits.line_room import DRIVE_M, room_of
from studio.edits.lines import delete_lines
from studio.edits.plant import LEAST, offers, plant_lines
from studio.edits.registry import apply_edit
from studio.engine.ground.spacing import Conflict
from studio.errors import BadInputError
from studio.study import room
from studio.study.cache import Cache
from studio.study.header import header_of
from studio.study.place import place_line, place_lines, swept_m

FULL = os.environ.get("STILLFIELD_FULL") == "1"
FIELDS = 60 if FULL else 12
PIT = NoBuild(name="pit", ring=((18.0, 14.0), (24.0, 12.0), (26.0, 18.0), (20.0, 20.0)))
LAND = Plot(boundary=((0.0, 0.0), (46.0, -2.0), (50.0, 14.0), (44.0, 37.0), (3.0, 34.0)), no_build=(PIT,))
MIRROR = Mirror()
FAR_STORE = Store(x_m=60.0, y_m=10.0)


def on(
    plot: Plot = LAND, *, mirror: Mirror = MIRROR, store: Store = FAR_STORE, slope_percent: float = 0.0
) -> Design:
    return Design(plot=plot, store=store, mirror=mirror, ground=Ground(slope_percent=slope_percent))


def conflicts(design: Design) -> tuple[Conflict, ...]:
    placed = place_lines(design)
    return room.conflicts_of(design, placed, header_of(design, placed), Cache())


def planted(design: Design, **wishes: object) -> Design:
    return apply_edit(design, "plant_lines", {"azimuth_deg": 90.0, "pitch_m": 3.2, **wishes}).design


def test_it_says_what_it_did_and_numbers_from_the_front() -> None:
    edit = plant_lines(on(), azimuth_deg=90.0, pitch_m=3.2)
    lines = edit.design.lines
    assert (
        edit.label == f"Plant {len(lines)} lines with {sum(line.count for line in lines)} mirrors at 3.20 m"
    )
    assert [line.id for line in lines] == list(range(1, len(lines) + 1))
    assert [line.y_m for line in lines] == sorted(line.y_m for line in lines)  # mirrors face south
    north = plant_lines(on(mirror=dataclasses.replace(MIRROR, facing_deg=0.0)), azimuth_deg=90.0, pitch_m=3.2)
    assert [line.y_m for line in north.design.lines] == sorted(
        (line.y_m for line in north.design.lines), reverse=True
    )
    strips: dict[float, list[float]] = {}
    for line in lines:
        strips.setdefault(round(line.y_m, 6), []).append(line.x_m)
    assert max(map(len, strips.values())) == 2  # the pit splits a strip
    assert all(places == sorted(places) for places in strips.values())


def test_lines_stand_at_the_pitch_and_as_spaced() -> None:
    design = planted(on(), azimuth_deg=35.0, pitch_m=2.9, spacing_m=1.8)
    assert {line.spacing_m for line in design.lines} == {1.8}
    assert {line.azimuth_deg for line in design.lines} == {35.0}
    x, y = square(35.0)
    offsets = np.unique(np.round([line.x_m * x + line.y_m * y for line in design.lines], 6))
    assert np.round(np.diff(offsets) / 2.9, 5) == pytest.approx(1.0)


def random_design(seed: int) -> tuple[Design, dict[str, object]]:
    rng = np.random.default_rng(seed)
    corners = int(rng.integers(4, 8))
    turns = (np.arange(corners) + rng.uniform(-0.4, 0.4, corners)) * 2 * np.pi / corners
    reach = rng.uniform(22.0, 38.0, corners)
    ring = tuple((float(r * np.cos(t)), float(r * np.sin(t))) for r, t in zip(reach, turns, strict=True))
    areas = []
    for _area in range(int(rng.integers(0, 3))):
        x, y, r = rng.uniform(-15, 15), rng.uniform(-15, 15), rng.uniform(1.0, 4.0)
        areas.append(NoBuild(ring=((x - r, y), (x, y - r), (x + r, y + r / 2))))
    base = Design()
    facing, azimuth = float(rng.choice([180.0, 0.0, 150.0])), float(rng.uniform(0.0, 360.0))
    motion = dataclasses.replace(
        base.motion, stroke_m=float(rng.uniform(0.0, 1.5)), axis_up_m=float(rng.uniform(-0.2, 0.2)),
        axis_aside_m=float(rng.uniform(-0.2, 0.2)), arm_lean_deg=float(rng.uniform(-10.0, 10.0)),
    )  # fmt: skip
    design = dataclasses.replace(
        base,
        plot=Plot(boundary=ring, no_build=tuple(areas), setback_m=float(rng.choice([0.0, 0.5, 2.0]))),
        ground=Ground(
            slope_percent=float(rng.choice([0.0, 8.0])), falls_towards_deg=float(rng.uniform(0, 360))
        ),
        mirror=dataclasses.replace(base.mirror, tilt_deg=float(rng.uniform(10.0, 45.0)), facing_deg=facing),
        motion=motion,
        store=Store(x_m=float(rng.uniform(-40, 40)), y_m=float(rng.uniform(-40, 40))),
    )
    lanes = {"lane_every": 3, "lane_m": 2.5} if rng.random() < 0.4 else {}
    return design, {
        "azimuth_deg": azimuth, "pitch_m": float(rng.uniform(3.6, 5.0)), "longest": int(rng.integers(4, 30)), "least": 2, **lanes,
    }  # fmt: skip


@pytest.mark.parametrize("seed", range(FIELDS))
def test_the_study_finds_nothing_out_of_place_on_a_planted_field(seed: int) -> None:
    design, wishes = random_design(seed)
    design = planted(design, **wishes)
    found = conflicts(design)
    # a header whose store stands in a no-build area cannot go round it
    at_store = any(
        Polygon(area.ring).buffer(0.3).covers(Point(design.store.x_m, design.store.y_m))
        for area in design.plot.no_build
    )
    assert [one.kind for one in found if not (at_store and one.kind.startswith("header"))] == []
    store = Point(design.store.x_m, design.store.y_m).buffer(design.store.radius_m)
    assert not any(room_of(design, line).rectangle(line, design).intersects(store) for line in design.lines)


@pytest.mark.parametrize("seed", range(30, 42))
def test_the_room_of_a_line_is_what_the_study_takes_it_to_be(seed: int) -> None:
    design, wishes = random_design(seed)
    line = Line(
        id=1, x_m=3.0, y_m=-2.0, azimuth_deg=float(str(wishes["azimuth_deg"])), spacing_m=1.6, count=7
    )
    design = dataclasses.replace(design, lines=(line,))
    mine = room_of(design, line)
    there = room.on_plan(design, place_line(line, design.mirror, design.ground), Cache())
    assert there.drive is not None
    assert swept_m(design) == design.mirror.width_m / 2 + 2 * design.motion.stroke_m
    rectangle = mine.rectangle(line, design)
    assert DRIVE_M == room.DRIVE_M
    for part in (there.stand, there.swept, there.drive):
        assert rectangle.buffer(1e-9).covers(part)
    # and no side of it could be nearer by a centimetre, but for the clearance before and the place where a header joins
    everything = there.stand.union(there.swept).union(there.drive)
    for name in ("right_m", "left_m"):
        less = dataclasses.replace(mine, **{name: getattr(mine, name) - 0.01})
        assert not less.rectangle(line, design).covers(everything)


def test_planting_again_replaces_and_keeping_adds_with_numbers_that_go_on() -> None:
    first = planted(on(), longest=8, pitch_m=6.0)
    again = planted(first)
    assert again.lines[0].id == 1
    kept = planted(delete_lines(first, ids=[2, 3]).design, replace=False)
    old = [line for line in first.lines if line.id not in (2, 3)]
    assert list(kept.lines[: len(old)]) == old
    new = [line.id for line in kept.lines[len(old) :]]
    assert new == list(range(first.lines[-1].id + 1, first.lines[-1].id + 1 + len(new)))
    assert new
    assert conflicts(kept) == ()


def test_more_room_never_holds_fewer_mirrors() -> None:
    def mirrors(design: Design, **wishes: object) -> int:
        return sum(line.count for line in planted(design, **wishes).lines)

    free = on(dataclasses.replace(LAND, no_build=()))
    assert mirrors(free) > mirrors(on())
    assert mirrors(on(dataclasses.replace(LAND, setback_m=0.5))) > mirrors(on())
    assert mirrors(on(), lane_every=2, lane_m=3.0) < mirrors(on())
    assert mirrors(on(store=Store(x_m=20.0, y_m=25.0, radius_m=3.0))) < mirrors(on())


def test_offers_follow_the_edges_and_the_first_holds_most() -> None:
    found = offers(on(), pitch_m=3.2)
    assert [offer.mirrors for offer in found] == sorted((offer.mirrors for offer in found), reverse=True)
    east = next(offer for offer in found if offer.azimuth_deg == pytest.approx(92.489553))
    design = planted(on(), azimuth_deg=east.azimuth_deg)
    assert sum(line.count for line in design.lines) == east.mirrors


NARROW = Plot(boundary=((0.0, 0.0), (12.0, 0.0), (12.0, 5.0), (0.0, 5.0)), setback_m=0.5)


@pytest.mark.parametrize(
    ("plot", "wishes", "said"),
    [
        (Plot(), {}, "no plot to plant yet"),
        (dataclasses.replace(NARROW, setback_m=1.9), {}, "inside the setback of 1.90 m"),
        (dataclasses.replace(NARROW, boundary=((0.0, 0.0), (9.6, 0.0), (9.6, 5.0), (0.0, 5.0))), {"least": 1}, None),
        (NARROW, {"least": 6}, "the longest that fits has 4"),
        (dataclasses.replace(NARROW, setback_m=0.0, boundary=((0.0, 0.0), (6.0, 0.0), (6.0, 5.0), (0.0, 5.0))), {"least": 1}, "its stroke of 1.10 m"),
        (dataclasses.replace(NARROW, no_build=(NoBuild(ring=((5.0, 1.0), (7.0, 1.0), (7.0, 4.0), (5.0, 4.0))),)), {"least": 1}, "beside the no-build areas"),
        (Plot(boundary=((0.0, 0.0), (2.0, 0.0), (2.0, 1.0), (0.0, 1.0)), setback_m=0.0), {}, "one of 4 mirrors takes up"),
        (LAND, {"pitch_m": 0.8}, "A pitch of 0.80 m lets lines overlap"),
        (LAND, {"pitch_m": 0.0}, "A pitch of 0.00 m will not do"),
        (LAND, {"pitch_m": inf}, "A pitch of"),
        (LAND, {"spacing_m": 1.0}, "A spacing of 1.00 m leaves no room"),
        (LAND, {"azimuth_deg": inf}, "An azimuth of"),
        (LAND, {"azimuth_deg": 500.0}, "azimuth"),
        (LAND, {"longest": 0}, "Lines of 0 to 0 mirrors"),
        (LAND, {"longest": 3, "least": 5}, "Lines of 5 to 3 mirrors"),
        (LAND, {"lane_every": -2}, "neither may lie below 0"),
        (Plot(boundary=((0.0, 0.0), (900.0, 0.0), (900.0, 900.0), (0.0, 900.0))), {"longest": 10}, "a field has at most 1"),
        (Plot(boundary=((0.0, 0.0), (500.0, 0.0), (500.0, 400.0), (0.0, 400.0))), {}, "mirrors in all"),
    ],
)  # fmt: skip
def test_what_cannot_be_planted_is_told_in_one_sentence(
    plot: Plot, wishes: dict[str, object], said: str | None
) -> None:
    if said is None:
        assert planted(on(plot), **wishes).lines
        return
    with pytest.raises(BadInputError, match=said) as refused:
        planted(on(plot), **wishes)
    assert "\n" not in str(refused.value)


def test_beside_kept_lines_there_may_be_no_room() -> None:
    full = planted(on(NARROW), least=1)
    with pytest.raises(BadInputError, match="beside the lines there are"):
        planted(full, replace=False, least=1)


def test_lines_along_their_mirrors_axis_are_refused() -> None:
    steep = on(mirror=dataclasses.replace(MIRROR, tilt_deg=85.0), slope_percent=9.0)
    with pytest.raises(BadInputError, match="roll"):
        planted(steep, azimuth_deg=180.0)


def test_the_gate_lets_a_planted_field_through() -> None:
    edit = plant_lines(on(), azimuth_deg=271.0, pitch_m=3.2, longest=20, lane_every=4, lane_m=3.0)
    assert isinstance(admit(on(), edit), Edit)
    x, y = square(271.0)
    offsets = sorted(
        {round(first_vertex(line)[0] * x + first_vertex(line)[1] * y, 6) for line in edit.design.lines}
    )
    steps = np.diff(offsets)
    assert set(np.round(steps, 5).tolist()) <= {3.2, 6.2}
    assert 6.2 in np.round(steps, 5).tolist()
    assert all(LEAST <= line.count <= 20 for line in edit.design.lines)


def test_lines_keep_clear_of_what_stands_on_the_plot() -> None:
    shed = Block(name="shed", ring=((8.0, 8.0), (13.0, 8.5), (12.5, 12.0), (8.0, 12.0)), height_m=3.0)
    standing = (
        shed,
        Tree(name="fig", place=(30.0, 24.0), crown_radius_m=2.5, crown_base_m=1.5, height_m=5.0),
        Pole(name="mast", place=(34.0, 8.0)),
        Fence(name="wire", path=((4.0, 28.0), (20.0, 29.0)), height_m=1.5),
    )
    bare = planted(on())
    assert any("obstacle" in one.kind for one in conflicts(dataclasses.replace(bare, obstacles=standing)))
    beside = planted(dataclasses.replace(on(), obstacles=standing))
    # headers find their own way; what was planted meets nothing
    assert not [one for one in conflicts(beside) if "obstacle" in one.kind and "header" not in one.kind]
    assert 0.7 < sum(line.count for line in beside.lines) / sum(line.count for line in bare.lines) < 1.0
    wide = Block(name="hall", ring=LAND.boundary, height_m=6.0)
    with pytest.raises(BadInputError, match="No line fits beside the obstacles"):
        planted(dataclasses.replace(on(), obstacles=(wide,)))
