"""What to build a mirror from: ribs and their offsets, film and its pulls, what workmanship gives; terminal and CSV."""

from collections.abc import Iterator
from pathlib import Path

import numpy as np

from studio.design.design import Design
from studio.engine.hazard.cautions import cautions
from studio.engine.mirror.form import rib_depth
from studio.papers.drive_csv import rows_as_csv
from studio.papers.materials_csv import Cell
from studio.papers.terminal import broken, table_of, terminal
from studio.papers.together import write_together
from studio.study.build import AT_WORK_C, COLD_C, HOT_C, PULLED_AT_C, MirrorBuild, mirror_build
from studio.study.place import form_of
from studio.text import DASH, _, number, percent

OFFSET_STEP_M = 0.05
_CAUTIONS = ("light", "eyes", "sprung", "wind", "codes")


def write_ribs(
    design: Design, into: Path, *, overwrite: bool = False, decimal_comma: bool | None = None
) -> tuple[Path, ...]:
    """``ribs.csv``: every rib's offsets from its chord, every 5 cm along it, with the radii to bend to.

    Raises WriteError as ``write_together`` does.
    """
    rows = list(_offsets(design, mirror_build(design)))
    return write_together(
        into, {"ribs.csv": rows_as_csv(rows, decimal_comma=decimal_comma)}, overwrite=overwrite
    )


def _offsets(design: Design, build: MirrorBuild) -> Iterator[tuple[Cell, ...]]:
    yield (
        _("rib"), _("from the mirror's middle, m"), _("along the chord, m"), _("depth under the chord, mm"), _("height over the vertex, mm"),
        _("arc length, m"), _("radius, m"), _("bend to, m"),
    )  # fmt: skip
    form = form_of(design.mirror)
    half = form.height_m / 2
    steps = int(np.floor(half / OFFSET_STEP_M + 1e-9))
    chord = np.unique(np.concatenate([np.arange(-steps, steps + 1) * OFFSET_STEP_M, [-half, half]]).round(6))
    for number_, rib in enumerate(build.ribs, start=1):
        heights = rib_depth(form, rib.x_m, chord)
        top = float(rib_depth(form, rib.x_m, half))
        for y, height in zip(chord, heights, strict=True):
            inner = abs(float(y)) / half
            radius = rib.radius_m + (rib.radius_at_ends_m - rib.radius_m) * inner**2
            bend = rib.bending.bend_to_m + (rib.bend_to_at_ends_m - rib.bending.bend_to_m) * inner**2
            yield (
                float(number_), round(rib.x_m, 4), round(float(y) + half, 4), round(1000 * (top - float(height)), 2),
                round(1000 * float(height), 2), round(rib.arc_m, 4), round(radius, 4), round(bend, 4),
            )  # fmt: skip


def print_build(design: Design) -> None:
    """Ribs, film, workmanship and cautions as tables on the terminal."""
    build, console = mirror_build(design), terminal()
    rod = _("{mm} mm round rod, yield {mpa} MPa; it stays elastic above a radius of {radius} m").format(
        mm=number(1000 * build.rod_diameter_m, digits=0), mpa=number(build.rod.yield_pa / 1e6, digits=0),
        radius=number(build.tightest.bending.least_elastic_radius_m, digits=2),
    )  # fmt: skip
    table = table_of(
        _("Ribs"), _("rib"), _("at, m"), _("arc, m"), _("radius, m"), _("bend to, m"), _("ends, m"), _("bow, mm"), _("hold, N m"),
    )  # fmt: skip
    for place, rib in enumerate(build.ribs, start=1):
        hold = rib.bending.hold_n_m
        table.add_row(
            str(place), number(rib.x_m, digits=3), number(rib.arc_m, digits=3), number(rib.radius_m, digits=3),
            _("sprung") if rib.bending.stays_elastic else number(rib.bending.bend_to_m, digits=3),
            DASH if rib.bending.stays_elastic else number(rib.bend_to_at_ends_m, digits=3),
            number(1000 * rib.bow.sag_m, digits=2), number(hold) if hold is not None else DASH,
        )  # fmt: skip
    console.print(table)
    middle = build.middle
    console.print(broken(rod))
    console.print(
        broken(
            _(
                "Rods bent alike differ by their steel: ± {mm} mm at the tips, {mrad} mrad, unless a template holds them. "
                "An end rib bows {bow} mm inward between its holds."
            ).format(
                mm=number(1000 * middle.tip_scatter_m, digits=1), mrad=number(middle.scatter.slope_mrad, digits=1),
                bow=number(1000 * build.end_rib.sag_m, digits=1),
            )
        )
    )  # fmt: skip
    film = build.film
    rows = (
        (_("pulled at {c} °C").format(c=number(PULLED_AT_C, digits=0)), film.pulled),
        (_("at {c} °C").format(c=number(COLD_C, digits=0)), film.cold),
        (_("at {c} °C").format(c=number(HOT_C, digits=0)), film.hot),
    )
    table = table_of(_("Film"), _("tension"), _("along ribs, N/m"), _("across, N/m"))
    for label, tension in rows:
        table.add_row(label, number(tension.along_n_m, digits=0), number(tension.across_n_m, digits=0))
    console.print(table)
    strips = _(
        "Strips bulge {sag} mm the wrong way ({slope} mrad at their edges), in the mirror's wind {windy} mm; ribs' clips hold {clip} N on "
        "every metre, in wind {gust}. Most of the film's yield: {share} %. Before wrinkles the frame may leave the square by {rack} mm per metre."
    ).format(
        sag=number(1000 * film.calm.sag_m, digits=2), slope=number(film.calm.edge_slope_mrad, digits=1),
        windy=number(1000 * film.in_wind.sag_m, digits=2), clip=number(film.clip_n_m, digits=1),
        gust=number(film.clip_in_wind_n_m, digits=1), share=percent(film.yield_share, digits=0),
        rack=number(film.racking_mm_per_m, digits=2),
    )  # fmt: skip
    console.print(broken(strips))
    if film.at_work.state != "taut":
        told = _("At {c} °C the film is {state}: its least tension is {least} N/m.").format(
            c=number(AT_WORK_C, digits=0),
            state=_(film.at_work.state),
            least=number(film.at_work.least_n_m, digits=0),
        )
        console.print(broken(told))
    console.print("\n" + _("What workmanship gives what slope error"))
    for row in build.workmanship:
        head = f"{number(row.slope_mrad, digits=1):>5} mrad  "
        said = (
            row.words
            if row.setting_out_mm is None
            else _("{words}; set out to {mm} mm").format(
                words=row.words, mm=number(row.setting_out_mm, digits=1)
            )
        )
        console.print(broken(f"{said} ({_(row.origin)})", first=head, after=" " * len(head)))
    total = _("In this design: {given} mrad given, {total} mrad with bow and wrinkles.").format(
        given=number(design.mirror.slope_error_mrad, digits=1),
        total=number(build.slope_error_total_mrad, digits=2),
    )
    console.print(broken(total))
    for caution in cautions():
        if caution.key in _CAUTIONS:
            console.print("\n" + broken(f"{caution.title}: {caution.sentence}"))
