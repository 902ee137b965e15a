"""Commands about a whole field: its curves over pitch, spacing and azimuth, and lanes across its lines."""

import sys
from pathlib import Path
from typing import Annotated, get_args

import typer

from studio.cli.shared import (
    Changes,
    SiteFile,
    Weather,
    print_tree,
    read,
    tried,
    two_lengths,
    write,
    wrong_use,
)
from studio.text import _


def curves(
    file: SiteFile,
    over: Annotated[
        str, typer.Option("--over", help="pitch, spacing or azimuth, of all lines alike")
    ] = "pitch",
    low: Annotated[
        float | None, typer.Option("--from", metavar="VALUE", help="First value, m or degrees")
    ] = None,
    high: Annotated[
        float | None, typer.Option("--to", metavar="VALUE", help="Last value, m or degrees")
    ] = None,
    points: Annotated[int | None, typer.Option("--points", metavar="N", help="How many values")] = None,
    planted: Annotated[bool, typer.Option("--planted", help="Plant the plot anew at each value")] = False,
    facing_turns: Annotated[
        bool, typer.Option("--facing-turns", help="Over the azimuth: mirrors turn with their lines")
    ] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON for other programs")] = False,
    as_csv: Annotated[
        Path | None, typer.Option("--csv", metavar="TABLE", help="Write the points as CSV")
    ] = None,
    overwrite: Annotated[bool, typer.Option("--overwrite", help="Replace a table that is there")] = False,
    weather: Weather = None,
    changes: Changes = None,
) -> None:
    """Print heat, winter shade, land use, pipe and cost of FILE's field over its pitch, spacing or azimuth."""
    from studio.edits.variants import Over, even_values, present_value, usual_values, variant

    if over not in get_args(Over):
        wrong_use(_("--over wants pitch, spacing or azimuth; found '{found}'.").format(found=over[:40]))
    chosen: Over = "pitch" if over == "pitch" else "spacing" if over == "spacing" else "azimuth"
    if facing_turns and chosen != "azimuth":
        wrong_use(_("--facing-turns goes with --over azimuth."))

    from studio.papers.field_curves import curve_tree, print_curve, write_curve
    from studio.papers.ranking import progress
    from studio.study.assess import Assessor
    from studio.study.field_curves import field_curve, usual_points

    document = tried(read(file), weather, changes)
    design = document.design
    count = usual_points(design) if points is None else points
    values = usual_values(design, chosen, points=count)
    if low is not None or high is not None or points is not None:
        values = even_values(
            design, chosen, low=values[0] if low is None else low, high=values[-1] if high is None else high,
            points=count,
        )  # fmt: skip
    with progress() as watch:
        found = field_curve(
            document, values, here=present_value(design, chosen), assessor=Assessor(), watch=watch,
            make=lambda value: variant(
                design, over=chosen, value=value, planted=planted, facing_turns=facing_turns
            ),
        )  # fmt: skip
    if as_csv is not None:
        for path in write_curve(found, chosen, as_csv, overwrite=overwrite):
            sys.stdout.write(f"{path}\n")
    if as_json:
        print_tree(curve_tree(found, design, chosen, planted=planted, facing_turns=facing_turns))
    elif as_csv is None:
        print_curve(found, design, chosen, planted=planted, facing_turns=facing_turns)


def lane(
    file: SiteFile,
    start: Annotated[
        str, typer.Option("--from", metavar="X,Y", help="One end, m east and north of the reference point")
    ],
    end: Annotated[str, typer.Option("--to", metavar="X,Y", help="The other end")],
    width: Annotated[float, typer.Option("--width", metavar="M", help="Clear width between mirrors")],
    into: Annotated[
        Path | None, typer.Option("--into", metavar="SITE", help="Write this site file, which may be FILE")
    ] = None,
) -> None:
    """Leave out the mirrors of FILE that a lane across the lines meets; nothing is written without --into."""
    import dataclasses

    from studio.edits.registry import apply_edit
    from studio.papers.planting import lane_lines

    document = read(file)
    ends = {"start": two_lengths(start, "--from"), "end": two_lengths(end, "--to")}
    edit = apply_edit(document.design, "lane_across", {**ends, "width_m": width})
    if into is not None:
        write(into, dataclasses.replace(document, design=edit.design))
    sys.stdout.writelines(f"{line}\n" for line in lane_lines(document.design, edit))
    if into is not None:
        sys.stdout.write(f"{into}\n")
