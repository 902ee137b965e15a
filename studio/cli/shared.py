"""What all commands share: the program, its options, and reading, trying and writing site files."""

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from studio.text import _

if TYPE_CHECKING:
    from studio.design.design import Document
    from studio.study.assessment import Assessment

WRONG_USE, BAD_INPUT, FORBIDDEN = 2, 3, 1

SiteFile = Annotated[Path, typer.Argument(metavar="FILE", help="A site file, ending .stillfield")]
Weather = Annotated[
    Path | None, typer.Option("--weather", help="Try another year, from a public weather file")
]
Changes = Annotated[
    list[str] | None,
    typer.Option("--set", metavar="PATH=VALUE", help="Try a change, as mirror.ribs=9 or lines.3.count=24"),
]


def read(file: Path) -> "Document":
    from studio.files.site import open_site

    return open_site(file)


def write(site: Path, document: "Document") -> None:
    """The document as a site file; what was there stays beside it."""
    from studio.errors import BadInputError
    from studio.files.lock import hold
    from studio.files.site import ENDING, write_site
    from studio.keep import write_whole

    if site.suffix != ENDING:
        raise BadInputError(
            _("{name} is no site file; its name should end in {ending}.").format(
                name=site.name, ending=ENDING
            )
        )
    with hold(site):
        write_whole(site, write_site(document), backup=True)


def tried(document: "Document", weather: Path | None, changes: list[str] | None) -> "Document":
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
            wrong_use(_("--set wants PATH=VALUE, as mirror.ribs=9; found '{found}'.").format(found=change))
        edit = set_field(document.design, path=path.strip(), value=value.strip())
        admit(document.design, edit, assets=dict(document.assets))
        document = dataclasses.replace(document, design=edit.design)
    return document


def print_tree(tree: dict[str, Any]) -> None:
    sys.stdout.write(json.dumps(tree, indent=1, ensure_ascii=False, allow_nan=False) + "\n")


def wrong_use(sentence: str) -> Any:
    sys.stderr.write(f"{sentence}\n")
    raise typer.Exit(WRONG_USE)


def two_lengths(text: str, option: str) -> tuple[float, float]:
    """A place given as two lengths in metres apart by a comma."""
    from math import isfinite

    try:
        x, y = (float(part) for part in text.split(","))
    except ValueError:
        x = y = float("nan")
    if not (isfinite(x) and isfinite(y)):
        wrong_use(
            _("{option} wants two lengths in metres, as 12.5,-40; found '{found}'.").format(
                option=option, found=text[:40]
            )
        )
    return x, y


def assessed(document: "Document") -> "Assessment":
    from studio.study.assess import Assessor

    return Assessor().assess(document)
