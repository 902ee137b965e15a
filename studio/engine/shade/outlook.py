"""Which shadows of which lines may meet the apertures of a target, sun by sun: ranges of members of even series."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from studio.engine.shade.blocks import Shadows, cast
from studio.engine.shade.gear import KINDS, LineGear
from studio.engine.shade.reach import Bools, Ints, index_range, views
from studio.engine.shade.rows import LEAST_SUN_COSINE, Floats, RowOfMirrors, project, same_axes


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


def _shadows_on(line: LineGear, target: LineGear) -> Shadows:
    """Shadows of ``line`` on the plane of the target's apertures, as if the two rows' first apertures were one."""
    if same_axes(line.row, target.row):
        return line.shadows
    turn = np.array(line.row.axes) @ np.array(target.row.axes).T
    bodies = line.bodies
    turned = replace(
        bodies, centre=bodies.centre @ turn, extents=bodies.extents @ turn, step=bodies.step @ turn
    )
    return cast(turned, target.row.into_mirror_frame(target.suns))


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
    the target's own (:class:`LineGear`)."""

    row: RowOfMirrors
    lit: Ints
    sources: Sources
    low: Ints
    high: Ints
    mirrors: int
    favour: Floats | None = None

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


def outlook(target: LineGear, casters: tuple[LineGear, ...], wanted: Bools) -> Outlook:
    """What reaches the target of its own row and of ``casters`` under the suns ``wanted`` (S,)."""
    row, lines = target.row, (*casters, target)
    sun = row.into_mirror_frame(target.suns)
    lit = np.flatnonzero((sun[:, 2] > LEAST_SUN_COSINE) & wanted)
    view = views(row, tuple(line.row for line in lines))
    rim = np.stack([_rim(row, line.row) for line in lines])
    sources = sources_of([_shadows_on(line, target) for line in lines], view.base + rim, sun, lit)
    low, high = hits(row, sources, mirrors=view.mirrors)
    return Outlook(row, lit, sources, low, high, view.mirrors, target.favour)


def reached(target: LineGear, casters: tuple[LineGear, ...]) -> Bools:
    """Suns (C, S) at which the mirrors or the gear of each of ``casters`` may meet an aperture of ``target``.

    Where a line that moves does not reach another, before or after, that other's shade stays as it was. Never misses;
    boxes around slanted shadows make it say yes a little too often.
    """
    everywhere = np.ones(len(target.suns), np.bool_)
    view = outlook(target, casters, everywhere)
    met = (view.high >= view.low)[:, : len(casters) * len(KINDS)]
    by_caster = met.reshape(-1, view.lit.size, len(casters), len(KINDS)).any(axis=(0, 3))
    found = np.zeros((len(casters), len(target.suns)), np.bool_)
    found[:, view.lit] = by_caster.T
    return found


def reaches(caster: LineGear, targets: Sequence[LineGear]) -> Bools:
    """Suns (T, S) at which ``caster`` may meet an aperture of each of T ``targets``: :func:`reached` turned round, quick
    where many targets step and face alike."""
    found = np.zeros((len(targets), len(caster.suns)), np.bool_)
    alike = []
    for place, target in enumerate(targets):
        if _look_alike(targets[0].row, target.row) and steps_alike(target.row, caster.row):
            alike.append(place)
        else:
            found[place] = reached(target, (caster,))[0]
    if alike:
        row = targets[alike[0]].row
        sun = row.into_mirror_frame(caster.suns)
        lit = np.flatnonzero(sun[:, 2] > LEAST_SUN_COSINE)
        seats = np.array([targets[place].row.first for place in alike])
        base = row.into_mirror_frame(np.array(caster.row.first) - seats)[:, None] + _rim(row, caster.row)
        sources = sources_of([_shadows_on(caster, targets[alike[0]])], base, sun, lit)
        low, high = hits(row, sources, mirrors=max(targets[place].row.count for place in alike))
        found[np.array(alike)[:, None], lit] = (high >= low).any(axis=1).reshape(len(alike), lit.size)
    return found


def steps_alike(one: RowOfMirrors, other: RowOfMirrors) -> bool:
    """Whether what a mirror of one row sees of the other depends on the difference of their numbers alone."""
    return views(one, (other,)).mirrors == one.count


def _look_alike(one: RowOfMirrors, other: RowOfMirrors) -> bool:
    same_size = (one.width_m, one.height_m, one.plane_z_m) == (other.width_m, other.height_m, other.plane_z_m)
    return same_size and same_axes(one, other)


def _rim(target: RowOfMirrors, other: RowOfMirrors) -> Floats:
    """From the middle of the target's apertures to that of another row's, their vertices at one place: (3,)."""
    rim = target.into_mirror_frame(other.plane_z_m * np.array(other.axes[2]))
    return np.asarray(rim - np.array([0.0, 0.0, target.plane_z_m]))
