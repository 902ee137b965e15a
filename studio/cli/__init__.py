"""The command ``stillfield``: open the desk, or do one job and leave.

Exit status: 0 done, 1 a finding forbids building (``check``), 2 wrong use, 3 bad input.
"""

import sys
from io import TextIOWrapper
from pathlib import Path

import typer

from studio.cli import field, heights, land, mirror, picture, site
from studio.cli.shared import BAD_INPUT
from studio.errors import StillfieldError

app = typer.Typer(
    add_completion=False,
    no_args_is_help=False,
    help="Design a field of fixed film mirrors. Without a command the desk opens; a site file may be named.",
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)
app.command(hidden=True)(site.desk)
for _command in (
    site.assess, site.check, site.materials, mirror.spot, mirror.build, mirror.drive, mirror.rank, mirror.search,
    field.curves, field.lane, land.land, land.plant, land.plot, heights.heights, heights.horizon, picture.picture, site.schema,
    site.example,
):  # fmt: skip
    app.command()(_command)


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
