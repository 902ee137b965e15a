"""Commands about heights: bring them in, and the skyline, from a table or from heights."""

import sys
from pathlib import Path
from typing import Annotated

import typer

from studio.cli.shared import SiteFile, print_tree, read, two_lengths, wrong_use
from studio.text import _

Crs = Annotated[
    str, typer.Option("--crs", help="Its coordinate system, as EPSG:2154; local: its x and y are the site's")
]
Unit = Annotated[str, typer.Option("--unit", help="Of plain x and y: m, ft, '50 ft'")]
HeightUnit = Annotated[str, typer.Option("--height-unit", help="Of the heights: m, ft, us-ft, cm")]
At = Annotated[
    str, typer.Option("--at", metavar="X,Y", help="Where the south-west corner of plain lengths lies, m")
]
Void = Annotated[float | None, typer.Option("--void", help="A height of the file that stands for none")]


def heights(
    file: SiteFile,
    source: Annotated[
        Path,
        typer.Argument(metavar="HEIGHTS", help="A GeoTIFF, an ASCII grid, a table or a map with heights"),
    ],
    crs: Crs = "",
    unit: Unit = "",
    height_unit: HeightUnit = "",
    attribute: Annotated[
        str,
        typer.Option(
            "--attribute", metavar="NAME", help="Of a map's lines and points: what holds their heights"
        ),
    ] = "",
    zero: Annotated[
        float | None,
        typer.Option("--zero", metavar="M", help="Height that counts as zero; else that at 0, 0"),
    ] = None,
    at: At = "",
    void: Void = None,
    swap: Annotated[bool, typer.Option("--swap", help="Take each pair the other way round")] = False,
    table: Annotated[str, typer.Option("--table", help="What a table holds: metres, degrees")] = "",
    move_site: Annotated[
        bool, typer.Option("--move-site", help="Bring the site's reference point to the heights")
    ] = False,
    skyline: Annotated[
        bool, typer.Option("--skyline", help="Take the skyline from these heights too")
    ] = False,
    write: Annotated[
        bool, typer.Option("--write", help="Write them into FILE; without it nothing is changed")
    ] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON for other programs")] = False,
) -> None:
    """Print what HEIGHTS holds and FILE would take of it; with --write take it."""
    from studio.errors import BadInputError
    from studio.files.heights.found import HeightsHow
    from studio.files.heights.into_site import bring_heights_in
    from studio.files.heights.look import look_at_heights
    from studio.files.heights.skyline import skyline_of
    from studio.files.heights.told import look_lines, look_tree
    from studio.files.land.found import How

    how = HeightsHow(
        land=How(crs=crs, unit=unit, swap=swap, table=table), height_unit=height_unit, zero_m=zero,
        at=_place(at), void=void, move_site=move_site, attribute=attribute,
    )  # fmt: skip
    told: tuple[str, ...] = ()
    if write:
        brought = bring_heights_in(source, file, how=how, skyline=skyline)
        look, seen, told = brought.look, brought.skyline, brought.told
    else:
        design = read(file).design
        look = look_at_heights(source, design, how=how)
        if skyline and not look.raster:
            raise BadInputError(
                _("A skyline wants a raster of heights; {name} holds single ones.").format(name=look.name)
            )
        seen = skyline_of(source, design, how=how) if skyline and look.taken is not None else None
    if as_json:
        print_tree(look_tree(look, seen))
        return
    sys.stdout.writelines(f"{line}\n" for line in look_lines(look))
    sys.stdout.writelines(f"  {line}\n" for line in ((*seen.told,) if seen else ()))
    sys.stdout.writelines(f"  {line}\n" for line in told)
    if write:
        sys.stdout.write(f"{file}\n")
    elif look.taken is not None:
        sys.stdout.write(_("Nothing was changed; --write takes it into {path}.").format(path=file) + "\n")


def _place(text: str) -> tuple[float, float] | None:
    return two_lengths(text, "--at") if text.strip() else None


def horizon(
    file: SiteFile,
    into: Annotated[Path, typer.Option("--into", metavar="OUT", help="The site file to write")],
    table: Annotated[
        Path | None, typer.Argument(metavar="CSV", help="Azimuth and elevation in degrees, a pair a line")
    ] = None,
    from_heights: Annotated[
        Path | None,
        typer.Option("--from-heights", metavar="HEIGHTS", help="Work it out from a raster of heights"),
    ] = None,
    crs: Crs = "",
    unit: Unit = "",
    height_unit: HeightUnit = "",
    at: At = "",
    void: Void = None,
    overwrite: Annotated[bool, typer.Option("--overwrite", help="Replace a file that is there")] = False,
) -> None:
    """Give the site of FILE the skyline of a table or of a raster of heights, and write it as another site file."""
    import dataclasses

    from studio.edits.edit import admit
    from studio.edits.obstacles import set_skyline
    from studio.errors import BadInputError
    from studio.files.heights.found import HeightsHow
    from studio.files.heights.skyline import skyline_of
    from studio.files.horizon import read_horizon
    from studio.files.land.found import How
    from studio.files.site import write_site
    from studio.keep import write_whole

    document = read(file)
    told: tuple[str, ...] = ()
    if from_heights is not None and table is None:
        how = HeightsHow(
            How(crs=crs, unit=unit),
            height_unit,
            at=_place(at),
            void=void,
        )
        found = skyline_of(from_heights, document.design, how=how)
        points, told = found.points, found.told
    elif table is not None and from_heights is None:
        points = read_horizon(table)
    else:
        wrong_use(_("horizon wants a table or --from-heights, one of them."))
    edit = admit(document.design, set_skyline(document.design, points=points))
    if into.exists() and not overwrite:
        raise BadInputError(
            _("{path} is there already; --overwrite replaces it, nothing was written.").format(path=into)
        )
    write_whole(into, write_site(dataclasses.replace(document, design=edit.design)), backup=overwrite)
    sys.stdout.writelines(f"{line}\n" for line in (*told, into))
