"""``assess``: everything that follows from a design, stage by stage, each cached on what it reads.

``Assessor`` owns the cache. One that has assessed a design assesses a changed one by what the change touched: moving a line
leaves the optics alone and works out shade only for the lines whose neighbours moved.
"""

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from functools import partial

from studio.design.design import Design, Document
from studio.engine.ground.spacing import Conflict
from studio.study.assessment import Array, Assessment, HeaderRun, PlacedLine
from studio.study.cache import Cache, Tick
from studio.study.checks import findings_of
from studio.study.clear_year import calendar_of, working_hours
from studio.study.glance import Slow, standing, stands_of
from studio.study.header import header_of
from studio.study.heat import FieldHeat, heat_of, shares_of
from studio.study.hot import HotSpot, hot_spot_of
from studio.study.light import LineLight, Shares
from studio.study.lights import lights_of
from studio.study.line_seen import OfMakes
from studio.study.money import cost_of
from studio.study.obstacles import obstacles_of
from studio.study.optics import LineOptics, optics_of, year_key
from studio.study.parts import Shopping, shopping_of
from studio.study.pitch import passing_pitch_of
from studio.study.place import place_line
from studio.study.reaching import Surroundings
from studio.study.results import LineResults
from studio.study.room import conflicts_of
from studio.study.rounds import Glance
from studio.study.scenes import ShadeAt
from studio.study.shade import Poses, Suns, shade_of_field
from studio.study.sky import Sky, sky_of
from studio.study.skyline import hidden_sun_of
from studio.study.sums import figures_of, months_of, staircase_of
from studio.study.watch import StoppedError, Watch, go_on
from studio.study.winter import (
    WinterOfLine,
    WinterSuns,
    checked,
    winter_poses,
    winter_suns,
    with_surroundings,
)


@dataclass(frozen=True)
class Worked:
    """All stages of an assessment, before they are summed into figures."""

    design: Design
    placed: tuple[PlacedLine, ...]
    header: HeaderRun
    sky: Sky
    optics: tuple[LineOptics, ...]
    lights: tuple[LineLight, ...]
    heat: FieldHeat
    winter: tuple[WinterOfLine, ...]
    around: tuple[Surroundings, ...]
    winter_with_all: tuple[float, ...]
    conflicts: tuple[Conflict, ...]
    shopping: Shopping
    hot: HotSpot | None
    shares: Shares


class Assessor:
    """Assesses designs and remembers the stages."""

    def __init__(self, *, most_bytes: int = 320_000_000) -> None:
        self.cache = Cache(most_bytes=most_bytes)
        self._last: Design | None = None
        self._slow: Slow | None = None
        self._optics_of: OfMakes[LineOptics] = OfMakes()
        self._poses_of: OfMakes[Poses] = OfMakes()
        self._results = LineResults()

    def assess(
        self,
        document: Document,
        design: Design | None = None,
        *,
        watch: Watch = go_on,
        calendar: bool = True,
        exact: bool = True,
        glance: Glance | None = None,
    ) -> Assessment:
        """Everything that follows from ``design`` (the document's own unless given).

        ``calendar`` adds what can wait while a hand drags: the sun calendar and the pitch that passes. Not ``exact``, as
        while a hand drags: what gear adds to shade is that of the last exact assessment. At a ``glance`` besides: heat, its
        cost, shade and what the glance names are worked out, all else is that of before where no more than places of lines
        changed. Raises StoppedError once ``watch`` has answered no.
        """
        given = document.design if design is None else design
        self._last = design = like_the_last(given, self._last)
        work, before = self._work(document, design, watch, exact, None if exact or calendar else glance)
        pitch = None
        picture = None
        if calendar:
            _told(watch, "pitch", 0.9)
            winter = winter_suns(design, work.sky, self.cache)
            pitch = passing_pitch_of(
                design, work.placed, winter, self.cache, tick=_tick(watch, "pitch", 0.9, 0.95)
            )
            _told(watch, "calendar", 0.95)
            lights = tuple(light.grid for light in work.lights)
            first = work.optics[0] if work.optics else None
            picture = calendar_of(design, work.placed, work.header, lights, first, work.sky)
        _told(watch, "findings", 0.98)
        cost = cost_of(design, work.shopping, work.heat)
        stood = standing(before, glance, "headers")
        hours = stood.hours if stood else working_hours(tuple(one.grid for one in work.lights), work.sky)
        months = months_of(work)
        staircase = staircase_of(months)
        figures = figures_of(work, staircase, cost, hours, pitch)
        told = standing(before, glance, "findings")
        findings = told.findings if told else findings_of(work, figures)
        # the share of before leaves lines that nothing touched as they were, and so little is sent to the window
        through = before.through if before else _through(work.heat)
        if before is None or glance != "heat":
            self._slow = Slow(
                design=design,
                stands=stands_of(work.placed),
                hot=work.hot,
                header=work.header,
                heat=stood.heat if stood else work.heat,
                conflicts=work.conflicts,
                shopping=work.shopping,
                hours=hours,
                findings=findings,
                through=through,
            )
        return Assessment(
            design=given,
            rows=work.placed,
            header=work.header,
            figures=figures,
            staircase=staircase,
            lines=self._results.of(work, through),
            months=months,
            materials=work.shopping.blocks,
            missing_prices=work.shopping.missing,
            findings=findings,
            calendar=picture,
            exact=exact,
        )

    def _work(
        self,
        document: Document,
        design: Design,
        watch: Watch,
        exact: bool,
        glance: Glance | None,
    ) -> tuple[Worked, Slow | None]:
        """All stages; and at a glance the last whole of the slow ones, from which those come that it does not name."""
        cache = self.cache
        _told(watch, "sun and weather", 0.0)
        sky = sky_of(design.site, document.asset, cache)
        placed = self._placed(design)
        before = self._slow if glance and self._slow and self._slow.serves(design, placed) else None
        room, headers, bought = (standing(before, glance, part) for part in ("room", "headers", "shopping"))
        header = room.header if room else header_of(design, placed)
        _told(watch, "optics", 0.1)
        optics = self._optics(design, placed, sky, watch)
        shares = cache.get(("shares", design.mirror, design.receiver), lambda: shares_of(design))
        _told(watch, "shade", 0.4)
        winter = winter_suns(design, sky, cache)
        suns = Suns(sky.key, sky.nodes.suns).followed_by(Suns(winter.key, winter.suns))
        shades = self._shades(
            design, placed, optics, sky, suns, winter, exact, _tick(watch, "shade", 0.4, 0.6)
        )
        around = self._around(design, placed, sky, suns, winter)
        _told(watch, "light", 0.6)
        lights = lights_of(
            design, placed, optics, shades, sky, shares, around, cache, tick=_tick(watch, "light", 0.6, 0.7)
        )
        _told(watch, "heat", 0.7)
        heat = heat_of(
            design,
            placed,
            header,
            sky,
            lights,
            cache,
            exact=exact,
            before=headers.heat if headers else None,
            tick=_tick(watch, "heat", 0.7, 0.8),
        )
        _told(watch, "winter check", 0.8)
        checks, with_all = self._checked(placed, shades, winter, around, len(sky.nodes.suns))
        _told(watch, "room", 0.84)
        conflicts = room.conflicts if room else conflicts_of(design, placed, header, cache)
        _told(watch, "materials and money", 0.85)
        work = Worked(
            design=design,
            placed=placed,
            header=header,
            sky=sky,
            optics=optics,
            lights=lights,
            heat=heat,
            winter=checks,
            around=around,
            winter_with_all=with_all,
            conflicts=conflicts,
            shopping=bought.shopping if bought else shopping_of(design, placed, header),
            hot=headers.hot if headers else self._hot(design, placed, optics, sky, shares),
            shares=shares,
        )
        return work, before

    def _optics(
        self, design: Design, placed: tuple[PlacedLine, ...], sky: Sky, watch: Watch
    ) -> tuple[LineOptics, ...]:
        """The optics of every line; those of one make share it."""
        tick = _tick(watch, "optics", 0.1, 0.4)
        return self._optics_of.of_all(
            placed,
            (sky, *_moved_by(design)),
            lambda line: optics_of(design, line, sky, self.cache, tick=tick),
        )

    def _hot(
        self,
        design: Design,
        placed: tuple[PlacedLine, ...],
        optics: tuple[LineOptics, ...],
        sky: Sky,
        shares: Shares,
    ) -> HotSpot | None:
        if not placed:
            return None
        key = ("hot", design.mirror, design.receiver, *year_key(design, placed[0], sky))
        return self.cache.get(key, lambda: hot_spot_of(design, placed[0], optics[0], sky, shares))

    def _shades(
        self,
        design: Design,
        placed: tuple[PlacedLine, ...],
        optics: tuple[LineOptics, ...],
        sky: Sky,
        suns: Suns,
        winter: WinterSuns,
        exact: bool,
        tick: Tick,
    ) -> dict[int, ShadeAt]:
        """Shade on every line, by its id, at the nodes of the year and then at the suns of the winter check."""

        of_make = {line.make: its for line, its in zip(placed, optics, strict=True)}

        def pose(line: PlacedLine) -> Poses:
            its = of_make[line.make]
            at = its.at_nodes
            of_year = Poses(
                at.slide_m, at.roll_deg, its.working, its.bright, its.bright_for_gear, its.node_favour
            )
            return of_year.followed_by(winter_poses(design, line, winter, self.cache))

        poses = self._poses_of.of_all(placed, (sky, winter, *_moved_by(design)), pose)
        by_id = {line.id: its for line, its in zip(placed, poses, strict=True)}
        return shade_of_field(design, placed, suns, by_id, self.cache, exact=exact, tick=tick)

    def _around(
        self, design: Design, placed: tuple[PlacedLine, ...], sky: Sky, suns: Suns, winter: WinterSuns
    ) -> tuple[Surroundings, ...]:
        """What stands round every line."""
        hidden = hidden_sun_of(design, sky, winter, self.cache)
        obstacles = obstacles_of(design, placed, sky, suns, self.cache)
        return tuple(Surroundings(hidden, obstacles.get(line.id)) for line in placed)

    def _placed(self, design: Design) -> tuple[PlacedLine, ...]:
        """Every line where it stands; one that did not move is the very same as before."""
        slots, lines = self.cache.slots, design.lines
        slots.forget_all_but({line.id for line in lines})
        return tuple(
            slots.get(
                "placed",
                line.id,
                (line, design.mirror, design.ground),
                partial(place_line, line, design.mirror, design.ground),
            )
            for line in lines
        )

    def _checked(
        self,
        placed: tuple[PlacedLine, ...],
        shades: Mapping[int, ShadeAt],
        winter: WinterSuns,
        around: tuple[Surroundings, ...],
        nodes: int,
    ) -> tuple[tuple[WinterOfLine, ...], tuple[float, ...]]:
        """The winter check of every line, and its mean with pipes, obstacles and skyline."""

        def check(line: PlacedLine, round_it: Surroundings) -> tuple[WinterOfLine, float]:
            shade = shades[line.id].at(slice(nodes, None))
            its = checked(line, shade, winter)
            return its, _winter_with_all(line, shade, its, winter, round_it)

        found = [
            self.cache.slots.get(
                "winter",
                line.id,
                (line, shades[line.id], winter, round_it.hidden, round_it.obstacles),
                partial(check, line, round_it),
            )
            for line, round_it in zip(placed, around, strict=True)
        ]
        return tuple(its for its, _all in found), tuple(with_all for _its, with_all in found)


def like_the_last(design: Design, last: Design | None) -> Design:
    """The same design, its parts and lines the very objects of the last one wherever they are equal: what is worked out
    from them can then be told by a look, even of a design that came from another process."""
    if last is None or design is last:
        return design
    parts = {
        field.name: getattr(last, field.name)
        for field in fields(design)
        if field.name != "lines" and _equal(getattr(design, field.name), getattr(last, field.name))
    }
    before = {line.id: line for line in last.lines}
    lines = tuple(
        before[line.id] if line.id in before and _equal(line, before[line.id]) else line
        for line in design.lines
    )
    return replace(design, lines=lines, **parts)


def _equal(one: object, other: object) -> bool:
    """Whether two are equal, told by a look where they are one."""
    return one is other or one == other


def _tick(watch: Watch, stage: str, start: float, end: float) -> Tick:
    """Tells ``watch`` how far a long stage is, and stops it when told to."""
    return lambda share: _told(watch, stage, start + share * (end - start))


def _told(watch: Watch, stage: str, share: float) -> None:
    if not watch(stage, share):
        raise StoppedError("stopped")


def _winter_with_all(
    line: PlacedLine, shade: ShadeAt, check: WinterOfLine, winter: WinterSuns, around: Surroundings
) -> float:
    """The winter check's mean with pipes, skyline and obstacles."""
    hidden, obstacles = around.hidden, around.obstacles
    if hidden is None and obstacles is None:
        return check.with_gear
    taken: Array | float = 0.0
    if obstacles is not None:
        taken = obstacles.on_day(winter.day)[-len(winter.suns) :]
    return with_surroundings(
        line, shade, winter, hidden=0.0 if hidden is None else hidden.winter, taken=taken
    )


def _moved_by(design: Design) -> tuple[object, ...]:
    """What of a design the optics of a line and its motion read besides the line."""
    return design.mirror, design.materials, design.receiver, design.motion, design.oil, design.ground


def _through(heat: FieldHeat) -> float:
    """The share of the heat that headers took up and that came to the outlet."""
    gathered = heat.year.outlet_kwh + heat.year.header_loss_kwh
    return heat.year.outlet_kwh / gathered if gathered > 0 else 0.0
