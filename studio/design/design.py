"""The design: all that the person decided, in one immutable tree."""

import dataclasses
from dataclasses import dataclass, field
from functools import cached_property
from typing import Annotated, ClassVar

from studio.design.field import Header, Line, Oil, Pipe, Store
from studio.design.fields import Text, document, mark
from studio.design.mirror import Mirror
from studio.design.money import Marks, Materials, Money, Prices
from studio.design.motion import Motion
from studio.design.obstacles import Horizon, Obstacle
from studio.design.receiver import Receiver
from studio.design.site import Ground, Plot, Site, Underlay


@document
class Shelved:
    """A mirror kept beside the one that the field is built of, with its receiver and its slide and roll."""

    TITLE: ClassVar[str] = mark("Shelf")

    label: Annotated[str, Text(mark("called"), "", mark("Its name on the shelf"), longest=60)] = ""
    mirror: Mirror = Mirror()
    receiver: Receiver = Receiver()
    motion: Motion = Motion()


@document
class Design:
    """One field on one plot. Lines are in the order they were placed; their ids are their names."""

    TITLE: ClassVar[str] = mark("Design")

    site: Site = Site()
    plot: Plot = Plot()
    ground: Ground = Ground()
    underlay: Underlay = Underlay()
    obstacles: tuple[Obstacle, ...] = ()
    horizon: Horizon = Horizon()
    mirror: Mirror = Mirror()
    receiver: Receiver = Receiver()
    motion: Motion = Motion()
    pipe: Pipe = Pipe()
    lines: tuple[Line, ...] = ()
    header: Header = Header()
    store: Store = Store()
    oil: Oil = Oil()
    materials: Materials = Materials()
    prices: Prices = Prices()
    money: Money = Money()
    marks: Marks = Marks()
    shelf: tuple[Shelved, ...] = ()
    note: Annotated[
        str, Text(mark("note"), "", mark("What is invented, doubtful or still open"), longest=2000)
    ] = ""

    def line(self, line_id: int) -> Line:
        """The line with this id; KeyError when there is none."""
        return self._lines_by_id[line_id]

    @cached_property
    def _lines_by_id(self) -> dict[int, Line]:
        return {line.id: line for line in reversed(self.lines)}


SECTIONS: tuple[str, ...] = tuple(
    f.name for f in dataclasses.fields(Design) if f.name not in ("obstacles", "lines", "shelf", "note")
)
"""The parts of a design that are one frozen class each."""


@dataclass(frozen=True)
class Kept:
    """A design remembered for comparison, with what it was called and when."""

    design: Design
    label: str = ""
    date: str = ""


@dataclass(frozen=True)
class Document:
    """What one site file holds: the design, what was kept, drafts, and assets by their sha256."""

    design: Design = field(default_factory=Design)
    kept: Kept | None = None
    drafts: tuple[Kept, ...] = ()
    assets: tuple[tuple[str, bytes], ...] = field(default=(), repr=False)

    def asset(self, fingerprint: str) -> bytes | None:
        """The asset with this sha256, or None."""
        return dict(self.assets).get(fingerprint)
