"""What Delete and the arrow keys make of what is selected."""

from studio.design.design import Design
from studio.design.obstacles import corners_of
from studio.desk.plan.tools.under import Handle
from studio.desk.state import Subject
from studio.edits import lines as line_edits
from studio.edits import obstacles as obstacle_edits
from studio.edits import plot as plot_edits
from studio.edits.edit import Edit
from studio.edits.header import clear_header, move_store
from studio.edits.underlay import clear_underlay, move_underlay


def _lines(selection: frozenset[Subject]) -> list[int]:
    return sorted(int(subject.key) for subject in selection if subject.kind == "line")


def removal(design: Design, selection: frozenset[Subject], held: Handle | None) -> Edit | None:
    """The held corner taken away, else what is selected; None when that is nothing. Raises BadInputError."""
    if held is not None and held.kind == "corner":
        if held.obstacle is not None:
            return obstacle_edits.delete_obstacle_corner(design, obstacle=held.obstacle, corner=held.corner)
        return plot_edits.delete_corner(design, corner=held.corner, area=held.area)
    if ids := _lines(selection):
        return line_edits.delete_lines(design, ids=ids)
    for subject in selection:
        if subject.kind == "no_build":
            return plot_edits.delete_no_build(design, area=int(subject.key))
        if subject.kind == "obstacle":
            return obstacle_edits.delete_obstacle(design, obstacle=int(subject.key))
        if subject.kind == "boundary":
            return plot_edits.clear_boundary(design)
        if subject.kind == "picture":
            return clear_underlay(design)
        if subject.kind == "header":
            return clear_header(design, side="hot" if subject.key == "hot" else "cold")
    return None


def nudged(
    design: Design, selection: frozenset[Subject], held: Handle | None, dx: float, dy: float
) -> Edit | None:
    """The held corner moved, else what is selected; None when that is nothing that can be moved."""
    if held is not None and held.kind == "corner" and held.obstacle is not None:
        one = design.obstacles[held.obstacle]
        if corners := corners_of(one):
            x, y = corners[held.corner]
            return obstacle_edits.move_obstacle_corner(
                design, obstacle=held.obstacle, corner=held.corner, x_m=x + dx, y_m=y + dy
            )
    if held is not None and held.kind == "corner":
        ring = design.plot.boundary if held.area is None else design.plot.no_build[held.area].ring
        x, y = ring[held.corner]
        return plot_edits.move_corner(design, corner=held.corner, x_m=x + dx, y_m=y + dy, area=held.area)
    if ids := _lines(selection):
        return line_edits.move_lines(design, ids=ids, dx_m=dx, dy_m=dy)
    for subject in selection:
        if subject.kind == "store":
            x, y = design.store.x_m + dx, design.store.y_m + dy
            return move_store(design, x_m=round(x, 6), y_m=round(y, 6))
        if subject.kind == "no_build":
            return plot_edits.move_no_build(design, area=int(subject.key), dx_m=dx, dy_m=dy)
        if subject.kind == "picture":
            return move_underlay(design, dx_m=dx, dy_m=dy)
        if subject.kind == "obstacle":
            return obstacle_edits.move_obstacle(design, obstacle=int(subject.key), dx_m=dx, dy_m=dy)
        if subject.kind == "boundary":
            return plot_edits.move_boundary(design, dx_m=dx, dy_m=dy)
    return None
