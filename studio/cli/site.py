"""Commands about a whole site: open it, assess it, check it, list its materials, its schema, examples."""

import json
import sys
from pathlib import Path
from typing import Annotated

import typer

from studio.cli.shared import (
    FORBIDDEN,
    Changes,
    SiteFile,
    Weather,
    assessed,
    read,
    tried,
)


def desk(file: Annotated[Path | None, typer.Argument(metavar="FILE")] = None) -> None:
    """Open the desk, on FILE if one is named."""
    from studio.desk.app import run

    raise SystemExit(run(file))


def assess(
    file: SiteFile,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON for other programs")] = False,
    weather: Weather = None,
    changes: Changes = None,
    curved: Annotated[
        bool, typer.Option("--curved", help="Also print what curved mirrors shade otherwise than flat ones")
    ] = False,
) -> None:
    """Print figures, findings, lines and months of FILE."""
    document = tried(read(file), weather, changes)
    assessment = assessed(document)
    if as_json:
        from studio.papers.figures import as_tree

        sys.stdout.write(
            json.dumps(as_tree(assessment), indent=1, ensure_ascii=False, allow_nan=False) + "\n"
        )
        return
    from studio.papers.figures import print_assessment

    print_assessment(assessment)
    if curved:
        from studio.papers.figures import print_curved
        from studio.study.cache import Cache
        from studio.study.curved import curved_shade_of

        print_curved(curved_shade_of(document, Cache()))


def check(file: SiteFile, weather: Weather = None, changes: Changes = None) -> None:
    """Print what the checks notice in FILE; exit with 1 when a finding forbids building."""
    from studio.papers.figures import print_findings

    assessment = assessed(tried(read(file), weather, changes))
    print_findings(assessment)
    if assessment.forbids:
        raise typer.Exit(FORBIDDEN)


def materials(
    file: SiteFile,
    into: Annotated[Path, typer.Option("--into", metavar="DIR", help="Folder for the material list")],
    overwrite: Annotated[bool, typer.Option("--overwrite", help="Replace lists that are there")] = False,
) -> None:
    """Write the material list of FILE as XLSX, CSV and PDF."""
    from studio.papers.list_of import material_paper
    from studio.papers.materials import write_materials

    assessment = assessed(read(file))
    for path in write_materials(material_paper(assessment), into, overwrite=overwrite):
        sys.stdout.write(f"{path}\n")


def schema() -> None:
    """Print the JSON Schema of a site file."""
    from studio.files.site import json_schema

    sys.stdout.write(json.dumps(json_schema(), indent=1, ensure_ascii=False) + "\n")


def example(
    name: Annotated[str, typer.Argument(metavar="NAME", help="Without it: which examples there are")] = "",
) -> None:
    """Copy an example site into this folder."""
    from studio.files.examples import copy_example, example_names

    if not name:
        sys.stdout.write("".join(f"{known}\n" for known in example_names()))
        return
    sys.stdout.write(f"{copy_example(name, Path.cwd())}\n")
