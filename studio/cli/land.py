"""Commands about its land: bring it in, plant it, give it out."""

import sys
from pathlib import Path
from typing import Annotated

import typer

from studio.cli.shared import SiteFile, print_tree, read, write, wrong_use
from studio.text import _


def land(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A map, a drawing or a table of corners")],
    into: Annotated[
        Path | None, typer.Option("--into", metavar="SITE", help="Take it into this site file, new or there")
    ] = None,
    area: Annotated[
        int | None, typer.Option("--area", metavar="N", help="Which of its areas is the plot")
    ] = None,
    no_build: Annotated[
        list[int] | None, typer.Option("--no-build", metavar="N", help="Areas where nothing is built")
    ] = None,
    holes: Annotated[
        bool, typer.Option("--holes/--no-holes", help="Holes of the plot as no-build areas, or left out")
    ] = True,
    crs: Annotated[
        str, typer.Option("--crs", help="Its coordinate system, as EPSG:2154; local: plain lengths")
    ] = "",
    unit: Annotated[str, typer.Option("--unit", help="Of plain lengths: m, mm, ft, us-ft")] = "",
    swap: Annotated[bool, typer.Option("--swap", help="Take each pair the other way round")] = False,
    table: Annotated[str, typer.Option("--table", help="What a table holds: metres, degrees, traverse")] = "",
    adjust: Annotated[bool, typer.Option("--adjust", help="Spread a misclosure by the compass rule")] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON for other programs")] = False,
) -> None:
    """Print what a land FILE holds; with --into take it as the plot of a site file."""
    from studio.files.land.found import How, LandChoice
    from studio.files.land.into_site import bring_in
    from studio.files.land.look import look_at
    from studio.files.land.told import look_lines, look_tree, taken_lines, taken_tree

    how = How(crs=crs, unit=unit, swap=swap, table=table, adjust=adjust)
    if into is None:
        look = look_at(file, how=how)
        print_tree(look_tree(look)) if as_json else sys.stdout.writelines(f"{x}\n" for x in look_lines(look))
        return
    brought = bring_in(file, into, LandChoice(area, tuple(no_build or ()), holes), how=how)
    if as_json:
        print_tree(taken_tree(brought))
        return
    sys.stdout.writelines(f"{line}\n" for line in taken_lines(brought, into))


def plot(
    file: SiteFile,
    into: Annotated[Path, typer.Option("--into", metavar="DIR", help="Folder for plot.geojson and plot.dxf")],
    overwrite: Annotated[bool, typer.Option("--overwrite", help="Replace files that are there")] = False,
) -> None:
    """Write the plot of FILE with its no-build areas and lines as GeoJSON and DXF."""
    from studio.papers.land_out import write_plot

    for path in write_plot(read(file).design, into, overwrite=overwrite):
        sys.stdout.write(f"{path}\n")


def plant(
    file: SiteFile,
    pitch: Annotated[
        float, typer.Option("--pitch", metavar="M", help="Between neighbouring lines, square to them")
    ],
    azimuth: Annotated[
        float | None,
        typer.Option(
            "--azimuth", metavar="DEG", help="Of the lines; without it: what each edge of the plot offers"
        ),
    ] = None,
    spacing: Annotated[
        float | None, typer.Option("--spacing", metavar="M", help="Between mirrors; else the usual one")
    ] = None,
    longest: Annotated[
        int | None, typer.Option("--longest", metavar="N", help="Mirrors of a line at most")
    ] = None,
    least: Annotated[
        int | None, typer.Option("--least", metavar="N", help="Mirrors of a line at least")
    ] = None,
    lane_every: Annotated[
        int, typer.Option("--lane-every", metavar="K", help="A lane after so many lines; 0: none")
    ] = 0,
    lane: Annotated[
        float, typer.Option("--lane", metavar="M", help="By how much a lane widens the pitch")
    ] = 0.0,
    keep: Annotated[bool, typer.Option("--keep", help="Add to the lines there are")] = False,
    into: Annotated[
        Path | None, typer.Option("--into", metavar="SITE", help="Write this site file, which may be FILE")
    ] = None,
) -> None:
    """Plant the plot of FILE with lines where most mirrors fit; nothing is written without --into."""
    import dataclasses

    from studio.edits.plant import offers
    from studio.edits.registry import apply_edit
    from studio.papers.planting import offer_lines, planting_lines

    document = read(file)
    if azimuth is None:
        if into is not None:
            wrong_use(_("--into wants --azimuth too; without it nothing is planted."))
        found = offers(
            document.design, pitch_m=pitch, spacing_m=spacing, longest=longest, least=least,
            lane_every=lane_every, lane_m=lane, replace=not keep,
        )  # fmt: skip
        sys.stdout.writelines(f"{line}\n" for line in offer_lines(found))
        return
    edit = apply_edit(document.design, "plant_lines", {
        "azimuth_deg": azimuth, "pitch_m": pitch, "spacing_m": spacing, "longest": longest, "least": least,
        "lane_every": lane_every, "lane_m": lane, "replace": not keep,
    })  # fmt: skip
    if into is not None:
        write(into, dataclasses.replace(document, design=edit.design))
    sys.stdout.writelines(f"{line}\n" for line in planting_lines(document.design, edit, kept=keep))
    if into is not None:
        sys.stdout.write(f"{into}\n")
