"""What a planting gives and a lane takes, for a person at a terminal."""

from collections.abc import Iterator, Sequence

from shapely import Polygon

from studio.design.design import Design
from studio.edits.edit import Edit
from studio.edits.geometry import compass_word, first_vertex, square
from studio.edits.places import in_ranges, standing
from studio.edits.plant import Offer
from studio.text import _, number, percent, plural


def planting_lines(before: Design, edit: Edit, *, kept: bool) -> Iterator[str]:
    """Sentences about the lines that an edit planted: how many, with what, where the first one lies, land use."""
    old = {line.id for line in before.lines} if kept else set()
    new = [line for line in edit.design.lines if line.id not in old]
    counts = [line.count for line in new]
    first, mirror = new[0], edit.design.mirror
    x, y = square(first.azimuth_deg)
    yield edit.label
    yield _("{lines} lines, {mirrors} mirrors, {least} to {most} on a line, spaced at {spacing} m").format(
        lines=len(new), mirrors=number(sum(counts), digits=0), least=min(counts), most=max(counts),
        spacing=number(first.spacing_m, digits=2),
    )  # fmt: skip
    away = first_vertex(first)[0] * x + first_vertex(first)[1] * y
    yield _("Line {id} lies {offset} m from the reference point, square to the lines, towards {side}").format(
        id=first.id,
        offset=number(abs(away), digits=3),
        side=compass_word((first.azimuth_deg + (-90.0 if away >= 0 else 90.0)) % 360.0),
    )
    aperture = sum(line.mirrors for line in edit.design.lines) * mirror.width_m * mirror.height_m
    yield _("Land use: {share} % of the plot is mirror aperture").format(
        share=percent(aperture / Polygon(edit.design.plot.boundary).area)
    )


def lane_lines(before: Design, edit: Edit) -> Iterator[str]:
    """Sentences about the mirrors that a lane takes from each line, and what stays in its way."""
    yield edit.label
    after = {line.id: standing(line) for line in edit.design.lines}
    for line in before.lines:
        left = after[line.id]
        gone = [one for one in standing(line) if one not in left]
        if gone:
            yield _("Line {id}: without {numbers}, {left}").format(
                id=line.id, numbers=in_ranges(gone), left=plural("{count} stands", "{count} stand", len(left))
            )
    yield _("Pipes, frames and drives stay: what drives along the lane passes below the pipes or not at all.")


def offer_lines(offers: Sequence[Offer]) -> Iterator[str]:
    """What lines along each of the plot's edges would hold, most mirrors first."""
    if not offers:
        yield _("Along none of the plot's edges a line fits.")
    for offer in offers:
        yield _("along {azimuth}°: {mirrors} mirrors").format(
            azimuth=number(offer.azimuth_deg, digits=2), mirrors=number(offer.mirrors, digits=0)
        )
