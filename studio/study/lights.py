"""Stage: the light of all lines; what did not change stands, and lines that see the same share one answer."""

from collections.abc import Hashable, Mapping
from functools import partial

from studio.design.design import Design
from studio.study.assessment import PlacedLine
from studio.study.cache import Cache, Tick, no_tick
from studio.study.light import LineLight, Shares, light_of
from studio.study.optics import LineOptics, year_key
from studio.study.reaching import Reaching, Surroundings, reaching_of
from studio.study.scenes import ShadeAt
from studio.study.sky import Sky


def lights_of(
    design: Design,
    placed: tuple[PlacedLine, ...],
    optics: tuple[LineOptics, ...],
    shades: Mapping[int, ShadeAt],
    sky: Sky,
    shares: Shares,
    around: tuple[Surroundings, ...],
    cache: Cache,
    *,
    tick: Tick = no_tick,
) -> tuple[LineLight, ...]:
    """The lines' light of the year; ``shades`` by the line's id, at the nodes of the year first.

    That of a line stands while nothing it came from is another.
    """
    nodes = slice(len(sky.nodes.suns))
    alike: dict[Hashable, LineLight] = {}
    reaching = _reaching(design, placed, optics, sky, around, cache)

    def light(line: PlacedLine, its: LineOptics, round_it: Surroundings, place: int) -> LineLight:
        shade, reaches = shades[line.id], reaching[place]
        of_shade = (id(shade.mirrors), id(shade.gear), id(shade.uneven))
        same = (line.mirrors, id(its), id(reaches), *of_shade)
        if same not in alike:
            tick(place / len(placed))
            aperture = line.mirrors * design.mirror.width_m * design.mirror.height_m
            alike[same] = light_of(aperture, sky, its, reaches, shade.at(nodes), shares, round_it)
        return alike[same]

    found = []
    for place, (line, its, round_it) in enumerate(zip(placed, optics, around, strict=True)):
        reads = (line, design.mirror, sky, its, reaching[place], shades[line.id], shares)
        found.append(cache.slots.get("light", line.id, reads, partial(light, line, its, round_it, place)))
    return tuple(found)


def _reaching(
    design: Design,
    placed: tuple[PlacedLine, ...],
    optics: tuple[LineOptics, ...],
    sky: Sky,
    around: tuple[Surroundings, ...],
    cache: Cache,
) -> tuple[Reaching, ...]:
    """The light that comes to every line before the field shades itself: lines that stand alike share it, but where
    obstacles stand around them."""
    of_make: dict[Hashable, Reaching] = {}

    def reaches(line: PlacedLine, its: LineOptics, round_it: Surroundings) -> Reaching:
        if round_it.obstacles is not None:
            return reaching_of(sky, its, round_it)
        if line.make not in of_make:
            key = ("reaching", design.horizon.skyline, *year_key(design, line, sky))
            of_make[line.make] = cache.get(key, lambda: reaching_of(sky, its, round_it))
        return of_make[line.make]

    def of_line(line: PlacedLine, its: LineOptics, round_it: Surroundings) -> Reaching:
        reads = (sky, its, round_it.hidden, round_it.obstacles)
        return cache.slots.get("reaching", line.id, reads, partial(reaches, line, its, round_it))

    return tuple(of_line(*each) for each in zip(placed, optics, around, strict=True))
