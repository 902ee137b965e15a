"""Stage: what is bought for a design, where each quantity comes from, and what it costs."""

from collections import Counter
from dataclasses import dataclass, replace
from math import ceil

import numpy as np

from studio.design.design import Design
from studio.engine.mirror.form import edge_depth, rib_arc_lengths
from studio.engine.parts.cutting import BarsNeeded, bars_needed
from studio.engine.parts.listing import PricedLine, Quantity, priced, total_of
from studio.engine.parts.quantities import (
    Cut,
    FilmOfMirror,
    LineParts,
    film_of_mirror,
    header_supports,
    oil_content,
    parts_of_line,
    pipe_content_l,
    rods_of_mirror,
    whole_lines,
)
from studio.errors import BadInputError
from studio.study.assessment import HeaderRun, MaterialBlock, PlacedLine
from studio.study.heat import header_pipe_of, line_pipe_of, oil_of, receiver_of
from studio.study.lay import lay_of
from studio.study.place import Stand, form_of, overhang_m, stand_of
from studio.text import _, number

_POST_STEP_M, _MOST_POSTS = 0.1, 5
"""Posts over uneven ground are cut in steps of 10 cm or a multiple of it, in few lengths (so that the plan of cutting
stays one that a workshop follows), and shortened on the land: our assumption, on the safe side."""
_HEADER_SPAN_M = 3.0
"""Distance between supports of the header: common practice for small hot steel pipes, no source."""


@dataclass(frozen=True)
class Shopping:
    """What is bought. A part that cannot be had (a strip wider than the roll) is None and told in ``faults``."""

    film: FilmOfMirror | None
    film_m2: float | None
    rod_length_m: float
    rib_bars: BarsNeeded | None
    stand_bars: BarsNeeded | None
    lines: LineParts
    oil_litres: float
    blocks: tuple[MaterialBlock, ...]
    capital: float
    missing: tuple[str, ...]
    film_renewal_cost: float
    faults: tuple[str, ...]

    @property
    def known(self) -> bool:
        """Whether any price is known: without one there is no cost, which is not a cost of zero."""
        return self.capital > 0 or not self.missing

    @property
    def rod_bars(self) -> int | None:
        """Bars of both rods, None where some piece cannot be cut."""
        if self.rib_bars is None or self.stand_bars is None:
            return None
        return self.rib_bars.bars + self.stand_bars.bars


def shopping_of(design: Design, placed: tuple[PlacedLine, ...], header: HeaderRun) -> Shopping:
    """The shopping list of a design."""
    faults: list[str] = []
    mirrors = sum(line.mirrors for line in placed)
    film = _film(design, faults) if mirrors else None
    cuts = _cuts(design, placed)
    rib_bars = _bars(design, [cut for cut in cuts if cut.use == "rib"], faults)
    stand_bars = _bars(design, [cut for cut in cuts if cut.use != "rib"], faults)
    unlike = {line.make: line for line in placed}
    parts = {make: _line_parts(design, line) for make, line in unlike.items()}
    lines = whole_lines([parts[line.make] for line in placed])
    oil = _oil_litres(design, lines, header)
    posts = _posts_said(design, placed)
    quantities = _quantities(design, mirrors, film, cuts, rib_bars, stand_bars, posts, lines, header, oil)
    list_lines = priced(quantities, _prices(design))
    total = total_of(list_lines)
    film_price = design.prices.film_per_m2 or 0.0
    film_m2 = film.bought_area_m2 * mirrors if film is not None else (0.0 if not mirrors else None)
    return Shopping(
        film=film,
        film_m2=film_m2,
        rod_length_m=sum(cut.length_m * cut.count for cut in cuts),
        rib_bars=rib_bars,
        stand_bars=stand_bars,
        lines=lines,
        oil_litres=oil,
        blocks=_blocks(list_lines),
        capital=total.known,
        missing=tuple(line.label for line in list_lines if line.unit_price is None),
        film_renewal_cost=(film_m2 or 0.0) * film_price,
        faults=tuple(faults),
    )


def _film(design: Design, faults: list[str]) -> FilmOfMirror | None:
    form, materials = form_of(design.mirror), design.materials
    try:
        return film_of_mirror(
            ribs=form.ribs,
            width_m=form.width_m,
            rib_arc_m=float(np.max(rib_arc_lengths(form))),
            widest_spacing_m=form.strip_width_m,
            roll_width_m=materials.roll_width_m,
            edge_turn_in_m=materials.turn_in_mm / 1000,
        )
    except BadInputError as error:
        faults.append(str(error))
        return None


def _bars(design: Design, cuts: list[Cut], faults: list[str]) -> BarsNeeded | None:
    try:
        return bars_needed(
            [(cut.length_m, cut.count) for cut in cuts],
            stock_m=design.materials.bar_m,
            kerf_mm=design.materials.kerf_mm,
        )
    except BadInputError as error:
        faults.append(str(error))
        return None


def _cuts(design: Design, placed: tuple[PlacedLine, ...]) -> tuple[Cut, ...]:
    """All rods of the field: mirrors that stand alike are counted together, over uneven ground those whose posts are
    cut to one length."""
    mirror = design.mirror
    form = form_of(mirror)
    arcs = [float(arc) for arc in rib_arc_lengths(form)]
    counted: Counter[Stand] = Counter()
    step = _post_step_m(design, placed)
    for line, its in zip(design.lines, placed, strict=True):
        stand = stand_of(line, mirror)
        if design.ground.heights is None:
            counted[stand] += line.mirrors
            continue
        steps = np.ceil(lay_of(design, its).posts_m / step - 1e-6).astype(int)
        for height, mirrors in zip(*np.unique(steps, return_counts=True), strict=True):
            counted[replace(stand, stands_at_m=round(float(height) * step, 3))] += int(mirrors)
    return tuple(
        Cut(cut.use, cut.length_m, cut.count * mirrors)
        for stand, mirrors in counted.items()
        for cut in rods_of_mirror(
            rib_arcs_m=arcs,
            width_m=mirror.width_m,
            height_m=mirror.height_m,
            stands_at_m=stand.stands_at_m,
            tilt_deg=stand.tilt_deg,
            rise_m=edge_depth(form),
        )
    )


def _post_step_m(design: Design, placed: tuple[PlacedLine, ...]) -> float:
    """Step of the lengths that posts are cut to."""
    posts = [lay_of(design, line).post_ends_m for line in placed]
    if not posts:
        return _POST_STEP_M
    reach = max(longest for _shortest, longest in posts) - min(shortest for shortest, _longest in posts)
    return _POST_STEP_M * max(1, ceil(reach / _POST_STEP_M / _MOST_POSTS))


def _posts_said(design: Design, placed: tuple[PlacedLine, ...]) -> str:
    """From where to where posts reach over uneven ground; empty over a plane, where all of a line are alike."""
    if design.ground.heights is None or not placed:
        return ""
    lays = [lay_of(design, line) for line in placed]
    return _(
        "; vertices stand {least} to {most} m over uneven ground, {total} m in all, cut in steps of {step} m"
    ).format(
        step=number(_post_step_m(design, placed), digits=1),
        least=number(min(lay.post_ends_m[0] for lay in lays), digits=2),
        most=number(max(lay.post_ends_m[1] for lay in lays), digits=2),
        total=number(sum(lay.posts_in_all_m for lay in lays), digits=0),
    )


def _line_parts(design: Design, line: PlacedLine) -> LineParts:
    return parts_of_line(
        mirrors=line.mirrors,
        places=line.count,
        spacing_m=line.spacing_m,
        pipe_end_m=overhang_m(design),
        receiver_length_m=design.receiver.window_width_m,
        mirrors_per_frame=design.motion.mirrors_per_frame,
    )


def _oil_litres(design: Design, lines: LineParts, header: HeaderRun) -> float:
    oil = oil_of(design)
    content = oil_content(
        line_l=pipe_content_l(bore_m=line_pipe_of(design).size.bore_m, length_m=lines.pipe_m),
        header_l=pipe_content_l(bore_m=header_pipe_of(design).size.bore_m, length_m=header.length_m),
        receivers_l=lines.receivers * receiver_of(design).oil_content_m3() * 1000,
        cold_kg_m3=float(oil.density(20.0)),
        hot_kg_m3=float(oil.density(design.oil.outlet_c)),
    )
    return content.to_buy_l * (1.0 + design.materials.oil_spare)


def _quantities(
    design: Design,
    mirrors: int,
    film: FilmOfMirror | None,
    cuts: tuple[Cut, ...],
    rib_bars: BarsNeeded | None,
    stand_bars: BarsNeeded | None,
    posts: str,
    lines: LineParts,
    header: HeaderRun,
    oil_litres: float,
) -> list[Quantity]:
    if not mirrors:
        return []
    materials, ribs = design.materials, form_of(design.mirror).ribs
    listed: list[Quantity] = []

    def add(key: str, label: str, quantity: float, unit: str, source: str, group: str) -> None:
        # the list shows a tenth, so that quantity × price is the sum that stands beside it
        listed.append(Quantity(key, label, round(quantity, 1), unit, source, group))

    if film is not None:
        add(
            "film_per_m2", _("film, {mm} mm strips").format(mm=number(1000 * film.strip_width_m, digits=0)),
            film.bought_area_m2 * mirrors, "m2",
            _("{mirrors} mirrors × {strips} strips of {length} m, {across} side by side on a roll {roll} m wide, 5 % spoilt").format(
                mirrors=mirrors, strips=film.strips, length=number(film.strip_length_m, digits=2),
                across=film.strips_across_roll, roll=number(materials.roll_width_m, digits=2),
            ),
            "mirror",
        )  # fmt: skip
    for key, bars, uses, what, mm in (
        ("rod_bar", rib_bars, [c for c in cuts if c.use == "rib"], _("rib rod"), materials.rod_mm),
        (
            "stand_bar",
            stand_bars,
            [c for c in cuts if c.use != "rib"],
            _("stand rod"),
            materials.stand_rod_mm,
        ),
    ):
        if bars is not None:
            pieces = sum(c.count for c in uses)
            add(
                key, _("{what}, {mm} mm round, bars of {bar} m").format(what=what, mm=number(mm, digits=0), bar=number(materials.bar_m, digits=1)),
                bars.bars, _("bars"),
                _("{pieces} pieces, {length} m in all, kerf {kerf} mm; no way of cutting needs fewer than {bound}").format(
                    pieces=pieces, length=number(sum(c.length_m * c.count for c in uses), digits=0),
                    kerf=number(materials.kerf_mm, digits=1), bound=bars.bound,
                ) + (posts if key == "stand_bar" else ""),
                "mirror",
            )  # fmt: skip
    count = _("{count} mirrors with {ribs} ribs").format(count=mirrors, ribs=ribs)
    add("fixings_per_mirror", _("fixings: clips, wire, anchors"), mirrors, _("sets"), count, "mirror")
    add("labour_per_mirror", _("labour, building and setting up"), mirrors, _("mirrors"), count, "mirror")
    size = line_pipe_of(design).size
    add("line_pipe_per_m", _("line pipe {size}").format(size=size.label), lines.pipe_m, "m",
        _("spacing × (places of mirrors − 1) + mirror width + stroke each way, over {count} lines").format(count=lines.drives), "line")  # fmt: skip
    add("line_insulation_per_m", _("line insulation {mm} mm in a hard jacket").format(mm=number(design.pipe.insulation_mm, digits=0)),
        lines.insulation_m, "m", _("line pipe less the receivers' own length"), "line")  # fmt: skip
    add("receiver", _("receivers"), lines.receivers, _("pieces"), _("one for each mirror"), "line")
    add("frame", _("swing frames with rollers, posts and counterweights"), lines.swing_frames, _("pieces"),
        _("one for each {each} places of mirrors and one more for each line").format(each=design.motion.mirrors_per_frame), "line")  # fmt: skip
    add("drive", _("drives"), lines.drives, _("pieces"), _("one for each line"), "line")
    add("flexible_end", _("flexible ends"), lines.flexible_ends, _("pieces"), _("two for each line"), "line")
    run = header_pipe_of(design).size
    add("header_pipe_per_m", _("header pipe {size}").format(size=run.label), header.length_m, "m",
        _("supply {hot} m + return {cold} m along the ground").format(hot=number(header.hot_m, digits=1), cold=number(header.cold_m, digits=1)), "header")  # fmt: skip
    add("header_insulation_per_m", _("header insulation {mm} mm in its jacket").format(mm=number(design.header.insulation_mm, digits=0)),
        header.length_m, "m", _("the header's length"), "header")  # fmt: skip
    add("support", _("header supports"), header_supports(header.length_m, span_m=_HEADER_SPAN_M), _("pieces"),
        _("none farther apart than {span} m").format(span=number(_HEADER_SPAN_M, digits=0)), "header")  # fmt: skip
    add("oil_per_l", _("oil, {kind}").format(kind=design.oil.kind), oil_litres, "l",
        _("bores × lengths + receivers + the vessel's cold filling, and {spare} % spare").format(spare=number(100 * materials.oil_spare, digits=0)), "oil")  # fmt: skip
    add("pump_and_vessel", _("pump and expansion vessel"), 1, _("set"), _("one for the field"), "oil")
    add(
        "store_and_connection",
        _("store and connection"),
        1,
        _("set"),
        _("one for the field; its size is not worked out yet"),
        "store",
    )
    return listed


def _prices(design: Design) -> dict[str, float | None]:
    return {
        name: value
        for name, value in vars(design.prices).items()
        if value is None or isinstance(value, float)
    }


def _blocks(lines: tuple[PricedLine, ...]) -> tuple[MaterialBlock, ...]:
    headings = {
        "mirror": _("Mirrors"), "line": _("Lines"), "header": _("Header"), "oil": _("Oil"), "store": _("Store"),
    }  # fmt: skip
    blocks = (
        (heading, tuple(line for line in lines if line.group == group)) for group, heading in headings.items()
    )
    return tuple(MaterialBlock(heading, found) for heading, found in blocks if found)
