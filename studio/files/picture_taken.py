"""Taking a read picture into a document: its bytes as an asset, where it lies and where it came from beside it."""

import dataclasses

from studio.design.design import Design, Document
from studio.edits.edit import Edit, admit
from studio.edits.underlay import set_underlay
from studio.files.picture import PictureRead
from studio.files.picture_world import Placement
from studio.files.site import used_assets
from studio.keep import fingerprint
from studio.text import _, number

_LONGEST = 200


def lay_picture(design: Design, picture: PictureRead, placement: Placement) -> Edit:
    """The edit that lays a picture under the plan; its bytes must come into the document's assets before."""
    origin = _("{name}, {width} × {height} pixels").format(
        name=picture.name, width=picture.from_width_px, height=picture.from_height_px
    )
    return set_underlay(
        design, asset=fingerprint(picture.data), x_m=placement.x_m, y_m=placement.y_m,
        m_per_pixel=placement.m_per_pixel, turned_deg=placement.turned_deg,
        origin="".join(c if c.isprintable() else " " for c in origin)[:_LONGEST],
    )  # fmt: skip


def with_picture(document: Document, picture: PictureRead, placement: Placement) -> Document:
    """The document with a picture under its plan; assets that nothing uses any more are dropped.

    Raises BadInputError where the picture would be larger or smaller than a design may hold.
    """
    assets = {**dict(document.assets), fingerprint(picture.data): picture.data}
    edit = admit(document.design, lay_picture(document.design, picture, placement), assets=assets)
    taken = dataclasses.replace(document, design=edit.design, assets=tuple(sorted(assets.items())))
    return dataclasses.replace(taken, assets=used_assets(taken))


def told_placement(picture: PictureRead, placement: Placement) -> str:
    """How large a placed picture is, how it stands and where, in one line."""
    return _("{width} m × {height} m, {size} m a pixel, turned {angle}°, its middle at x {x} m, y {y} m").format(
        width=number(picture.width_px * placement.m_per_pixel, digits=1),
        height=number(picture.height_px * placement.m_per_pixel, digits=1),
        size=number(placement.m_per_pixel, figures=3), angle=number(placement.turned_deg, digits=1),
        x=number(placement.x_m, digits=2), y=number(placement.y_m, digits=2),
    )  # fmt: skip
