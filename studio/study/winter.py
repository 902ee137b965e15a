"""Stage: the winter check, line by line, and the smallest pitch that would pass it."""

from collections.abc import Hashable
from dataclasses import dataclass

import numpy as np

from studio.design.design import Design
from studio.engine.mirror.favour import TERMS
from studio.engine.shade.lines import answers, near_rows
from studio.engine.shade.unlike import LineTask
from studio.engine.sky.clear import clear_dni
from studio.engine.sky.sun import SunTrack, day_and_solar_hour_suns, solstice_day
from studio.study.assessment import Array, PlacedLine
from studio.study.cache import Cache
from studio.study.optics import optics_key, table_covering
from studio.study.place import row_of
from studio.study.scenes import ShadeAt, place_key
from studio.study.shade import Poses, longest_shadow
from studio.study.sky import Sky

STEPS = 24
"""Intervals of the check's hours: every ten minutes from 10 to 14 h."""


@dataclass(frozen=True)
class WinterSuns:
    """The suns of the winter check: solar hours (S,), the track, and DNI under a clear sky (S,) W/m2."""

    key: Hashable
    day: int
    solar_h: Array
    track: SunTrack
    clear: Array
    weights: Array
    """Of the trapezoid rule over the hours."""

    @property
    def suns(self) -> Array:
        """Unit vectors (S, 3) in the site frame."""
        return self.track.direction


@dataclass(frozen=True)
class WinterOfLine:
    """The winter check of one line, shares of its light; ``by`` (C,) is what each near line shades alone."""

    mean: float
    largest: float
    largest_hour: float
    largest_mirror: int
    with_gear: float
    by: tuple[tuple[int, float], ...]


def with_surroundings(
    line: PlacedLine, shade: ShadeAt, winter: WinterSuns, *, hidden: Array | float, taken: Array | float
) -> float:
    """Mean loss of a line's light in the check with all that is there: the skyline's share ``hidden`` (S,), what obstacles

    have ``taken`` (S,) of the rest, mirrors and gear."""
    light = winter.weights * winter.clear * np.maximum(winter.suns @ line.axes[2], 0.0)
    total = float(light.sum())
    left = (1.0 - hidden) * (1.0 - taken) * (1.0 - shade.mirrors - shade.gear)
    return 1.0 - float(light @ left) / total if total > 0.0 else 0.0


def winter_suns(design: Design, sky: Sky, cache: Cache) -> WinterSuns:
    """The suns of the check: the winter solstice of the site's hemisphere, or the chosen day."""
    site, marks = design.site, design.marks
    key = (
        "winter suns", site.latitude_deg, site.longitude_deg, site.altitude_m,
        marks.winter_day, marks.winter_from_h, marks.winter_to_h,
    )  # fmt: skip
    return cache.get(key, lambda: _winter_suns(key, design, sky))


def _winter_suns(key: Hashable, design: Design, sky: Sky) -> WinterSuns:
    site, marks = design.site, design.marks
    day = marks.winter_day or solstice_day(site.latitude_deg)
    solar = np.linspace(marks.winter_from_h, marks.winter_to_h, STEPS + 1)
    track = day_and_solar_hour_suns(
        day,
        solar,
        latitude_deg=site.latitude_deg,
        longitude_deg=site.longitude_deg,
        altitude_m=site.altitude_m,
    )
    clear = clear_dni(track.elevation_deg, day, altitude_m=site.altitude_m, turbidity=sky.turbidity[day - 1])
    weights = np.full(STEPS + 1, 1.0)
    weights[[0, -1]] = 0.5
    return WinterSuns(key=key, day=day, solar_h=solar, track=track, clear=clear, weights=weights)


def winter_poses(design: Design, line: PlacedLine, winter: WinterSuns, cache: Cache) -> Poses:
    """Poses of a line at the suns of the check; gear counts at all of them."""

    def pose() -> Poses:
        suns = winter.suns @ line.axes.T
        at = table_covering(design, line, suns, cache).at(suns)
        everywhere = np.ones(len(suns), np.bool_)
        return Poses(
            at.slide_m, at.roll_deg, everywhere, everywhere, everywhere, np.zeros((len(suns), TERMS))
        )

    return cache.get(("winter poses", winter.key, *optics_key(design, line), line.axes.tobytes()), pose)


def checked(line: PlacedLine, shade: ShadeAt, winter: WinterSuns) -> WinterOfLine:
    """The winter check of a line from its shade at the check's suns."""
    light = winter.weights * winter.clear * np.maximum(winter.suns @ line.axes[2], 0.0)
    total = float(light.sum())
    if total <= 0.0:
        return WinterOfLine(0.0, 0.0, float(winter.solar_h[0]), line.first_number, 0.0, ())
    worst = int(shade.worst.argmax())
    means = ((caster, float(light @ share) / total) for caster, share in shade.by_caster.items())
    return WinterOfLine(
        mean=float(light @ shade.mirrors) / total,
        largest=float(shade.worst[worst]),
        largest_hour=float(winter.solar_h[worst]),
        largest_mirror=line.first_number + int(shade.worst_mirror[worst]),
        with_gear=float(light @ (shade.mirrors + shade.gear)) / total,
        by=tuple(sorted((one for one in means if one[1] > 1e-6), key=lambda one: -one[1])),
    )


def mirrors_alone(design: Design, placed: tuple[PlacedLine, ...], winter: WinterSuns) -> Array:
    """Mean winter shade (L,) of every line by mirrors alone: what the search for a pitch looks at. Lines that see the same
    of the field are worked out once."""
    rows = [row_of(line, design.mirror) for line in placed]
    near = near_rows(rows, longest_shadow(winter.suns)) if rows else np.zeros((0, 0), np.bool_)
    scenes: dict[Hashable, int] = {}
    tasks: list[LineTask] = []
    scene_of = []
    for place, line in enumerate(placed):
        casters = np.flatnonzero(near[place]).tolist()
        seen = (line.make, *sorted(place_key(line, placed[other]) for other in casters))
        if seen not in scenes:
            scenes[seen] = len(tasks)
            tasks.append(LineTask(rows[place], tuple(rows[other] for other in casters), winter.suns))
        scene_of.append(scenes[seen])
    shades = [shade.mean for shade in answers(tasks)]
    means = []
    for line, scene in zip(placed, scene_of, strict=True):
        light = winter.weights * winter.clear * np.maximum(winter.suns @ line.axes[2], 0.0)
        means.append(float(light @ shades[scene]) / max(float(light.sum()), 1e-12))
    return np.array(means)
