"""The command ``stillfield``: open the desk, or do one job and leave.

Exit status: 0 done, 1 a finding forbids building (``check``), 2 wrong use, 3 bad input.
"""

import json
import sys
from io import TextIOWrapper
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from studio.errors import StillfieldError
from studio.text import _

if TYPE_CHECKING:
    from studio.design.design import Document
    from studio.study.assessment import Assessment

WRONG_USE, BAD_INPUT, FORBIDDEN = 2, 3, 1

app = typer.Typer(
    add_completion=False,
    no_args_is_help=False,
    help="Design a field of fixed film mirrors. Without a command the desk opens; a site file may be named.",
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)

SiteFile = Annotated[Path, typer.Argument(metavar="FILE", help="A site file, ending .stillfield")]
Weather = Annotated[
    Path | None, typer.Option("--weather", help="Try another year, from a public weather file")
]
Changes = Annotated[
    list[str] | None,
    typer.Option("--set", metavar="PATH=VALUE", help="Try a change, as mirror.ribs=9 or lines.3.count=24"),
]


def main() -> None:
    """Run the command line; every error a person can meet is one sentence on standard error."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):  # what leaves is UTF-8 whatever the terminal says of itself
            stream.reconfigure(encoding="utf-8", errors="backslashreplace")
    if len(sys.argv) < 2 or _names_a_file(sys.argv[1]):
        sys.argv.insert(1, "desk")
    try:
        app()
    except StillfieldError as error:
        sys.stderr.write(f"{error}\n")
        raise SystemExit(BAD_INPUT) from None


def _names_a_file(word: str) -> bool:
    """Whether the first word is a file for the desk, and neither an option nor a command, spelled right or wrong."""
    if word.startswith("-") or word in {
        command.callback.__name__ for command in app.registered_commands if command.callback
    }:
        return False
    return bool(Path(word).suffix) or len(Path(word).parts) > 1 or Path(word).exists()


@app.command(hidden=True)
def desk(file: Annotated[Path | None, typer.Argument(metavar="FILE")] = None) -> None:
    """Open the desk, on FILE if one is named."""
    from studio.desk.app import run

    raise SystemExit(run(file))


@app.command()
def assess(
    file: SiteFile,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON for other programs")] = False,
    weather: Weather = None,
    changes: Changes = None,
) -> None:
    """Print figures, findings, lines and months of FILE."""
    assessment = _assessed(_tried(_read(file), weather, changes))
    if as_json:
        from studio.papers.figures import as_tree

        sys.stdout.write(
            json.dumps(as_tree(assessment), indent=1, ensure_ascii=False, allow_nan=False) + "\n"
        )
        return
    from studio.papers.figures import print_assessment

    print_assessment(assessment)


@app.command()
def check(file: SiteFile, weather: Weather = None, changes: Changes = None) -> None:
    """Print what the checks notice in FILE; exit with 1 when a finding forbids building."""
    from studio.papers.figures import print_findings

    assessment = _assessed(_tried(_read(file), weather, changes))
    print_findings(assessment)
    if assessment.forbids:
        raise typer.Exit(FORBIDDEN)


@app.command()
def materials(
    file: SiteFile,
    into: Annotated[Path, typer.Option("--into", metavar="DIR", help="Folder for the material list")],
    overwrite: Annotated[bool, typer.Option("--overwrite", help="Replace lists that are there")] = False,
) -> None:
    """Write the material list of FILE as XLSX, CSV and PDF."""
    from studio.papers.list_of import material_paper
    from studio.papers.materials import write_materials

    assessment = _assessed(_read(file))
    for path in write_materials(material_paper(assessment), into, overwrite=overwrite):
        sys.stdout.write(f"{path}\n")


@app.command()
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
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON for other programs")] = False,
    changes: Changes = None,
) -> None:
    """Print a mirror's spot under one sun, by both ways of its optics, with every loss."""
    from studio.papers.spot import print_spot, spot_tree
    from studio.study.spot import spot_of

    found, when = spot_of(
        _tried(_read(file), None, changes).design, at=at, sun_deg=sun, line_id=line,
        slide_m=slide, roll_deg=roll, dni_w_m2=dni, rays=rays, seed=seed,
    )  # fmt: skip
    if as_json:
        sys.stdout.write(json.dumps(spot_tree(found), indent=1, ensure_ascii=False, allow_nan=False) + "\n")
        return
    print_spot(found, when=when)


@app.command()
def rank(
    file: SiteFile,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON for other programs")] = False,
    weather: Weather = None,
    changes: Changes = None,
) -> None:
    """Rank the mirrors on the shelf of FILE, each put into its field, by heat cost, with reasons."""
    from studio.papers.ranking import print_ranking, progress, ranking_tree
    from studio.study.ranking import rank as ranked

    document = _tried(_read(file), weather, changes)
    with progress() as watch:
        ranking = ranked(document, watch=watch)
    if as_json:
        _print_tree(ranking_tree(ranking))
        return
    print_ranking(ranking)


@app.command()
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
        _wrong_use(_("--aim wants one of {aims}; found '{found}'.").format(aims=", ".join(AIMS), found=aim))
    document = _tried(_read(file), weather, changes)
    ranges = [range_of(document.design, text) for text in vary]
    with progress() as watch:
        found = searched(document, vary=ranges, aim=AIMS[aim], watch=watch, budget=budget)
    if as_json:
        _print_tree(search_tree(found))
        return
    print_search(found)


@app.command()
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

    document, cache = _read(file), Cache()
    paper = drive_paper(drive_table_of(document, cache=cache))
    for path in write_drive(paper, into, overwrite=overwrite):
        sys.stdout.write(f"{path}\n")
    sky = sky_of(document.design.site, document.asset, cache)
    first = place_lines(document.design)[0]
    print_drives(
        drives_of(document.design, sky, cache), restrictions_of(document.design, first, sky), paper.cautions
    )


@app.command()
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

    design = _tried(_read(file), None, changes).design
    if into is not None:
        for path in write_ribs(design, into, overwrite=overwrite):
            sys.stdout.write(f"{path}\n")
    print_build(design)


@app.command()
def horizon(
    file: SiteFile,
    table: Annotated[
        Path, typer.Argument(metavar="CSV", help="Azimuth and elevation in degrees, a pair a line")
    ],
    into: Annotated[Path, typer.Option("--into", metavar="OUT", help="The site file to write")],
    overwrite: Annotated[bool, typer.Option("--overwrite", help="Replace a file that is there")] = False,
) -> None:
    """Give the site of FILE the skyline of a table, and write it as another site file."""
    import dataclasses

    from studio.edits.edit import admit
    from studio.edits.obstacles import set_skyline
    from studio.errors import BadInputError
    from studio.files.horizon import read_horizon
    from studio.files.site import write_site
    from studio.keep import write_whole

    document = _read(file)
    edit = admit(document.design, set_skyline(document.design, points=read_horizon(table)))
    if into.exists() and not overwrite:
        raise BadInputError(
            _("{path} is there already; --overwrite replaces it, nothing was written.").format(path=into)
        )
    write_whole(into, write_site(dataclasses.replace(document, design=edit.design)), backup=overwrite)
    sys.stdout.write(f"{into}\n")


@app.command()
def schema() -> None:
    """Print the JSON Schema of a site file."""
    from studio.files.site import json_schema

    sys.stdout.write(json.dumps(json_schema(), indent=1, ensure_ascii=False) + "\n")


@app.command()
def example(
    name: Annotated[str, typer.Argument(metavar="NAME", help="Without it: which examples there are")] = "",
) -> None:
    """Copy an example site into this folder."""
    from studio.files.examples import copy_example, example_names

    if not name:
        sys.stdout.write("".join(f"{known}\n" for known in example_names()))
        return
    sys.stdout.write(f"{copy_example(name, Path.cwd())}\n")


def _read(file: Path) -> "Document":
    from studio.files.site import open_site

    return open_site(file)


def _tried(document: "Document", weather: Path | None, changes: list[str] | None) -> "Document":
    """The document with another year and other values, as asked for; nothing is saved."""
    import dataclasses

    from studio.edits.edit import admit
    from studio.edits.fields import set_field

    if weather is not None:
        from studio.files.weather_taken import with_weather_file

        document = with_weather_file(document, weather)
    for change in changes or ():
        path, given, value = change.partition("=")
        if not given:
            _wrong_use(_("--set wants PATH=VALUE, as mirror.ribs=9; found '{found}'.").format(found=change))
        edit = set_field(document.design, path=path.strip(), value=value.strip())
        admit(document.design, edit, assets=dict(document.assets))
        document = dataclasses.replace(document, design=edit.design)
    return document


def _print_tree(tree: dict[str, Any]) -> None:
    sys.stdout.write(json.dumps(tree, indent=1, ensure_ascii=False, allow_nan=False) + "\n")


def _wrong_use(sentence: str) -> Any:
    sys.stderr.write(f"{sentence}\n")
    raise typer.Exit(WRONG_USE)


def _assessed(document: "Document") -> "Assessment":
    from studio.study.assess import Assessor

    return Assessor().assess(document)
