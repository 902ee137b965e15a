"""Things copied from one design to another: lines, no-build areas and obstacles as JSON, and as a table for people.

What comes in passes the same validation as a site file: each field within its bounds, nothing unknown, sizes limited.
"""

import json
from dataclasses import dataclass
from typing import Any

from studio.design.design import Design
from studio.design.field import Line
from studio.design.obstacles import AnyObstacle, Block, Fence, corners_of
from studio.design.site import NoBuild, Plot
from studio.design.validate import design_from_tree, tree_of
from studio.edits.geometry import last_vertex
from studio.edits.together import Things
from studio.errors import BadInputError, StillfieldError
from studio.files.raw_json import Limits, parse
from studio.text import _

MIME = "application/x-stillfield-things+json"
_MARK, _VERSION = "stillfield_things", 1
_PARTS = ("lines", "no_build", "obstacles")
LARGEST_BYTES = 8_000_000
_MOST_VALUES = 400_000


@dataclass(frozen=True)
class Copied:
    """Things that were copied, where they stood."""

    lines: tuple[Line, ...] = ()
    no_build: tuple[NoBuild, ...] = ()
    obstacles: tuple[AnyObstacle, ...] = ()

    def __len__(self) -> int:
        return len(self.lines) + len(self.no_build) + len(self.obstacles)


def copied_of(design: Design, things: Things) -> Copied:
    """What of things can be copied: all but boundary and store, of which there is one."""
    return Copied(
        tuple(line for line in design.lines if line.id in things.lines),
        tuple(design.plot.no_build[place] for place in things.no_build),
        tuple(design.obstacles[place] for place in things.obstacles),
    )


def clip_bytes(copied: Copied) -> bytes:
    """Copied things as JSON."""
    tree = tree_of(
        Design(lines=copied.lines, plot=Plot(no_build=copied.no_build), obstacles=copied.obstacles)
    )
    parts = {"lines": tree["lines"], "no_build": tree["plot"]["no_build"], "obstacles": tree["obstacles"]}
    return json.dumps({_MARK: _VERSION, **parts}).encode()


def read_clip(data: bytes) -> Copied:
    """Copied things out of JSON. BadInputError in one sentence where they are not whole and within bounds."""
    try:
        tree = parse(data, limits=Limits(_("a copy"), LARGEST_BYTES, _MOST_VALUES))
        return _read(tree)
    except StillfieldError as error:
        raise BadInputError(_("Nothing was pasted: {why}").format(why=error)) from None


def _read(tree: Any) -> Copied:
    if not isinstance(tree, dict) or tree.get(_MARK) != _VERSION or not set(tree) <= {_MARK, *_PARTS}:
        raise BadInputError(_("The clipboard holds no copy that this version of Stillfield made."))
    design, faults = design_from_tree(
        {
            "lines": tree.get("lines", []),
            "obstacles": tree.get("obstacles", []),
            "plot": {"no_build": tree.get("no_build", [])},
        }
    )
    if design is None:
        fault = faults[0]
        raise BadInputError(
            _("{name}: {found} will not do; {wanted}.").format(
                name=fault.name, found=fault.found, wanted=fault.wanted
            )
        )
    copied = Copied(design.lines, design.plot.no_build, design.obstacles)
    if not len(copied):
        raise BadInputError(_("The copy is empty; copy lines, areas or obstacles first."))
    rings = [area.ring for area in copied.no_build]
    rings += [one.ring for one in copied.obstacles if isinstance(one, Block)]
    if any(len(ring) < 3 for ring in rings):
        raise BadInputError(_("An area in the copy has fewer than three corners."))
    if any(len(one.path) < 2 for one in copied.obstacles if isinstance(one, Fence)):
        raise BadInputError(_("A fence in the copy has fewer than two corners."))
    return copied


def clip_text(design: Design, copied: Copied) -> str:
    """Copied things as a table of tabs with decimal points, a row a corner, for a spreadsheet."""
    rows = [_("what\tname\tcorner\tx m\ty m")]

    def row(what: str, name: str, corner: object, x: float, y: float) -> None:
        clean = " ".join(name.split())
        clean = "'" + clean if clean[:1] in ("=", "+", "-", "@") else clean  # a name is no formula
        rows.append(f"{what}\t{clean}\t{corner}\t{x:.4f}\t{y:.4f}")

    for line in copied.lines:
        name = _("Line {number}").format(number=line.id)
        row(_("line"), name, 1, line.x_m, line.y_m)
        row(_("line"), name, line.count, *last_vertex(line, design.ground))
    for area in copied.no_build:
        for corner, (x, y) in enumerate(area.ring, 1):
            row(_("no-build area"), area.name, corner, x, y)
    for one in copied.obstacles:
        ring = corners_of(one) if isinstance(one, Block | Fence) else (one.place,)
        for corner, (x, y) in enumerate(ring, 1):
            row(_("obstacle"), one.name, corner, x, y)
    return "\n".join(rows) + "\n"
