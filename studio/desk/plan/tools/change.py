"""What Delete and the arrow keys make of what is selected."""

from collections.abc import Iterable

from studio.design.design import Design
from studio.desk.state import Subject
from studio.edits import lines as line_edits
from studio.edits import obstacles as obstacle_edits
from studio.edits import plot as plot_edits
from studio.edits.edit import Edit
from studio.edits.header import clear_header, move_store
from studio.edits.together import Things, delete_things, move_things
from studio.edits.underlay import clear_underlay, move_underlay


def things_of(selection: Iterable[Subject]) -> Things:
    """What of a selection can be carried: all but the header and the site."""

    def keys(kind: str) -> tuple[int, ...]:
        return tuple(sorted(int(subject.key) for subject in chosen if subject.kind == kind))

    chosen = frozenset(selection)
    return Things(
        keys("line"),
        keys("no_build"),
        keys("obstacle"),
        Subject("boundary") in chosen,
        Subject("store") in chosen,
    )


def subjects_of(things: Things) -> frozenset[Subject]:
    """Things as they are selected."""
    found = [Subject("line", line_id) for line_id in things.lines]
    found += [Subject("no_build", place) for place in things.no_build]
    found += [Subject("obstacle", place) for place in things.obstacles]
    found += [Subject("boundary")] * things.boundary + [Subject("store")] * things.store
    return frozenset(found)


def removal(design: Design, selection: frozenset[Subject]) -> Edit | None:
    """What is selected taken away; None when that is nothing. Raises BadInputError."""
    things = things_of(selection)
    many = len(things) - things.store
    if many > len(things.lines) and many > 1:
        return delete_things(design, things=things)
    if things.lines:
        return line_edits.delete_lines(design, ids=things.lines)
    if things.no_build:
        return plot_edits.delete_no_build(design, area=things.no_build[0])
    if things.obstacles:
        return obstacle_edits.delete_obstacle(design, obstacle=things.obstacles[0])
    if things.boundary:
        return plot_edits.clear_boundary(design)
    for subject in selection:
        if subject.kind == "picture":
            return clear_underlay(design)
        if subject.kind == "header":
            return clear_header(design, side="hot" if subject.key == "hot" else "cold")
    return None


def moved_things(design: Design, things: Things, dx: float, dy: float) -> Edit | None:
    """Things moved as one; None when that is nothing."""
    if not len(things):
        return None
    if len(things) == len(things.lines):
        return line_edits.move_lines(design, ids=things.lines, dx_m=dx, dy_m=dy)
    if len(things) > 1:
        return move_things(design, things=things, dx_m=dx, dy_m=dy)
    if things.store:
        x, y = design.store.x_m + dx, design.store.y_m + dy
        return move_store(design, x_m=round(x, 6), y_m=round(y, 6))
    if things.no_build:
        return plot_edits.move_no_build(design, area=things.no_build[0], dx_m=dx, dy_m=dy)
    if things.obstacles:
        return obstacle_edits.move_obstacle(design, obstacle=things.obstacles[0], dx_m=dx, dy_m=dy)
    return plot_edits.move_boundary(design, dx_m=dx, dy_m=dy)


def nudged(design: Design, selection: frozenset[Subject], dx: float, dy: float) -> Edit | None:
    """What is selected moved by arrow keys; None when that is nothing that can be moved."""
    if selection == {Subject("picture")}:
        return move_underlay(design, dx_m=dx, dy_m=dy)
    return moved_things(design, things_of(selection), dx, dy)
