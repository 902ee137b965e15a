"""What stands on the sheet for what is selected: groups of bound fields, all made from the design's declarations."""

import calendar
from collections.abc import Callable
from typing import Any

from studio.design.design import Design
from studio.design.field import Line, OilRow
from studio.design.fields import FieldOf, field_of, fields_of
from studio.design.site import MonthlyWeather, NoBuild
from studio.desk.bound import Bound
from studio.desk.sheet_land import ground_actions, ground_groups, horizon_group, obstacle_page
from studio.desk.sheet_parts import Group, Page, bound_in
from studio.desk.sheet_picture import picture_groups, picture_page
from studio.desk.state import Subject
from studio.edits.fields import set_field, set_line_field, shown_value
from studio.text import _, plural

PLACE = ("x_m", "y_m", "azimuth_deg", "count", "spacing_m", "first_number", "left_out")
OWN_MIRROR = ("tilt_deg", "facing_deg", "stands_at_m")
FIELD_WIDE = ("mirror", "receiver", "motion", "pipe")
WHOLE = ("mirror", "receiver", "motion", "pipe", "header", "oil", "materials", "prices", "money", "marks")


def page_for(design: Design, selection: frozenset[Subject], *, view: str = "plan") -> Page:
    """The sheet for what is selected; with nothing selected, for the site, or for the mirror in its view."""
    ids = tuple(sorted(int(s.key) for s in selection if s.kind == "line"))
    if view == "mirror":
        return _mirror_page(design, ids)
    if ids:
        return _lines_page(design, ids)
    kinds = {subject.kind for subject in selection}
    if "no_build" in kinds:
        place = next(int(s.key) for s in selection if s.kind == "no_build")
        return _area_page(place)
    if "obstacle" in kinds:
        return obstacle_page(design, next(int(s.key) for s in selection if s.kind == "obstacle"))
    if "boundary" in kinds:
        groups = (_section("plot", open_=True), *ground_groups(design, open_=True))
        return Page(_("Plot"), _corners, groups, ("clear_boundary", *ground_actions(design)))
    if "picture" in kinds:
        return picture_page(design)
    if "header" in kinds:
        return Page(
            _("Header"),
            lambda d: _("supply and return"),
            (_section("header", open_=True),),
            ("clear_header",),
        )
    if "store" in kinds:
        return Page(_("Store"), lambda d: _("where the heat is kept"), (_section("store", open_=True),))
    return _site_page(design)


def _section(name: str, *, open_: bool = False, key: str = "") -> Group:
    part = getattr(_ANY, name)
    cls: Any = type(part)
    bounds = tuple(_bound(field, name) for field in fields_of(cls))
    return Group(key or name, _(cls.TITLE), bounds, _BRIEFS.get(name, _nothing), open_, whole=True)


def _bound(field: FieldOf, section: str) -> Bound:
    path = f"{section}.{field.name}"
    return Bound(
        field.declaration,
        lambda d: getattr(getattr(d, section), field.name),
        lambda d, text: set_field(d, path=path, value=text),
        field.optional,
    )


def _nothing(design: Design) -> str:
    return ""


_ANY = Design()


def _said(design: Design, path: str) -> str:
    section, _dot, name = path.partition(".")
    part: Any = getattr(design, section)
    return shown_value(field_of(type(part), name).declaration, getattr(part, name))


_BRIEFS: dict[str, Callable[[Design], str]] = {
    "plot": lambda d: _("setback {m:g} m").format(m=d.plot.setback_m),
    "mirror": lambda d: f"{d.mirror.width_m:g} × {d.mirror.height_m:g} m",
    "receiver": lambda d: _("window {w:g} × {h:g} mm").format(
        w=1000 * d.receiver.window_width_m, h=1000 * d.receiver.window_height_m
    ),
    "motion": lambda d: _("stroke {m:g} m").format(m=d.motion.stroke_m),
    "pipe": lambda d: _said(d, "pipe.size"),
    "header": lambda d: _said(d, "header.size"),
    "oil": lambda d: _("{low:g} to {high:g} °C").format(low=d.oil.inlet_c, high=d.oil.outlet_c),
    "materials": lambda d: _("{m:g} m bars").format(m=d.materials.bar_m),
    "prices": lambda d: f"{d.prices.currency}, {d.prices.date}",
    "money": lambda d: _("{years} years at {rate:g} %").format(
        years=d.money.years, rate=100 * d.money.interest
    ),
    "marks": lambda d: _("shade {limit:g} %").format(limit=100 * d.marks.winter_limit),
}


def _site_page(design: Design) -> Page:
    groups = [
        _section("site", open_=True),
        *_weather_groups(design),
        _section("plot"),
        *ground_groups(design),
        *picture_groups(design),
        horizon_group(),
    ]
    for name in WHOLE:
        groups.append(_section(name))
        if name == "oil":
            groups.extend(_oil_groups(design))

    def about(d: Design) -> str:
        lines = plural("{count} line", "{count} lines", len(d.lines))
        mirrors = plural("{count} mirror", "{count} mirrors", sum(line.mirrors for line in d.lines))
        return f"{lines}, {mirrors}"

    return Page(_("Whole field"), about, tuple(groups), ground_actions(design))


def _weather_groups(design: Design) -> list[Group]:
    weather = design.site.weather
    if not isinstance(weather, MonthlyWeather):
        kept = (bound_in(design, "site.weather.origin"),)
        return [Group("weather", _("Weather from a file"), kept, open=True)]
    names = [calendar.month_abbr[month] for month in range(1, 13)]
    own = tuple(bound_in(design, f"site.weather.{f.name}") for f in fields_of(MonthlyWeather))
    groups = [Group("weather", _("Weather from monthly sums"), own)]
    for key, title in (
        ("dni_kwh_m2_day", _("Daily DNI by month")),
        ("air_c", _("Air by month")),
        ("wind_m_s", _("Wind by month")),
    ):
        bounds = tuple(
            bound_in(design, f"site.weather.{key}.{month}", label=name)
            for month, name in enumerate(names, start=1)
        )
        groups.append(Group(f"weather.{key}", title, bounds, under="weather"))
    return groups


def _oil_groups(design: Design) -> list[Group]:
    groups = []
    declared = fields_of(OilRow)
    for place, row in enumerate(design.oil.rows, start=1):
        bounds = tuple(bound_in(design, f"oil.rows.{place}.{field.name}") for field in declared)
        groups.append(
            Group(f"oil.{place}", _("Oil at {t:g} °C").format(t=row.temperature_c), bounds, under="oil")
        )
    return groups


_FILM = (
    "pull_along_n_m", "pull_across_n_m", "film_um", "wind_on_film_m_s", "scatter_mrad", "reflectance", "dirt_factor",
    "age_factor",
)  # fmt: skip
"""Fields of the mirror that are the film's; the others are its form's."""


def _mirror_page(design: Design, ids: tuple[int, ...]) -> Page:
    """Everything that the light of one mirror comes from."""
    whole = _section("mirror", open_=True)
    cls: Any = type(design.mirror)
    named = list(zip(fields_of(cls), whole.bounds, strict=True))
    form = tuple(bound for field, bound in named if field.name not in _FILM)
    film = tuple(bound for field, bound in named if field.name in _FILM)
    groups = [
        Group("mirror", _("Form"), form, whole.brief, open=True, whole=True),
        Group("film", _("Film"), film, lambda d: _("pulls {a:g} and {b:g} N/m").format(
            a=d.mirror.pull_along_n_m, b=d.mirror.pull_across_n_m
        ), open=True, whole=True),
        _section("receiver", open_=True),
        _section("motion"),
        _section("pipe"),
    ]  # fmt: skip
    if ids:
        own = tuple(_line_bound(name, ids) for name in OWN_MIRROR)
        title = _("Mirror of this line") if len(ids) == 1 else _("Mirror of these lines")
        groups.insert(0, Group("own", title, own, _own_brief(ids), open=True))

    def about(d: Design) -> str:
        mirrors = plural("{count} mirror", "{count} mirrors", sum(line.mirrors for line in d.lines))
        return _("{mirrors} in the field, all alike").format(mirrors=mirrors)

    return Page(_("Mirror"), about, tuple(groups))


def _corners(design: Design) -> str:
    return plural("{count} corner", "{count} corners", len(design.plot.boundary))


def _area_page(place: int) -> Page:
    name = Bound(
        field_of(NoBuild, "name").declaration,
        lambda d: d.plot.no_build[place].name if place < len(d.plot.no_build) else "",
        lambda d, text: set_field(d, path=f"plot.no_build.{place + 1}.name", value=text),
    )
    group = Group("no_build", _("Area"), (name,), open=True)

    def about(d: Design) -> str:
        count = len(d.plot.no_build[place].ring) if place < len(d.plot.no_build) else 0
        return plural("{count} corner", "{count} corners", count)

    return Page(_("No-build area {number}").format(number=place + 1), about, (group,), ("delete_no_build",))


def _lines_page(design: Design, ids: tuple[int, ...]) -> Page:
    one = len(ids) == 1
    place = tuple(
        _line_bound(name, ids)
        for name in PLACE
        if one or name not in ("x_m", "y_m", "first_number", "left_out")
    )
    own = tuple(_line_bound(name, ids) for name in OWN_MIRROR)
    groups = (
        Group("place", _("Place"), place, open=True),
        Group(
            "own", _("Mirror of this line") if one else _("Mirror of these lines"), own, _own_brief(ids), True
        ),
        *(_section(name, key=f"line.{name}") for name in FIELD_WIDE),
    )
    title = _("Line {id}").format(id=ids[0]) if one else _("{count} lines").format(count=len(ids))

    def about(d: Design) -> str:
        chosen = [line for line in d.lines if line.id in ids]
        mirrors = plural("{count} mirror", "{count} mirrors", sum(line.mirrors for line in chosen))
        out = sum(len(line.left_out) for line in chosen)
        return _("{mirrors}, {count} left out").format(mirrors=mirrors, count=out) if out else mirrors

    return Page(title, about, groups, ("cut_square", "repeat_lines", "delete_lines"))


def _own_brief(ids: tuple[int, ...]) -> Callable[[Design], str]:
    def brief(design: Design) -> str:
        lines = [line for line in design.lines if line.id in ids]
        own = any(getattr(line, name) is not None for line in lines for name in OWN_MIRROR)
        return _("its own") if own else _("as field")

    return brief


def _line_bound(name: str, ids: tuple[int, ...]) -> Bound:
    declared = field_of(Line, name)

    def many(design: Design) -> tuple[Any, ...]:
        found = tuple(getattr(line, name) for line in design.lines if line.id in ids)
        return found or (None,)

    inherited = (lambda d: getattr(d.mirror, name)) if name in OWN_MIRROR else None
    return Bound(
        declared.declaration,
        lambda d: many(d)[0],
        lambda d, text: set_line_field(d, ids=ids, name=name, value=text),
        declared.optional,
        inherited=inherited,
        many=many,
    )


def section_title(path: str) -> str:
    """What a person calls the part of the design that a path lies in."""
    part = path.partition(".")[0]
    if part == "lines":
        return _("Lines")
    return _(str(getattr(type(getattr(_ANY, part)), "TITLE", part)))
