"""Which shadows of which lines may meet the apertures of a target, sun by sun: ranges of members of even series."""

from dataclasses import dataclass, replace

import numpy as np

from studio.engine.shade.blocks import Shadows
from studio.engine.shade.gear import KINDS, LineGear
from studio.engine.shade.meeting import rim_of, shadows_on
from studio.engine.shade.reach import Bools, Ints, index_range, views
from studio.engine.shade.rows import LEAST_SUN_COSINE, Floats, RowOfMirrors, project

ROUGH_STRIDE = 4
"""Where some mirrors stand for all, one frame's of about so many frames is looked at."""


@dataclass(frozen=True)
class Sources:
    """All series that may shade a target: B lines of G kinds each (Q = B G) over R rows of (view, sun)."""

    base: Floats  # (R, B, 2) shadow of the middle of a line's first aperture, from the middle of the view's
    lift: Floats  # (R, B) its height in front of the view's plane
    step: Floats  # (R, B, 2)
    lift_step: Floats  # (B,)
    sun: Ints  # (R,) which sun of the shadows
    shadows: tuple[Shadows, ...]  # unlike ones only
    of: Ints  # (B,) which of them are a line's
    first: Ints  # (Q,)
    last: Ints  # (Q,)
    stride: Ints  # (Q,)
    absent: Bools | None  # [source, member] that are not there, None where all are


def sources_of(series: list[Shadows], base: Floats, sun: Floats, suns: Ints) -> Sources:
    """``base`` (V, B, 3) leads from a view's aperture to that of the first mirror of each of B series; ``suns`` number
    those of ``sun`` (S, 3) to take."""
    steps = np.array([shadows.step for shadows in series])
    light = np.tile(sun[suns], (len(base), 1))[:, None, :]
    offset = np.repeat(base, suns.size, axis=0)
    unlike = {id(shadows.extents): shadows for shadows in series}
    places = {key: place for place, key in enumerate(unlike)}
    return Sources(
        base=project(offset, light),
        lift=offset[..., 2],
        step=project(steps[None], light),
        lift_step=steps[:, 2],
        sun=np.tile(suns, len(base)),
        shadows=tuple(unlike.values()),
        of=np.array([places[id(shadows.extents)] for shadows in series]),
        first=np.concatenate([shadows.first for shadows in series]),
        last=np.concatenate([shadows.last for shadows in series]),
        stride=np.concatenate([shadows.stride for shadows in series]),
        absent=_absent(series),
    )


def _absent(series: list[Shadows]) -> Bools | None:
    if not any(shadows.absent for shadows in series):
        return None
    longest = max(max(shadows.absent, default=0) for shadows in series) + 2  # what lies beyond is there
    absent = np.zeros((len(series), len(KINDS), longest), np.bool_)
    for number, shadows in enumerate(series):
        absent[number, :, list(shadows.absent)] = shadows.of_mirrors
    return absent.reshape(len(series) * len(KINDS), longest)


def hits(target: RowOfMirrors, sources: Sources, *, mirrors: int) -> tuple[Ints, Ints]:
    """Ranges of members (R, Q) whose shadow may meet an aperture of the view (their bounding boxes do)."""
    aperture = np.array([target.width_m, target.height_m]) / 2
    by_line = (1, sources.of.size, len(KINDS))
    low, high = index_range(
        sources.base[:, :, None] + _of_lines(sources, "centre"),
        sources.step[:, :, None],
        _of_lines(sources, "half") + aperture,
        sources.lift[:, :, None] + _of_lines(sources, "top"),
        sources.lift_step[None, :, None],
        (sources.first - (mirrors - 1)).reshape(by_line),
        sources.last.reshape(by_line),
    )
    flat = (len(sources.sun), sources.of.size * len(KINDS))
    return low.reshape(flat), high.reshape(flat)


def _of_lines(sources: Sources, name: str) -> Floats:
    """A field of the shadows for every row and line: (R, B or 1, G, ...)."""
    fields = [getattr(shadows, name)[sources.sun] for shadows in sources.shadows]
    return fields[0][:, None] if len(fields) == 1 else np.stack(fields, axis=1)[:, sources.of]


@dataclass(frozen=True)
class Outlook:
    """Series that may shade a target under its suns ``lit`` (L,), and the ranges of their members that meet it; ``favour`` is
    the target's own (:class:`LineGear`). ``some`` (V,): the mirrors that it looks from and how many (V,) each stands for; None
    where all do."""

    row: RowOfMirrors
    lit: Ints
    sources: Sources
    low: Ints
    high: Ints
    mirrors: int
    favour: Floats | None = None
    some: tuple[Ints, Floats] | None = None

    def foreign(self) -> Bools:
        """Suns (L,) at which anything but the target's own gear reaches it."""
        # the target's series is the last, its apertures before its gear
        others = self.high.shape[1] - len(KINDS) + 1
        return _any_view((self.high >= self.low)[:, :others], self.lit.size)

    def only(self, suns: Bools) -> "Outlook":
        """The same under some of its suns (L,)."""
        rows = np.tile(suns, len(self.low) // max(self.lit.size, 1))
        sources = replace(
            self.sources,
            base=self.sources.base[rows],
            lift=self.sources.lift[rows],
            step=self.sources.step[rows],
            sun=self.sources.sun[rows],
        )
        return replace(self, lit=self.lit[suns], sources=sources, low=self.low[rows], high=self.high[rows])


def _any_view(met: Bools, suns: int) -> Bools:
    """``met`` (views x suns, Q) for any of the series and views: (suns,)."""
    return np.asarray(met.any(axis=1).reshape(len(met) // max(suns, 1), suns).any(axis=0))


def outlook(
    target: LineGear, casters: tuple[LineGear, ...], wanted: Bools, *, roughly: bool = False
) -> Outlook:
    """What reaches the target of its own row and of ``casters`` under the suns ``wanted`` (S,); ``roughly``: looked from some
    mirrors, unless all rows step alike."""
    row, lines = target.row, (*casters, target)
    sun = row.into_mirror_frame(target.suns)
    lit = np.flatnonzero((sun[:, 2] > LEAST_SUN_COSINE) & wanted)
    some = _some_mirrors(target) if roughly else None
    view = views(row, tuple(line.row for line in lines), None if some is None else some[0])
    rim = np.stack([rim_of(row, line.row) for line in lines])
    sources = sources_of([shadows_on(line, target) for line in lines], view.base + rim, sun, lit)
    low, high = hits(row, sources, mirrors=view.mirrors)
    if view.mirrors == row.count:
        some = None
    return Outlook(row, lit, sources, low, high, view.mirrors, target.favour, some)


def _some_mirrors(target: LineGear) -> tuple[Ints, Floats]:
    """Mirrors (V,) that stand for all, as many after one another as share a frame, and for how many (V,) each does."""
    there, together = target.row.there, int(target.shadows.stride.max())
    groups = max(1, round(there.size / (ROUGH_STRIDE * together)))
    bounds = np.rint(np.arange(groups + 1) * (there.size / groups)).astype(np.int64)
    size = np.diff(bounds)
    each = np.minimum(together, size)
    first = bounds[:-1] + (size - each) // 2
    places = np.repeat(first - (np.cumsum(each) - each), each) + np.arange(int(each.sum()))
    return there[places], np.repeat(size / each, each)


def steps_alike(one: RowOfMirrors, other: RowOfMirrors) -> bool:
    """Whether what a mirror of one row sees of the other depends on the difference of their numbers alone."""
    return views(one, (other,)).mirrors == one.count
