"""Which lines stand round which, what of it changed since last time, and under which suns that matters."""

from collections.abc import Hashable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from studio.engine.shade.gear import LineGear
from studio.engine.shade.gear_shade import GearShade
from studio.engine.shade.meeting import reached, reaches
from studio.engine.shade.reach import Bools
from studio.study.assessment import Array, PlacedLine
from studio.study.cache import Tick, no_tick

Place = tuple[Hashable, ...]
_ALIKE = 1e-9
"""Of the plan directions of lines at one azimuth, whatever their grades: what rounding leaves of their cross product."""


@dataclass(frozen=True)
class ShadeAt:
    """Shade on one line at S suns, shares of its aperture: ``mirrors`` (S,), what gear adds ``gear`` (S,), what both take
    of accepted light over and above that ``uneven`` (S,; see GearShade),

    the worst mirror ``worst`` (S,), and what the mirrors of each other line shade alone, ``by_caster`` (S,) by its id.
    Casters that shade nothing may be missing."""

    mirrors: Array
    gear: Array
    uneven: Array
    worst: Array
    worst_mirror: Array
    by_caster: Mapping[int, Array]

    def at(self, suns: slice) -> "ShadeAt":
        """The same at some of the suns."""
        return ShadeAt(
            mirrors=self.mirrors[suns],
            gear=self.gear[suns],
            uneven=self.uneven[suns],
            worst=self.worst[suns],
            worst_mirror=self.worst_mirror[suns],
            by_caster={line_id: share[suns] for line_id, share in self.by_caster.items()},
        )


def place_key(target: PlacedLine, caster: PlacedLine) -> Place:
    """What the shade on a line reads of another: its make and its offset, rounded to a nanometre so that the rounding of
    coordinates does not tell apart fields that were shifted as a whole."""
    x, y, z = (
        (there - here) * 1e9 for here, there in zip(target.first.tolist(), caster.first.tolist(), strict=True)
    )
    return (round(x), round(y), round(z), *caster.make)


@dataclass(frozen=True)
class Held:
    """The shade on a line as it was last worked out, and what it was worked out from.

    ``line`` and its casters ``near`` as they stood; ``places`` maps the id of each caster to its relative place and make,
    ``reached`` to the suns at which it may meet the target.
    """

    line: PlacedLine
    near: tuple[PlacedLine, ...]
    places: Mapping[int, Place]
    reached: Mapping[int, Bools]
    shade: ShadeAt
    gear: GearShade


@dataclass(frozen=True)
class Scene:
    """A line among its casters ``near``: their ``places``, the suns at which each ``reached`` it, those at which the shade
    must be worked out ``anew`` (S,), and what was ``held`` of it if that is of any use. ``gear`` is what gear added when it
    was last worked out, over uneven ground at another grade too."""

    line: PlacedLine
    near: tuple[PlacedLine, ...]
    places: Mapping[int, Place]
    reached: Mapping[int, Bools]
    anew: Bools
    held: Held | None
    gear: GearShade | None

    def kept(self, shade: ShadeAt, gear: GearShade) -> Held:
        """What to remember of a shade that was worked out."""
        return Held(self.line, self.near, self.places, self.reached, shade, gear)

    @property
    def likeness(self) -> Hashable:
        """What the answer comes from: scenes alike in it have the same answer, caster by caster in the order of
        ``in_order``."""
        held = () if self.held is None else (id(self.held.shade.mirrors), id(self.held.gear.extra))
        places = tuple(self.places[key] for key in self.in_order)
        return self.line.make, places, self.anew.tobytes(), held

    @property
    def in_order(self) -> list[int]:
        """The ids of the casters, by their places."""
        return sorted(self.places, key=lambda key: self.places[key][:3])


def scenes_of(
    placed: Sequence[PlacedLine],
    near: Mapping[int, tuple[PlacedLine, ...]],
    gears: Mapping[int, LineGear],
    before: Mapping[int, Held],
    *,
    mirrors_alone: bool = False,
    tick: Tick = no_tick,
) -> tuple[list[Scene], dict[int, Held]]:
    """The scenes in which something must be worked out, ``mirrors_alone`` if asked, and what is held of all other lines.

    Suns that a caster reaches that came, went or moved are to be worked out anew, and all suns where nothing that is held
    serves. A line that stands as it did among lines that stand as they did is not looked at.
    """
    still, helds, places, strange = {}, {}, {}, {}
    for line in placed:
        held = before.get(line.id)
        if held is not None and held.line is line and held.near == near[line.id]:
            still[line.id] = held
            continue
        helds[line.id] = held = held if held is not None and held.line.make == line.make else None
        stood = {} if held is None or held.line is not line else {one.id: one for one in held.near}
        at: Mapping[int, Place] = {} if held is None else held.places
        places[line.id] = {
            caster.id: at[caster.id] if stood.get(caster.id) is caster else place_key(line, caster)
            for caster in near[line.id]
        }
        strange[line.id] = [key for key, place in places[line.id].items() if at.get(key) != place]
    met = _met(strange, gears, places, mirrors_alone, tick)
    scenes = []
    for line in placed:
        if line.id in still:
            continue
        held, here = helds[line.id], places[line.id]
        reach = {
            key: met[line.id, key] if held is None or (line.id, key) in met else held.reached[key]
            for key in here
        }
        anew = np.full(len(gears[line.id].suns), held is None)
        if held is not None:
            for key in {*strange[line.id], *(held.places.keys() - here.keys())}:
                for then in (held.reached.get(key), reach.get(key)):
                    if then is not None:
                        anew |= then
        scene = Scene(line, near[line.id], here, reach, anew, held, _gear_before(line, before.get(line.id)))
        if held is not None and not anew.any():
            still[line.id] = scene.kept(held.shade, held.gear)
        else:
            scenes.append(scene)
    return scenes, still


def gear_is_held(placed: Sequence[PlacedLine], before: Mapping[int, Held]) -> bool:
    """Whether of every line what gear added to its shade was worked out once, wherever it stood."""
    return all(_gear_before(line, before.get(line.id)) is not None for line in placed)


def _gear_before(line: PlacedLine, held: Held | None) -> GearShade | None:
    """What gear added to a line's shade when last worked out, wherever it stood and at whatever grade."""
    if held is None or held.line.make[1:] != line.make[1:]:
        return None
    (x, y), (x0, y0) = line.along[:2], held.line.along[:2]
    return held.gear if abs(x * y0 - y * x0) < _ALIKE else None


def _met(
    strange: Mapping[int, list[int]],
    gears: Mapping[int, LineGear],
    places: Mapping[int, Mapping[int, Place]],
    mirrors_alone: bool,
    tick: Tick,
) -> dict[tuple[int, int], Bools]:
    """Suns at which each of the ``strange`` casters of each target may reach it, by (target, caster).

    A target with many is looked at alone, the targets of one caster together: one line that moved is both. Targets that
    see the same are looked at once.
    """
    met: dict[tuple[int, int], Bools] = {}
    of_one: dict[int, list[int]] = {}
    seen: dict[Hashable, Bools] = {}
    for target, casters in strange.items():
        if len(casters) == 1:
            of_one.setdefault(casters[0], []).append(target)
        elif casters:
            ordered = sorted(casters, key=lambda key: places[target][key][:3])
            row = gears[target].row
            sight = (
                row.count,
                row.absent,
                id(gears[target].suns),
                row.axes,
                row.along,
                *(places[target][key] for key in ordered),
            )
            if sight not in seen:
                tick(0.0)
                around = [gears[caster] for caster in ordered]
                seen[sight] = reached(gears[target], around, mirrors_alone=mirrors_alone)
            met |= {(target, caster): suns for caster, suns in zip(ordered, seen[sight], strict=True)}
    for caster, targets in of_one.items():
        around = [gears[target] for target in targets]
        found = reaches(gears[caster], around, mirrors_alone=mirrors_alone)
        met |= {(target, caster): suns for target, suns in zip(targets, found, strict=True)}
    return met
