"""``assess``: everything that follows from a design, stage by stage, each cached on what it reads.

``Assessor`` owns the cache. One that has assessed a design assesses a changed one by what the change touched: moving a line
leaves the optics alone and works out shade only for the lines whose neighbours moved.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from studio.design.design import Design, Document
from studio.engine.ground.spacing import Conflict
from studio.study.assessment import Array, Assessment, HeaderRun, LineResult, PlacedLine
from studio.study.cache import Cache
from studio.study.checks import findings_of
from studio.study.clear_year import calendar_of, working_hours
from studio.study.header import header_of
from studio.study.heat import FieldHeat, heat_of, line_pipe_m, shares_of
from studio.study.hot import HotSpot, hot_spot_of
from studio.study.lay import lay_of
from studio.study.light import LineLight, Shares, Surroundings, light_of
from studio.study.money import cost_of
from studio.study.obstacles import obstacles_of
from studio.study.optics import LineOptics, optics_of, year_key
from studio.study.parts import Shopping, shopping_of
from studio.study.pitch import passing_pitch_of
from studio.study.place import place_lines
from studio.study.room import conflicts_of
from studio.study.shade import Poses, ShadeAt, Suns, shade_of_field
from studio.study.sky import Sky, sky_of
from studio.study.skyline import hidden_sun_of
from studio.study.sums import figures_of, months_of, staircase_of
from studio.study.watch import StoppedError, Watch, go_on
from studio.study.winter import (
    WinterOfLine,
    WinterSuns,
    winter_of,
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

    def __init__(self, *, most_bytes: int = 256_000_000) -> None:
        self.cache = Cache(most_bytes=most_bytes)

    def assess(
        self,
        document: Document,
        design: Design | None = None,
        *,
        watch: Watch = go_on,
        calendar: bool = True,
        exact: bool = True,
    ) -> Assessment:
        """Everything that follows from ``design`` (the document's own unless given).

        ``calendar`` adds what can wait while a hand drags: the sun calendar and the pitch that passes. Not ``exact``, as
        while a hand drags: what gear adds to shade is that of the last exact assessment. Raises StoppedError once ``watch`` has answered no.
        """
        design = document.design if design is None else design
        work = self._work(document, design, watch, exact)
        pitch = None
        picture = None
        if calendar:
            _told(watch, "pitch", 0.9)
            winter = winter_suns(design, work.sky, self.cache)
            pitch = passing_pitch_of(design, work.placed, winter, self.cache)
            _told(watch, "calendar", 0.95)
            lights = tuple(light.grid for light in work.lights)
            first = work.optics[0] if work.optics else None
            picture = calendar_of(design, work.placed, work.header, lights, first, work.sky)
        cost = cost_of(design, work.shopping, work.heat)
        hours = working_hours(tuple(light.grid for light in work.lights), work.sky)
        months = months_of(work)
        staircase = staircase_of(months)
        figures = figures_of(work, staircase, cost, hours, pitch)
        return Assessment(
            design=design,
            rows=work.placed,
            header=work.header,
            figures=figures,
            staircase=staircase,
            lines=_lines(work),
            months=months,
            materials=work.shopping.blocks,
            missing_prices=work.shopping.missing,
            findings=findings_of(work, figures),
            calendar=picture,
            exact=exact,
        )

    def _work(self, document: Document, design: Design, watch: Watch, exact: bool) -> Worked:
        cache = self.cache
        _told(watch, "sun and weather", 0.0)
        sky = sky_of(design.site, document.asset, cache)
        placed = place_lines(design)
        header = header_of(design, placed)
        _told(watch, "optics", 0.1)
        optics = tuple(optics_of(design, line, sky, cache) for line in placed)
        shares = shares_of(design)
        _told(watch, "shade", 0.4)
        by_id = {line.id: its for line, its in zip(placed, optics, strict=True)}
        winter = winter_suns(design, sky, cache)
        suns = Suns(sky.key, sky.nodes.suns).followed_by(Suns(winter.key, winter.suns))
        shades = self._shades(design, placed, by_id, suns, winter, exact)
        around = self._around(design, placed, sky, suns, winter)
        _told(watch, "light", 0.6)
        lights = tuple(
            self._light(design, line, its, shades[line.id], sky, shares, round_it)
            for line, its, round_it in zip(placed, optics, around, strict=True)
        )
        _told(watch, "heat", 0.7)
        heat = heat_of(design, placed, header, sky, lights, cache)
        _told(watch, "winter check", 0.8)
        at_check = slice(len(sky.nodes.suns), None)
        at_winter = {line_id: shade.at(at_check) for line_id, shade in shades.items()}
        checks = winter_of(placed, at_winter, winter)
        _told(watch, "materials and money", 0.85)
        make = (design.mirror, design.receiver)
        hot_key = ("hot", *make, *year_key(design, placed[0], sky)) if placed else ()
        return Worked(
            design=design,
            placed=placed,
            header=header,
            sky=sky,
            optics=optics,
            lights=lights,
            heat=heat,
            winter=checks,
            around=around,
            winter_with_all=tuple(
                _winter_with_all(line, at_winter[line.id], check, winter, round_it)
                for line, check, round_it in zip(placed, checks, around, strict=True)
            ),
            conflicts=conflicts_of(design, placed, header, cache),
            shopping=shopping_of(design, placed, header),
            hot=cache.get(hot_key, lambda: hot_spot_of(design, placed[0], optics[0], sky, shares))
            if placed
            else None,
            shares=shares,
        )

    def _shades(
        self,
        design: Design,
        placed: tuple[PlacedLine, ...],
        optics: Mapping[int, LineOptics],
        suns: Suns,
        winter: WinterSuns,
        exact: bool,
    ) -> dict[int, ShadeAt]:
        """Shade on every line, by its id, at the nodes of the year and then at the suns of the winter check."""

        def poses(line: PlacedLine) -> Poses:
            its = optics[line.id]
            of_year = Poses(its.at_nodes.slide_m, its.at_nodes.roll_deg, its.working)
            return of_year.followed_by(winter_poses(design, line, winter, self.cache))

        by_id = {line.id: poses(line) for line in placed}
        return shade_of_field(design, placed, suns, by_id, self.cache, exact=exact)

    def _around(
        self, design: Design, placed: tuple[PlacedLine, ...], sky: Sky, suns: Suns, winter: WinterSuns
    ) -> tuple[Surroundings, ...]:
        """What stands round every line."""
        hidden = hidden_sun_of(design, sky, winter, self.cache)
        obstacles = obstacles_of(design, placed, sky, suns, self.cache)
        return tuple(Surroundings(hidden, obstacles.get(line.id)) for line in placed)

    def _light(
        self,
        design: Design,
        line: PlacedLine,
        optics: LineOptics,
        shade: ShadeAt,
        sky: Sky,
        shares: Shares,
        around: Surroundings,
    ) -> LineLight:
        """A line's light of the year; the one worked out last stands while nothing it came from is another."""
        aperture = line.count * design.mirror.width_m * design.mirror.height_m
        key = ("light", line.id)
        held: tuple[float, Sky, LineOptics, ShadeAt, Shares, Surroundings, LineLight] | None = self.cache.get(
            key, lambda: None
        )
        if (
            held is not None
            and held[:1] == (aperture,)
            and held[1] is sky
            and held[2] is optics
            and held[3] is shade
            and held[4] == shares
            and held[5].hidden is around.hidden
            and held[5].obstacles is around.obstacles
        ):
            return held[6]
        light = light_of(aperture, sky, optics, shade.at(slice(len(sky.nodes.suns))), shares, around)
        self.cache.put(
            key, (aperture, sky, optics, shade, shares, around, light), size=light.absorbed_w.nbytes * 2
        )
        return light


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


def _lines(work: Worked) -> tuple[LineResult, ...]:
    """What each line brings: outlet heat is its own flow's enthalpy less its share of the header's loss."""
    year = work.heat.year
    gathered = year.outlet_kwh + year.header_loss_kwh
    results = []
    for place, line in enumerate(work.placed):
        light, winter, lay = work.lights[place], work.winter[place], lay_of(work.design, line)
        own: Array = year.absorbed_w[:, place] - year.receiver_loss_w[:, place]
        delivered = float((own - year.line_pipe_loss_w[:, place] - year.idle_loss_w[:, place]).sum()) / 1000.0
        facing, cosine = float(light.facing_kwh.sum()), float(light.losses_kwh[0].sum())
        on_aperture = facing - cosine
        horizon, obstacles = (float(loss.sum()) for loss in light.losses_kwh[1:3])
        shade = horizon + obstacles + float(light.losses_kwh[3:5].sum())
        results.append(
            LineResult(
                id=line.id,
                mirrors=line.count,
                annual_heat_kwh=delivered * (year.outlet_kwh / gathered if gathered > 0 else 0.0),
                absorbed_kwh=float(light.absorbed_kwh.sum()),
                shade_loss_year=shade / on_aperture if on_aperture > 0 else 0.0,
                winter_mean=winter.mean,
                winter_largest=winter.largest,
                winter_largest_hour=winter.largest_hour,
                winter_largest_mirror=winter.largest_mirror,
                winter_with_gear=winter.with_gear,
                winter_by=winter.by,
                passes=winter.mean <= work.design.marks.winter_limit,
                pipe_m=line_pipe_m(work.design, line),
                horizon_loss_year=horizon / on_aperture if on_aperture > 0 else 0.0,
                obstacle_loss_year=obstacles / on_aperture if on_aperture > 0 else 0.0,
                obstacles_by=work.around[place].alone,
                winter_with_all=work.winter_with_all[place],
                grade_percent=lay.grade_percent,
                post_shortest_m=float(lay.posts_m.min()),
                post_longest_m=float(lay.posts_m.max()),
                cut_m3=lay.earth.cut_m3,
                fill_m3=lay.earth.fill_m3,
            )
        )
    return tuple(results)
