"""Stage: what the checks notice about how a mirror is built: its film, its ribs, and what both do to each other."""

from collections.abc import Iterator
from math import ceil

from studio.design.design import Design
from studio.design.fields import Count, Quantity, field_of
from studio.design.mirror import Mirror
from studio.engine.mirror.film import Tension
from studio.study.build import (
    AT_WORK_C,
    COLD_C,
    HOT_C,
    MirrorBuild,
    end_rib,
    mirror_build,
    tension_at,
)
from studio.study.findings import Finding, Mend
from studio.text import _, number, percent

MOST_OF_YIELD = 1 / 3
"""Share of its yield beyond which a film under lasting load is taken to creep (common practice, no source)."""
MOST_TENSION_RATIO = 0.25
"""T1/T2 up to which a strip's wrong-way bulge costs little light; see ``engine/mirror/film.py: strip_shape``."""
MOST_END_BOW_M = 0.005
"""Bow of an end rib beyond which the film's edge slackens visibly (a guess)."""
MOST_BOW_SHARE = 0.1
"""Bow over span up to which a rod is reckoned as shallow: the beam's slope is then about 0.3."""
MOST_ADDED_SLOPE = 0.05
"""Share by which the ribs' bow may raise the person's own slope error before it is told."""


def build_findings(design: Design) -> Iterator[Finding]:
    """Every finding about a design's mirrors as they are built; none before a line stands."""
    if not design.lines:
        return
    build, mirror = mirror_build(design), design.mirror
    yield from _wrinkles(build, mirror)
    yield from _stress(build)
    yield from _ratio(build)
    yield from _ribs(build, mirror)
    yield from _end_ribs(build, mirror, design.materials.rod_mm)


def _wrinkles(build: MirrorBuild, mirror: Mirror) -> Iterator[Finding]:
    """Wrinkles at work, else what goes slack on a hot day."""
    film = build.film
    if film.at_work.state != "taut":
        pulls = _pulls_needed(mirror, AT_WORK_C)
        if film.at_work.state == "slack":
            sentence = _("The film lies slack both ways at {hot} °C and carries no form")
        else:
            sentence = _("The film lies in wrinkles at {hot} °C: they add a slope error of {slope} mrad")
        yield Finding(
            key="film_wrinkles",
            severity="caution",
            sentence=sentence.format(
                hot=number(AT_WORK_C, digits=0), slope=number(build.wrinkle_slope_mrad, digits=1)
            ),
            detail=_("Least tension {least} N/m; {pulls} takes the wrinkles out").format(
                least=number(film.at_work.least_n_m, digits=0), pulls=_pulls_said(pulls)
            ),
            value=film.at_work.least_n_m,
            unit="N/m",
            mend=_pull_mend(pulls),
        )
    elif film.when_hot.state != "taut" and film.slack_above_c is not None:
        pulls = _pulls_needed(mirror, HOT_C)
        yield Finding(
            key="film_slack_hot",
            severity="note",
            sentence=_("Above {slack} °C the film loses its pull and wrinkles").format(
                slack=number(film.slack_above_c, digits=0)
            ),
            detail=_("It grows more than steel; {pulls} keeps it taut to {hot} °C").format(
                pulls=_pulls_said(pulls), hot=number(HOT_C, digits=0)
            ),
            value=film.slack_above_c,
            unit="°C",
            mend=_pull_mend(pulls),
        )


def _pulls_needed(mirror: Mirror, temperature_c: float) -> dict[str, float]:
    """The pulls (N/m, whole) by field that leave neither direction pushed at a temperature, where they are too small now.

    The frame is taken as square; heat then takes the same from either direction whatever the other's pull.
    """
    left: Tension = tension_at(mirror, temperature_c)
    needed = {}
    if left.along_n_m < 0:
        needed["pull_along_n_m"] = float(ceil(mirror.pull_along_n_m - left.along_n_m))
    if left.across_n_m < 0:
        needed["pull_across_n_m"] = float(ceil(mirror.pull_across_n_m - left.across_n_m))
    return needed


def _pulls_said(pulls: dict[str, float]) -> str:
    words = {
        "pull_along_n_m": _("a pull of {pull} N/m along the ribs"),
        "pull_across_n_m": _("a pull of {pull} N/m across the ribs"),
    }
    return _(" and ").join(words[key].format(pull=number(pull, digits=0)) for key, pull in pulls.items())


def _pull_mend(pulls: dict[str, float]) -> Mend | None:
    """One field is set at a time; None where one is not enough or none so high is allowed."""
    if len(pulls) != 1:
        return None
    ((name, pull),) = pulls.items()
    declaration = field_of(Mirror, name).declaration
    if not isinstance(declaration, Quantity) or pull > declaration.high:
        return None
    return Mend(
        _("Set {field} to {pull} N/m").format(field=_(declaration.label), pull=number(pull, digits=0)),
        "set_field",
        {"path": f"mirror.{name}", "value": pull},
    )


def _stress(build: MirrorBuild) -> Iterator[Finding]:
    share = build.film.yield_share
    if share <= MOST_OF_YIELD:
        return
    yield Finding(
        key="film_stress",
        severity="caution",
        sentence=_(
            "The film is pulled to {share} % of its yield: it creeps and may tear at the clips"
        ).format(share=percent(share, digits=0)),
        detail=_("Largest of: as pulled, at {cold} °C, in wind. Pull less, or take thicker film").format(
            cold=number(COLD_C, digits=0)
        ),
        value=share,
    )


def _ratio(build: MirrorBuild) -> Iterator[Finding]:
    film = build.film
    # a pull of exactly a quarter passes whatever its rounding
    if film.tension_ratio <= MOST_TENSION_RATIO * (1 + 1e-9):
        return
    yield Finding(
        key="strips_bulge",
        severity="note",
        sentence=_("The pull along the ribs bulges the strips by {sag} mm the wrong way").format(
            sag=number(1000 * film.calm.sag_m, digits=2)
        ),
        detail=_(
            "Slope at their edges {slope} mrad; little is lost up to a quarter of the pull across"
        ).format(slope=number(film.calm.edge_slope_mrad, digits=1)),
        value=film.tension_ratio,
        mend=_pull_mend({"pull_across_n_m": float(ceil(film.pulled.along_n_m / MOST_TENSION_RATIO))}),
    )


def _ribs(build: MirrorBuild, mirror: Mirror) -> Iterator[Finding]:
    rib = build.tightest
    if rib.bending.hold_n_m is not None:
        yield Finding(
            key="ribs_sprung",
            severity="note",
            sentence=_(
                "Ribs of this rod stay elastic: sprung to their curve, they must be held by {moment} N·m at both ends"
            ).format(moment=number(rib.bending.hold_n_m)),
            detail=_(
                "A sprung rod whips when a clip lets go; bent to {radius} m first, it keeps its curve by itself"
            ).format(radius=number(rib.bending.bend_to_m, digits=2)),
            value=rib.bending.hold_n_m,
            unit="N·m",
        )
    elif rib.scatter.slope_mrad > mirror.slope_error_mrad:
        yield Finding(
            key="ribs_scatter",
            severity="note",
            sentence=_(
                "Ribs bent alike differ by their steel: ± {tip} mm at the tips, {slope} mrad where nothing holds them"
            ).format(
                tip=number(1000 * rib.tip_scatter_m, digits=1),
                slope=number(rib.scatter.slope_mrad, digits=1),
            ),
            detail=_(
                "Bend to about {radius} m, then correct each to a template; it springs back to {wanted} m"
            ).format(radius=number(rib.bending.bend_to_m, digits=2), wanted=number(rib.radius_m, digits=2)),
            value=1000 * rib.tip_scatter_m,
            unit="mm",
        )
    bow = max(abs(one.bow_in_wind.sag_m) for one in build.ribs)
    if build.bow_slope_mrad**2 > ((1 + MOST_ADDED_SLOPE) ** 2 - 1) * mirror.slope_error_mrad**2:
        yield Finding(
            key="ribs_bow",
            severity="caution",
            sentence=_("Film and wind bow the ribs by {bow} mm between their holds").format(
                bow=_bow_said(build, bow)
            ),
            detail=_("With it the slope error is {slope} mrad; more holds or a thicker rod help").format(
                slope=number(build.slope_error_total_mrad)
            ),
            value=build.bow_slope_mrad,
            unit="mrad",
        )


def _bow_said(build: MirrorBuild, bow_m: float) -> str:
    """A bow in mm; beyond ``MOST_BOW_SHARE`` of the span only that it is more."""
    most = MOST_BOW_SHARE * build.span_m
    if bow_m > most:
        return _("more than {most}").format(most=number(1000 * most, digits=0))
    return number(1000 * bow_m, digits=1)


def _end_ribs(build: MirrorBuild, mirror: Mirror, rod_mm: float) -> Iterator[Finding]:
    if build.end_rib.sag_m <= MOST_END_BOW_M:
        return
    declaration = field_of(Mirror, "rib_holds").declaration
    most = declaration.high if isinstance(declaration, Count) else mirror.rib_holds
    enough = next(
        (
            holds
            for holds in range(mirror.rib_holds + 1, most + 1)
            if end_rib(mirror, rod_mm, holds=holds).sag_m <= MOST_END_BOW_M
        ),
        None,
    )
    yield Finding(
        key="end_ribs_bow",
        severity="note",
        sentence=_("The film draws the end ribs {bow} mm inward between their holds").format(
            bow=_bow_said(build, build.end_rib.sag_m)
        ),
        detail=_("Its edge slackens there; a thicker rod or more spreaders keep it straight"),
        value=1000 * build.end_rib.sag_m,
        unit="mm",
        mend=None
        if enough is None
        else Mend(
            _("Hold each rib at {count} places").format(count=enough),
            "set_field",
            {"path": "mirror.rib_holds", "value": enough},
        ),
    )
