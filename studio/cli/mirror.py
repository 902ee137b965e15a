"""Commands about its mirrors and drives: one spot, what to build, drive tables, the shelf ranked, searches."""

import json
import sys
from pathlib import Path
from typing import Annotated

import typer

from studio.cli.shared import (
    Changes,
    SiteFile,
    Weather,
    print_tree,
    read,
    tried,
    wrong_use,
)
from studio.text import _


def spot(
    file: SiteFile,
    at: Annotated[
        str, typer.Option("--at", metavar="TIME", help="Month-day and clock time, as 03-21T10:30")
    ] = "",
    sun: Annotated[
        tuple[float, float] | None,
        typer.Option("--sun", metavar="AZIMUTH ELEVATION", help="Where the sun stands, degrees"),
    ] = None,
    slide: Annotated[
        float | None, typer.Option("--slide", metavar="M", help="Slide instead of the best")
    ] = None,
    roll: Annotated[
        float | None, typer.Option("--roll", metavar="DEG", help="Roll instead of the best")
    ] = None,
    line: Annotated[
        int | None, typer.Option("--line", metavar="NUMBER", help="Which line; else the first")
    ] = None,
    dni: Annotated[
        float, typer.Option("--dni", metavar="W/M2", help="Direct sunlight for watts and flux")
    ] = 1000.0,
    rays: Annotated[
        int, typer.Option("--rays", metavar="N", help="How many rays the ray way traces")
    ] = 200_000,
    seed: Annotated[int, typer.Option("--seed", help="Of the rays; the same seed gives the same rays")] = 1,
    sun_shape: Annotated[
        str, typer.Option("--sun-shape", help="Of the rays' sun: disc, limb (darker rim) or gaussian")
    ] = "disc",
    circumsolar: Annotated[
        float,
        typer.Option(
            "--circumsolar", metavar="SHARE", help="Of the light, from the bright sky round the disc"
        ),
    ] = 0.0,
    beyond: Annotated[
        float, typer.Option("--beyond", metavar="M", help="Flux on a plane so far behind the window")
    ] = 0.0,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON for other programs")] = False,
    changes: Changes = None,
) -> None:
    """Print a mirror's spot under one sun, by both ways of its optics, with every loss."""
    from studio.engine.mirror.sunshape import SunShape
    from studio.papers.spot import print_spot, spot_tree
    from studio.study.spot import spot_of

    shapes: dict[str, SunShape] = {"disc": "disc", "limb": "limb", "gaussian": "gaussian"}
    if sun_shape not in shapes:
        wrong_use(
            _("--sun-shape wants disc, limb or gaussian; found '{found}'.").format(found=sun_shape[:40])
        )
    found, when = spot_of(
        tried(read(file), None, changes).design, at=at, sun_deg=sun, line_id=line,
        slide_m=slide, roll_deg=roll, dni_w_m2=dni, rays=rays, seed=seed,
        sunshape=shapes[sun_shape], circumsolar_share=circumsolar, beyond_m=beyond,
    )  # fmt: skip
    if as_json:
        sys.stdout.write(json.dumps(spot_tree(found), indent=1, ensure_ascii=False, allow_nan=False) + "\n")
        return
    print_spot(found, when=when)


def build(
    file: SiteFile,
    into: Annotated[
        Path | None, typer.Option("--into", metavar="DIR", help="Folder for the ribs' offsets as CSV")
    ] = None,
    overwrite: Annotated[bool, typer.Option("--overwrite", help="Replace a table that is there")] = False,
    changes: Changes = None,
) -> None:
    """Print what a mirror of FILE is built from: ribs, film, workmanship; with --into the ribs' offsets too."""
    from studio.papers.build import print_build, write_ribs

    design = tried(read(file), None, changes).design
    if into is not None:
        for path in write_ribs(design, into, overwrite=overwrite):
            sys.stdout.write(f"{path}\n")
    print_build(design)


def drive(
    file: SiteFile,
    into: Annotated[Path, typer.Option("--into", metavar="DIR", help="Folder for the drive table")],
    overwrite: Annotated[bool, typer.Option("--overwrite", help="Replace tables that are there")] = False,
) -> None:
    """Write the drive table of FILE as CSV, XLSX and PDF, and its compact law as JSON and CSV; print what drives move."""
    from studio.papers.drive import drive_paper, write_drive
    from studio.papers.drive_summary import print_drives
    from studio.study.cache import Cache
    from studio.study.drive import drive_table_of
    from studio.study.one_drive import drives_of
    from studio.study.place import place_lines
    from studio.study.restrictions import restrictions_of
    from studio.study.sky import sky_of

    document, cache = read(file), Cache()
    paper = drive_paper(drive_table_of(document, cache=cache))
    for path in write_drive(paper, into, overwrite=overwrite):
        sys.stdout.write(f"{path}\n")
    sky = sky_of(document.design.site, document.asset, cache)
    first = place_lines(document.design)[0]
    print_drives(
        drives_of(document.design, sky, cache), restrictions_of(document.design, first, sky), paper.cautions
    )


def rank(
    file: SiteFile,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON for other programs")] = False,
    weather: Weather = None,
    changes: Changes = None,
) -> None:
    """Rank the mirrors on the shelf of FILE, each put into its field, by heat cost, with reasons."""
    from studio.papers.ranking import print_ranking, progress, ranking_tree
    from studio.study.ranking import rank as ranked

    document = tried(read(file), weather, changes)
    with progress() as watch:
        ranking = ranked(document, watch=watch)
    if as_json:
        print_tree(ranking_tree(ranking))
        return
    print_ranking(ranking)


def search(
    file: SiteFile,
    vary: Annotated[
        list[str],
        typer.Option("--vary", metavar="PATH=LOW..HIGH", help="What may vary, as mirror.tilt_deg=20..50"),
    ],
    aim: Annotated[str, typer.Option("--aim", help="heat: the most a year; cost: the least a kWh")] = "heat",
    budget: Annotated[int, typer.Option("--budget", metavar="N", help="Designs assessed at most")] = 200,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON for other programs")] = False,
    weather: Weather = None,
    changes: Changes = None,
) -> None:
    """Search the best values of a few fields of FILE within bounds; nothing is saved."""
    from studio.papers.ranking import print_search, progress, search_tree
    from studio.study.ranges import range_of
    from studio.study.search import AIMS
    from studio.study.search import search as searched

    if aim not in AIMS:
        wrong_use(_("--aim wants one of {aims}; found '{found}'.").format(aims=", ".join(AIMS), found=aim))
    document = tried(read(file), weather, changes)
    ranges = [range_of(document.design, text) for text in vary]
    with progress() as watch:
        found = searched(document, vary=ranges, aim=AIMS[aim], watch=watch, budget=budget)
    if as_json:
        print_tree(search_tree(found))
        return
    print_search(found)
