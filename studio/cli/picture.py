"""The command about the picture under its plan: looked at, laid by its world file or by two points, and written."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from studio.cli.shared import SiteFile, print_tree, read, write
from studio.text import _

if TYPE_CHECKING:
    from studio.design.site import Site
    from studio.files.land.found import How
    from studio.files.picture import PictureRead
    from studio.files.picture_world import Placement


def picture(
    site: SiteFile,
    file: Annotated[Path, typer.Argument(metavar="PICTURE", help="A PNG or JPEG of the land from above")],
    world: Annotated[
        Path | None, typer.Option("--world", metavar="FILE", help="Its world file, if not beside it")
    ] = None,
    crs: Annotated[
        str, typer.Option("--crs", help="Of the world file, as EPSG:2154; local: metres of the site")
    ] = "",
    unit: Annotated[str, typer.Option("--unit", help="Of plain lengths: m, mm, ft, us-ft")] = "",
    swap: Annotated[
        bool, typer.Option("--swap", help="Take each pair of the world file the other way round")
    ] = False,
    two_points: Annotated[
        tuple[str, str] | None,
        typer.Option(
            "--two-points", metavar="x,y:X,Y x,y:X,Y", help="Pixels from the upper left and site metres"
        ),
    ] = None,
    save: Annotated[
        bool, typer.Option("--write", help="Lay it under the plan of FILE; else only look")
    ] = False,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON for other programs")] = False,
) -> None:
    """Print what PICTURE holds and where it would lie; with --write lay it under the plan of FILE."""
    from studio.errors import BadInputError
    from studio.files.land.found import How
    from studio.files.picture import read_picture
    from studio.files.picture_taken import told_placement, with_picture

    document = read(site)
    found = read_picture(file)
    placement = _placement(file, found, document.design.site, world, How(crs, unit, swap), two_points)
    if as_json:
        print_tree(_tree(found, placement))
    else:
        sys.stdout.write(
            _("{name}: {width} × {height} pixels").format(
                name=found.name, width=found.from_width_px, height=found.from_height_px
            )
            + "\n"
        )
        sys.stdout.writelines(f"  {line}\n" for line in found.told)
        if placement is not None:
            sys.stdout.write(f"  {told_placement(found, placement)}\n")
            sys.stdout.writelines(f"  {line}\n" for line in placement.told)
            for doubt in placement.doubts:
                sys.stdout.write(f"  ? {doubt}\n")
                codes = (mend for mend in doubt.mends if mend.how.crs)
                sys.stdout.writelines(f"      - {mend.label} (--crs {mend.how.crs})\n" for mend in codes)
    if not save:
        return
    if placement is None:
        raise BadInputError(
            _(
                "Where {name} lies must be said first: a world file (--world) or --two-points would do."
            ).format(name=found.name)
        )
    if placement.system is not None and not placement.system.sure:
        raise BadInputError(
            _("Which coordinate system the world file of {name} is in must be said first (--crs).").format(
                name=found.name
            )
        )
    write(site, with_picture(document, found, placement))
    if not as_json:
        sys.stdout.write(f"{site}\n")


def _placement(
    file: Path,
    found: "PictureRead",
    site: "Site",
    world: Path | None,
    how: "How",
    two_points: tuple[str, str] | None,
) -> "Placement | None":
    from studio.files.picture_world import place_by_points, place_by_world, read_world, world_beside

    if two_points is not None:
        pairs = [_pair(text) for text in two_points]
        return place_by_points(found, [pair[:2] for pair in pairs], [pair[2:] for pair in pairs])
    path = world or world_beside(file)
    if path is None:
        return None
    return place_by_world(
        found, read_world(path), latitude_deg=site.latitude_deg, longitude_deg=site.longitude_deg, how=how
    )


def _pair(text: str) -> tuple[float, float, float, float]:
    """``x,y:X,Y`` as numbers."""
    from math import isfinite

    from studio.errors import BadInputError

    parts = text.replace(":", ",").split(",")
    try:
        x, y, to_x, to_y = (float(part) for part in parts)
    except ValueError:
        x = y = to_x = to_y = float("nan")
    if text.count(":") != 1 or not all(map(isfinite, (x, y, to_x, to_y))):
        raise BadInputError(
            _(
                "“{found}” is no point; x,y:X,Y as 120,340:0.0,25.5 would be right, with a point for decimals."
            ).format(found=text[:40])
        )
    return x, y, to_x, to_y


def _tree(found: "PictureRead", placement: "Placement | None") -> dict[str, object]:
    tree: dict[str, object] = {
        "name": found.name, "width_px": found.from_width_px, "height_px": found.from_height_px,
        "kept_width_px": found.width_px, "kept_height_px": found.height_px, "kept_bytes": len(found.data),
        "told": list(found.told), "placement": None,
    }  # fmt: skip
    if placement is not None:
        system = placement.system
        tree["placement"] = {
            "x_m": placement.x_m, "y_m": placement.y_m, "m_per_kept_pixel": placement.m_per_pixel,
            "turned_deg": placement.turned_deg, "off_m": placement.off_m, "told": list(placement.told),
            "crs": system.code if system else "", "sure": system is None or system.sure,
            "doubts": [doubt.sentence for doubt in placement.doubts],
        }  # fmt: skip
    return tree
