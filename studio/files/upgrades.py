"""Old site files made new: one step from each version to the next, on the plain tree of the whole file.

A step writes what a new field was before it was there, so that an old site's figures stay what they were.
"""

from collections.abc import Callable, Mapping
from typing import Any

Tree = dict[str, Any]


def _each_design(tree: Tree, change: Callable[[Tree], Tree]) -> Tree:
    """The tree with its design, what was kept and its drafts changed; what is no design stays for validation to refuse."""

    def within(one: Any) -> Any:
        if isinstance(one, dict) and isinstance(one.get("design"), dict):
            return {**one, "design": change(one["design"])}
        return one

    new = within(tree)
    new["kept"] = within(tree.get("kept"))
    if isinstance(tree.get("drafts"), list):
        new["drafts"] = [within(draft) for draft in tree["drafts"]]
    return dict(new)


_ADDED_IN_2: Mapping[str, Mapping[str, Any]] = {
    # strips were reckoned straight from rib to rib, without the film's saddle
    "mirror": {
        "focal_across_m": None, "rib_places_m": [], "pull_along_n_m": 0.0, "pull_across_n_m": 160.0, "film_um": 50.0,
        "wind_on_film_m_s": 0.0, "rib_yield_mpa": 235.0, "rib_holds": 3,
    },
    # receivers met their spots whatever the pipe's temperature, and all alike
    "motion": {
        "axis_aside_m": 0.0, "arm_lean_deg": 0.0, "window_turn_deg": 0.0, "anchor_share": 0.0, "spaced_for": "hot",
        "aim_slide_mm": 0.0, "aim_roll_deg": 0.0, "friction": 0.05, "balance_share": 1.0, "receiver_kg": 6.0,
    },
}  # fmt: skip


def _to_2(tree: Tree) -> Tree:
    def change(design: Tree) -> Tree:
        new = dict(design)
        for section, fields in _ADDED_IN_2.items():
            if isinstance(design.get(section), dict):
                new[section] = {**fields, **design[section]}
        return {**new, "shelf": []}

    return _each_design(tree, change)


def _to_3(tree: Tree) -> Tree:
    def change(design: Tree) -> Tree:
        new = {**design, "obstacles": [], "horizon": {"skyline": []}}
        if isinstance(design.get("marks"), dict):
            new["marks"] = {"obstacle_limit": 0.05, **design["marks"]}
        return new

    return _each_design(tree, change)


_NO_UNDERLAY: Mapping[str, Any] = {
    "asset": "", "x_m": 0.0, "y_m": 0.0, "m_per_pixel": 0.1, "turned_deg": 0.0, "strength": 0.6, "origin": "",
}  # fmt: skip
_MARKS_ADDED_IN_4: Mapping[str, Any] = {
    "ground_limit_percent": 25.0, "post_limit_m": 2.5, "snow_m": 0.0, "flood_level_m": None,
}  # fmt: skip


def _to_4(tree: Tree) -> Tree:
    def change(design: Tree) -> Tree:
        new = {**design, "underlay": _NO_UNDERLAY, "last_line": 0}
        if isinstance(design.get("ground"), dict):
            new["ground"] = {"heights": None, **design["ground"]}
        if isinstance(design.get("marks"), dict):
            new["marks"] = {**_MARKS_ADDED_IN_4, **design["marks"]}
        if isinstance(design.get("lines"), list):
            new["lines"] = [
                {"left_out": [], **line} if isinstance(line, dict) else line for line in design["lines"]
            ]
        return new

    return _each_design(tree, change)


UPGRADES: Mapping[int, Callable[[Tree], Tree]] = {1: _to_2, 2: _to_3, 3: _to_4}
