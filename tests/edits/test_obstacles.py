"""Edits of obstacles and of the skyline: what they make, what undo calls them, what the gate refuses."""

from typing import Any

import pytest

from studio.design.design import Design
from studio.design.obstacles import Block, Fence, Pole, Tree
from studio.edits.edit import admit
from studio.edits.fields import set_field
from studio.edits.obstacles import set_skyline, skyline_text, type_skyline
from studio.edits.registry import apply_edit
from studio.errors import BadInputError

RING = ((0.0, 0.0), (4.0, 0.0), (4.0, 3.0), (0.0, 3.0))
DESIGN = Design(
    obstacles=(Block(name="shed", ring=RING), Tree(name="fig", place=(9.0, 1.0)), Pole(place=(1.0, 8.0)))
)


def test_a_ring_that_is_closed_is_opened_and_named() -> None:
    edit = apply_edit(Design(), "add_block", {"corners": [*RING, RING[0]], "height_m": 2})
    assert edit.design.obstacles == (Block(name="shed", ring=RING, height_m=2.0),)
    assert edit.label == "Draw shed"


def test_trees_and_poles_stand_where_they_are_put() -> None:
    tree = apply_edit(Design(), "add_tree", {"x_m": 3, "y_m": 4.5}).design.obstacles[0]
    pole = apply_edit(Design(), "add_pole", {"x_m": 3, "y_m": 4.5, "name": "mast"}).design.obstacles[0]
    assert (tree, pole) == (Tree(place=(3.0, 4.5)), Pole(name="mast", place=(3.0, 4.5)))


@pytest.mark.parametrize("place", [0, 1, 2])
def test_moving_and_removing_touch_that_one_only(place: int) -> None:
    moved = apply_edit(DESIGN, "move_obstacle", {"obstacle": place, "dx_m": 1.5, "dy_m": -2.0})
    one, before = moved.design.obstacles[place], DESIGN.obstacles[place]
    if isinstance(one, Block):
        assert one.ring[2] == (5.5, 1.0)
    else:
        assert isinstance(one, Tree | Pole)
        assert isinstance(before, Tree | Pole)
        assert one.place == pytest.approx((before.place[0] + 1.5, before.place[1] - 2.0))
    gone = apply_edit(DESIGN, "delete_obstacle", {"obstacle": place})
    rest = [other for other in range(3) if other != place]
    assert [moved.design.obstacles[other] for other in rest] == [DESIGN.obstacles[other] for other in rest]
    assert list(gone.design.obstacles) == [DESIGN.obstacles[other] for other in rest]
    assert gone.label == f"Remove {before.name}"


def test_corners_of_a_shed() -> None:
    def ring(key: str, **arguments: Any) -> tuple[tuple[float, float], ...]:
        shed = apply_edit(DESIGN, key, {"obstacle": 0, **arguments}).design.obstacles[0]
        assert isinstance(shed, Block)
        return shed.ring

    assert ring("move_obstacle_corner", corner=2, x_m=5.0, y_m=5.0) == (*RING[:2], (5.0, 5.0), RING[3])
    assert ring("insert_obstacle_corner", after=3, x_m=-1.0, y_m=1.0) == (*RING, (-1.0, 1.0))
    assert ring("delete_obstacle_corner", corner=0) == RING[1:]


@pytest.mark.parametrize(
    ("key", "arguments", "said"),
    [
        ("move_obstacle", {"obstacle": 3, "dx_m": 1.0, "dy_m": 0.0}, "no obstacle 4; there are 3"),
        ("delete_obstacle", {"obstacle": -1}, "no obstacle 0"),
        ("move_obstacle_corner", {"obstacle": 1, "corner": 0, "x_m": 0.0, "y_m": 0.0}, "fig has no corners"),
        ("move_obstacle_corner", {"obstacle": 0, "corner": 4, "x_m": 0.0, "y_m": 0.0}, "shed has 4"),
        ("move_obstacle_corner", {"obstacle": 0, "corner": 0, "x_m": 6.0, "y_m": 2.0}, "cross"),
        ("add_block", {"corners": [(0.0, 0.0), (1.0, 0.0)]}, "three corners"),
        ("add_block", {"corners": RING, "height_m": 0.0}, "0.05"),
        ("set_skyline", {"points": [(90.0, 4.0), (450.0, 5.0)]}, "rise"),
        ("set_skyline", {"points": [(90.0, 89.0)]}, "85"),
    ],
)
def test_what_will_not_do_is_refused_in_a_sentence(key: str, arguments: dict[str, Any], said: str) -> None:
    with pytest.raises(BadInputError) as error:
        apply_edit(DESIGN, key, arguments)
    assert said in str(error.value)


def test_the_last_three_corners_stay() -> None:
    triangle = Design(obstacles=(Block(name="wall", ring=RING[:3]),))
    with pytest.raises(BadInputError, match="keeps 3 corners"):
        apply_edit(triangle, "delete_obstacle_corner", {"obstacle": 0, "corner": 1})


def test_fields_of_an_obstacle_are_set_by_their_path() -> None:
    taller = admit(DESIGN, set_field(DESIGN, path="obstacles.1.height_m", value="12 ft")).design.obstacles[0]
    assert taller.height_m == pytest.approx(3.6576)
    place = admit(DESIGN, set_field(DESIGN, path="obstacles.2.place.1", value="7,5")).design.obstacles[1]
    assert place == Tree(name="fig", place=(7.5, 1.0))
    with pytest.raises(BadInputError, match="crown"):
        admit(DESIGN, set_field(DESIGN, path="obstacles.2.crown_base_m", value="8"))


def test_a_skyline_is_sorted_and_brought_into_one_turn() -> None:
    edit = set_skyline(Design(), points=[(200, 3), (-90, 5), (360, 1)])
    assert edit.design.horizon.skyline == ((0.0, 1.0), (200.0, 3.0), (270.0, 5.0))
    assert set_skyline(edit.design, points=[]).label == "Level the skyline"


def test_what_is_typed_comes_back_as_it_is_shown() -> None:
    design = type_skyline(Design(), text=" 120 8;90 4,5; 10 -1 ;").design
    assert skyline_text(design) == "10 \u22121; 90 4.5; 120 8"
    assert type_skyline(design, text=skyline_text(design)).design == design
    with pytest.raises(BadInputError, match="no azimuth and elevation"):
        type_skyline(design, text="90 4 5")


def test_a_fence_is_drawn_moved_and_bent_and_keeps_two_corners() -> None:
    drawn = apply_edit(Design(), "add_fence", {"corners": [[0, 0], [10, 0]]})
    assert drawn.label == "Draw fence"
    bent = apply_edit(drawn.design, "insert_obstacle_corner", {"obstacle": 0, "after": 0, "x_m": 5, "y_m": 2})
    moved = apply_edit(bent.design, "move_obstacle", {"obstacle": 0, "dx_m": 1.0, "dy_m": -1.0})
    fence = moved.design.obstacles[0]
    assert isinstance(fence, Fence)
    assert fence.path == ((1.0, -1.0), (6.0, 1.0), (11.0, -1.0))
    straight = apply_edit(moved.design, "delete_obstacle_corner", {"obstacle": 0, "corner": 1})
    with pytest.raises(BadInputError, match="keeps 2 corners"):
        apply_edit(straight.design, "delete_obstacle_corner", {"obstacle": 0, "corner": 0})
    with pytest.raises(BadInputError, match="two corners or more"):
        apply_edit(Design(), "add_fence", {"corners": [[3, 3], [3, 3]]})
