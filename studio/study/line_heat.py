"""The heat of each line before the headers, and its sums by blocks of lines."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from operator import is_

import numpy as np

from studio.design.design import Design
from studio.engine.heat.year import Conditions, LineHeat, lines_heat
from studio.study.assessment import Array, PlacedLine
from studio.study.cache import Cache, Tick
from studio.study.light import LineLight
from studio.study.sky import HOUR_PARTS, Sky
from studio.units import HOURS_PER_YEAR

_AT_ONCE = 48
"""Lines whose heat is worked out at once, so that memory does not grow with the field."""
_BLOCK = 16
"""Lines summed together: where one changes, its block is summed again and then the blocks."""


@dataclass(frozen=True, eq=False)
class LineYear:
    """A line's heat before the headers at the T sunlit hours (no light, no heat): ``hourly`` (4, T) what receivers and pipe
    lose and what idles, W, and its flow, kg/s; ``delivers`` (T,) the share of each hour in which it delivers; ``net_kwh`` the year's absorbed light less these losses; ``stored_w``
    summed over the hours."""

    hourly: Array
    delivers: Array
    net_kwh: float
    stored_w: float


_UNKNOWN = LineYear(np.zeros((4, 0)), np.zeros(0), 0.0, 0.0)
"""Stands for a line's heat until it is worked out."""


@dataclass(frozen=True, eq=False)
class Block:
    """Some lines summed: ``hourly`` (5, T) their light and what :class:`LineYear` holds, ``most_flow`` (T,) the strongest
    of a line, ``delivers`` (T,) the longest share of the hour in which one delivers, ``flows`` (lines, T)."""

    lights: tuple[LineLight, ...]
    years: tuple[LineYear, ...]
    hourly: Array
    most_flow: Array
    delivers: Array
    flows: Array

    @classmethod
    def of(cls, lights: tuple[LineLight, ...], years: tuple[LineYear, ...]) -> "Block":
        """The block of lines with these lights and heats."""
        every = np.stack([year.hourly for year in years])
        absorbed = np.sum([light.absorbed_w for light in lights], axis=0)
        return cls(
            lights=lights,
            years=years,
            hourly=np.concatenate([absorbed[None], every.sum(axis=0)]),
            most_flow=every[:, 3].max(axis=0),
            delivers=np.max([year.delivers for year in years], axis=0),
            flows=np.ascontiguousarray(every[:, 3]),
        )

    def carried(self, lights: tuple[LineLight, ...], years: tuple[LineYear, ...]) -> "Block":
        """The block with some of its lines changed, from its sums: equal but for rounding."""
        hourly, flows = self.hourly.copy(), self.flows.copy()
        then = zip(self.lights, self.years, strict=True)
        for place, (light, year, (was, held)) in enumerate(zip(lights, years, then, strict=True)):
            if year is not held:
                hourly[0] += light.absorbed_w - was.absorbed_w
                hourly[1:] += year.hourly - held.hourly
                flows[place] = year.hourly[3]
        return Block(lights, years, hourly, flows.max(axis=0), self.delivers, flows)


def blocks_of(
    design: Design,
    placed: tuple[PlacedLine, ...],
    lines: tuple[LineHeat, ...],
    lights: tuple[LineLight, ...],
    sky: Sky,
    conditions: Conditions,
    cache: Cache,
    exact: bool,
    tick: Tick,
) -> list[Block]:
    """The heat of every line, those that changed worked out together, and its sums; remembered where ``exact``."""
    if not placed:
        return []
    # no line takes more than this: the strongest hour on the longest line, all of it absorbed
    aperture = max(line.mirrors for line in placed) * design.mirror.width_m * design.mirror.height_m
    most = max(1.0, float(sky.year.dni_w_m2.max())) * aperture
    slots = cache.get(("heat slots",), lambda: _Slots(None, 0.0, {}, ()))
    if slots.conditions is not conditions or slots.most != most:
        slots = _Slots(conditions, most, {}, ())
    done: dict[tuple[int, LineHeat], tuple[LineLight, LineYear]] = {}
    asked: list[tuple[LineLight, LineHeat]] = []
    before = [pair for block in slots.blocks for pair in zip(block.lights, block.years, strict=True)]
    near_enough = not exact and len(before) == len(placed)
    for place, (light, line) in enumerate(zip(lights, lines, strict=True)):
        key = id(light), line
        if key not in done and key in slots.years:
            done[key] = slots.years[key]
        elif key not in done and near_enough and (id(before[place][0]), line) in slots.years:
            done[key] = light, _carried(*before[place], light, conditions)
        elif key not in done:
            asked.append((light, line))
            done[key] = light, _UNKNOWN
    for first in range(0, len(asked), _AT_ONCE):
        tick(first / len(asked))
        some = asked[first : first + _AT_ONCE]
        years = _line_years(some, sky, conditions, most)
        done |= {(id(light), line): (light, year) for (light, line), year in zip(some, years, strict=True)}
    every = [done[id(light), line][1] for light, line in zip(lights, lines, strict=True)]
    blocks = []
    for number, first in enumerate(range(0, len(placed), _BLOCK)):
        part = slice(first, first + _BLOCK)
        of_lights, of_years = lights[part], tuple(every[part])
        held = slots.blocks[number] if number < len(slots.blocks) else None
        same = held is not None and held.years == of_years and _are(held.lights, of_lights)
        if near_enough and held is not None and not same:
            blocks.append(held.carried(of_lights, of_years))
        else:
            blocks.append(held if same and held is not None else Block.of(of_lights, of_years))
    if near_enough:
        return blocks
    size = (len(done) * 5 + len(placed) * 1.6) * len(sky.hour) * 8
    cache.put(("heat slots",), _Slots(conditions, most, done, tuple(blocks)), size=int(size))
    return blocks


def _are(some: tuple[object, ...], others: tuple[object, ...]) -> bool:
    return len(some) == len(others) and all(map(is_, some, others))


def _carried(was: LineLight, held: LineYear, light: LineLight, conditions: Conditions) -> LineYear:
    """A line's heat by that of its last exact answer: what light came or went is carried off by oil in the hours in which
    the line delivered, and idles in all others. Every hour's sum stays closed; warm-up begins no sooner or later."""
    more = light.absorbed_w - was.absorbed_w
    hourly = held.hourly.copy()
    receiver, pipe, idle, flow = hourly
    carries = np.where(flow > 0.0, np.maximum(flow + more / conditions.rise_j_kg, 0.0), 0.0)
    idle += more - (carries - flow) * conditions.rise_j_kg
    flow[:] = carries
    net = float((light.absorbed_w - receiver - pipe - idle).sum()) / 1000.0
    return LineYear(hourly, held.delivers, net, held.stored_w)


def _line_years(
    some: Sequence[tuple[LineLight, LineHeat]], sky: Sky, conditions: Conditions, most_w: float
) -> list[LineYear]:
    absorbed = np.zeros((HOURS_PER_YEAR, len(some)))
    absorbed[sky.hour] = np.stack([light.absorbed_w for light, _line in some], axis=1)
    by_part = np.zeros((HOURS_PER_YEAR, HOUR_PARTS, len(some)))
    by_part[sky.hour] = np.stack([light.parts_w.reshape(-1, HOUR_PARTS) for light, _line in some], axis=2)
    lines = tuple(line for _light, line in some)
    heat = lines_heat(absorbed, lines, conditions, most_absorbed_w=most_w, parts_w=by_part)
    parts = heat.receiver_loss_w, heat.line_pipe_loss_w, heat.idle_loss_w, heat.flow_kg_s, heat.delivers
    hourly = np.stack([part[sky.hour].T for part in parts], axis=1)
    return [
        LineYear(
            hourly=mine[:4].copy(),  # a view would hold on to all the others
            delivers=mine[4].copy(),
            net_kwh=float((light.absorbed_w - mine[0] - mine[1] - mine[2]).sum()) / 1000.0,
            stored_w=float(stored),
        )
        for mine, (light, _line), stored in zip(hourly, some, heat.stored_w, strict=True)
    ]


@dataclass(frozen=True)
class _Slots:
    """The heat of lines as last worked out, by the light it came from (kept beside it) and the line's make."""

    conditions: Conditions | None
    most: float
    years: Mapping[tuple[int, LineHeat], tuple[LineLight, LineYear]]
    blocks: tuple[Block, ...]
