"""Several things moved, turned and mirrored as one: against shapely's affinity and closed forms."""

import numpy as np
import pytest
import shapely
from shapely import affinity

from studio.design.design import Design
from studio.design.field import Line
from studio.design.obstacles import Block, Fence, Pole, Tree, corners_of
from studio.design.site import Ground, NoBuild, Plot
from studio.edits.arrange import set_pitches
from studio.edits.edit import admit
from studio.edits.geometry import last_vertex, middle, offset
from studio.edits.header import delete_route_corner, insert_route_corner, move_route_corner, set_header_route
from studio.edits.together import (
    Things,
    add_things,
    delete_things,
    middle_of,
    mirror_things,
    move_things,
    name_of,
    turn_things,
)
from studio.errors import BadInputError

RING = ((2.0, 20.0), (9.0, 21.0), (8.0, 26.0))
SHED = ((20.0, 20.0), (26.0, 20.0), (26.0, 24.0), (20.0, 24.0))
DESIGN = Design(
    ground=Ground(slope_percent=9.0, falls_towards_deg=200.0),
    plot=Plot(
        boundary=((-9.0, -9.0), (60.0, -9.0), (60.0, 60.0), (-9.0, 60.0)),
        no_build=(NoBuild(name="well", ring=RING),),
    ),
    obstacles=(
        Block(name="shed", ring=SHED),
        Tree(place=(33.0, 30.0)),
        Pole(place=(1.0, 33.0)),
        Fence(path=((-3.0, 30.0), (4.0, 38.0), (9.0, 38.0))),
    ),
    lines=(Line(id=1, x_m=0.0, y_m=0.0, count=12), Line(id=2, x_m=1.0, y_m=3.5, azimuth_deg=84.0, count=9)),
)
ALL = Things((1, 2), (0,), (0, 1, 2, 3))


def corners(design: Design) -> np.ndarray:
    """Everything that stands, point by point: line ends, area, obstacles."""
    points = [p for line in design.lines for p in ((line.x_m, line.y_m), last_vertex(line, design.ground))]
    points += design.plot.no_build[0].ring
    for one in design.obstacles:
        points += corners_of(one) if isinstance(one, Block | Fence) else (one.place,)
    return np.array(points)


def rest(design: Design) -> np.ndarray:
    return corners(design)[4:]


def middles(design: Design) -> np.ndarray:
    return np.array([middle(line, design.ground) for line in design.lines])


def test_moving_moves_everything_by_the_same() -> None:
    edit = admit(DESIGN, move_things(DESIGN, things=ALL, dx_m=1.25, dy_m=-0.5))
    assert corners(edit.design) - corners(DESIGN) == pytest.approx(np.tile([1.25, -0.5], (16, 1)))
    assert edit.label == "Move 7 things by 1.35 m"


@pytest.mark.parametrize("angle", [0.0, 12.5, 90.0, -133.0])
def test_turning_is_shapelys_rotation(angle: float) -> None:
    centre = middle_of(DESIGN, ALL)
    edit = turn_things(DESIGN, things=ALL, angle_deg=angle)
    # ours runs clockwise from north, shapely's the other way round
    for part in (rest, middles):
        wanted = affinity.rotate(shapely.MultiPoint(part(DESIGN)), -angle, origin=centre)
        assert part(edit.design) == pytest.approx(shapely.get_coordinates(wanted), abs=1e-6)
    turns = [
        new.azimuth_deg - old.azimuth_deg for new, old in zip(edit.design.lines, DESIGN.lines, strict=True)
    ]
    assert np.mod(np.array(turns) - angle + 180, 360) == pytest.approx([180.0, 180.0])


def test_turning_there_and_back_leaves_everything_where_it_was() -> None:
    there = turn_things(DESIGN, things=ALL, angle_deg=37.0, about=(3.0, 4.0)).design
    back = turn_things(there, things=ALL, angle_deg=-37.0, about=(3.0, 4.0)).design
    assert corners(back) == pytest.approx(corners(DESIGN), abs=1e-7)


@pytest.mark.parametrize("azimuth", [0.0, 90.0, 45.0, 17.0])
def test_mirroring_is_the_matrix_of_reflection_and_its_own_inverse(azimuth: float) -> None:
    x0, y0 = centre = (5.0, 6.0)
    turn = np.radians(2 * azimuth)
    # (x, y) -> (-x cos 2a + y sin 2a, x sin 2a + y cos 2a): I - 2 n n' for an axis of azimuth a, as in any linear algebra
    c, s = np.cos(turn), np.sin(turn)
    matrix = [-c, s, s, c, x0 + c * x0 - s * y0, y0 - s * x0 - c * y0]
    edit = mirror_things(DESIGN, things=ALL, azimuth_deg=azimuth, about=centre)
    wanted = shapely.get_coordinates(affinity.affine_transform(shapely.MultiPoint(middles(DESIGN)), matrix))
    assert middles(edit.design) == pytest.approx(wanted, abs=1e-6)
    mirrored = affinity.affine_transform(shapely.Polygon(RING), matrix)
    own = shapely.Polygon(edit.design.plot.no_build[0].ring)
    assert own.symmetric_difference(mirrored).area < 1e-6
    assert own.exterior.is_ccw == shapely.Polygon(RING).exterior.is_ccw, "rings keep their sense of rotation"
    again = mirror_things(edit.design, things=ALL, azimuth_deg=azimuth, about=centre).design
    assert corners(again) == pytest.approx(corners(DESIGN), abs=1e-6)
    assert edit.design.lines[0].azimuth_deg == pytest.approx((2 * azimuth - 90.0) % 360.0)


def test_the_middle_of_an_area_is_shapelys_centroid() -> None:
    centre = shapely.Polygon(RING).centroid
    assert middle_of(DESIGN, Things(no_build=(0,))) == pytest.approx((centre.x, centre.y))
    assert middle_of(DESIGN, Things(obstacles=(1,))) == (33.0, 30.0)


def test_store_and_boundary_go_along() -> None:
    things = Things(boundary=True, store=True)
    new = move_things(DESIGN, things=things, dx_m=1.0, dy_m=2.0).design
    assert (new.store.x_m, new.store.y_m) == (DESIGN.store.x_m + 1, DESIGN.store.y_m + 2)
    assert new.plot.boundary[0] == (-8.0, -7.0)
    assert new.lines == DESIGN.lines


def test_copies_get_the_next_numbers_and_nothing_else_changes() -> None:
    edit = admit(
        DESIGN,
        add_things(
            DESIGN,
            lines=DESIGN.lines,
            no_build=DESIGN.plot.no_build,
            obstacles=DESIGN.obstacles[:1],
            dy_m=8.0,
        ),
    )
    new = edit.design
    assert [line.id for line in new.lines] == [1, 2, 3, 4]
    assert (new.lines[3].x_m, new.lines[3].y_m) == (1.0, 11.5)
    assert new.plot.no_build[1].ring[0] == (2.0, 28.0)
    assert new.obstacles[4].name == "shed"
    assert edit.label == "Paste 4 things"


def test_removing_takes_each_kind_and_names_what_it_takes() -> None:
    edit = delete_things(DESIGN, things=Things((2,), (0,), (0, 2)))
    assert [line.id for line in edit.design.lines] == [1]
    assert edit.design.plot.no_build == ()
    assert [one.kind for one in edit.design.obstacles] == ["tree", "fence"]
    assert edit.label == "Remove 4 things"
    assert name_of(DESIGN, Things(obstacles=(0,))) == "shed"
    assert name_of(DESIGN, Things(lines=(1, 2))) == "Lines 1 and 2"


@pytest.mark.parametrize(
    ("things", "said"),
    [(Things(), "Nothing is selected"), (Things(no_build=(4,)), "no no-build area 5"), (Things(lines=(9,)), "9"),
     (Things(obstacles=(7,)), "no obstacle 8")],
)  # fmt: skip
def test_what_is_not_there_is_told(things: Things, said: str) -> None:
    with pytest.raises(BadInputError, match=said):
        turn_things(DESIGN, things=things, angle_deg=1.0)


def test_a_pitch_is_set_from_line_to_line_and_the_front_one_stays() -> None:
    lines = tuple(Line(id=n + 1, x_m=0.3 * n, y_m=y, count=10) for n, y in enumerate((0.0, 2.0, 7.5, 7.5)))
    design = Design(lines=(*lines[:3], Line(id=4, x_m=20.0, y_m=7.5, count=5)))
    edit = set_pitches(design, ids=[1, 2, 3, 4], pitch_m=4.0)
    new = edit.design.lines
    assert [abs(offset(new[0], line, edit.design.ground)) for line in new] == pytest.approx(
        [0.0, 4.0, 8.0, 8.0]
    )
    assert [line.x_m for line in new] == pytest.approx([0.0, 0.3, 0.6, 20.0]), "moved square to themselves"
    assert edit.label == "Set the pitch of 4 lines to 4.00 m"
    with pytest.raises(BadInputError, match="more than 0"):
        set_pitches(design, ids=[1, 2], pitch_m=0.0)
    with pytest.raises(BadInputError, match="select more"):
        set_pitches(design, ids=[1], pitch_m=3.0)


def test_corners_of_a_drawn_route() -> None:
    design = set_header_route(DESIGN, side="hot", points=[(0.0, 0.0), (5.0, 0.0)]).design
    design = insert_route_corner(design, side="hot", after=0, x_m=2.0, y_m=1.0).design
    assert design.header.hot == ((0.0, 0.0), (2.0, 1.0), (5.0, 0.0))
    design = move_route_corner(design, side="hot", corner=1, x_m=2.0, y_m=3.0).design
    assert design.header.hot[1] == (2.0, 3.0)
    design = delete_route_corner(design, side="hot", corner=1).design
    assert design.header.hot == ((0.0, 0.0), (5.0, 0.0))
    with pytest.raises(BadInputError, match="keeps two corners"):
        delete_route_corner(design, side="hot", corner=0)
    with pytest.raises(BadInputError, match="no corner 6"):
        move_route_corner(design, side="hot", corner=5, x_m=0.0, y_m=0.0)
