"""Stage: the smallest pitch at which every line passes the winter check, all pitches scaled alike."""

import dataclasses

import numpy as np

from studio.design.design import Design
from studio.design.pitches import pitches
from studio.engine.shade.winter import passing_pitch
from studio.study.assessment import Array, PlacedLine
from studio.study.cache import Cache, Tick, no_tick
from studio.study.place import ground_height, place_line
from studio.study.scenes import place_key
from studio.study.winter import WinterSuns, mirrors_alone

WIDEST_PITCH_M = 25.0


def scaled(design: Design, placed: tuple[PlacedLine, ...], scale: float) -> tuple[PlacedLine, ...]:
    """The lines with all pitches scaled alike; the first line stays. Each line is shifted square to the first one."""
    lead = placed[0]
    square = np.array([-lead.along[1], lead.along[0]])
    square /= np.linalg.norm(square)

    def shifted(line: PlacedLine) -> PlacedLine:
        middle = (line.first + line.along * line.spacing_m * (line.count - 1) / 2)[:2]
        lead_middle = (lead.first + lead.along * lead.spacing_m * (lead.count - 1) / 2)[:2]
        shift = (scale - 1.0) * float((middle - lead_middle) @ square) * square
        there = line.first[:2] + shift
        if design.ground.heights is not None:  # elsewhere it lies at another grade
            own = dataclasses.replace(design.line(line.id), x_m=float(there[0]), y_m=float(there[1]))
            return place_line(own, design.mirror, design.ground)
        rise = ground_height(design.ground, float(there[0]), float(there[1])) - ground_height(
            design.ground, float(line.first[0]), float(line.first[1])
        )
        return dataclasses.replace(line, first=line.first + np.array([shift[0], shift[1], rise]))

    return tuple(shifted(line) for line in placed)


def passing_pitch_of(
    design: Design,
    placed: tuple[PlacedLine, ...],
    winter: WinterSuns,
    cache: Cache,
    *,
    tick: Tick = no_tick,
) -> float | None:
    """The smallest mean pitch (m) at which every line's mean winter shade is within its mark; None where none is."""
    gaps = pitches(design)
    if not gaps:
        return None
    mean = float(np.mean(gaps))
    closest = 1.02 * design.mirror.height_m * max(0.2, float(np.cos(np.radians(design.mirror.tilt_deg))))
    key = (
        "pitch",
        winter.key,
        tuple(place_key(placed[0], line) for line in placed),
        design.mirror,
        design.marks,
    )

    def shade_at(scale: float) -> Array:
        tick(0.0)
        return mirrors_alone(design, scaled(design, placed, scale), winter)

    def search() -> float | None:
        found = passing_pitch(
            shade_at,
            limit=design.marks.winter_limit,
            pitch_m=max(gaps),
            least_scale=min(closest / mean, 1.0),
            most_scale=max(WIDEST_PITCH_M / mean, 1.5),
        )
        return None if found.scale is None else found.scale * mean

    return cache.get(key, search)
