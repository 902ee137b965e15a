"""Heights into a design and into a site file: through the one gate, with what is kept and replaced told."""

from dataclasses import dataclass, replace
from pathlib import Path

from studio.design.design import Design
from studio.edits.edit import Edit, admit
from studio.edits.land import set_heights
from studio.errors import BadInputError
from studio.files.heights.found import HeightsHow, HeightsLook
from studio.files.heights.look import look_at_heights
from studio.files.heights.skyline import SkylineFound, skyline_of
from studio.files.lock import hold
from studio.files.site import open_site, write_site
from studio.keep import write_whole
from studio.text import _, number


@dataclass(frozen=True)
class BroughtHeights:
    """Heights that were written into a site file, with what that did in sentences."""

    look: HeightsLook
    skyline: SkylineFound | None
    told: tuple[str, ...]


def edit_of(design: Design, look: HeightsLook, skyline: SkylineFound | None = None) -> Edit:
    """The edit that puts heights into a design. BadInputError where something must be said first."""
    taken = look.taken
    if taken is None:
        raise BadInputError(look.refused)
    return admit(
        design,
        set_heights(
            design,
            heights=taken.heights,
            latitude_deg=taken.latitude_deg,
            longitude_deg=taken.longitude_deg,
            skyline=skyline.points if skyline is not None else None,
        ),
    )


def kept_and_replaced(before: Design, after: Design) -> tuple[str, ...]:
    """Sentences about what of a design the heights replace."""
    told = []
    if before.ground.heights is not None:
        told.append(
            _("The heights from {name} that were there are replaced.").format(
                name=before.ground.heights.origin or _("a table")
            )
        )
    elif before.ground.slope_percent > 0:
        told.append(
            _(
                "They stand in place of the plane slope of {slope} %, which is kept for when they are taken away."
            ).format(slope=number(before.ground.slope_percent, digits=1))
        )
    if after.horizon != before.horizon and before.horizon.skyline:
        told.append(_("The skyline that was there is replaced."))
    if (before.site.latitude_deg, before.site.longitude_deg) != (
        after.site.latitude_deg,
        after.site.longitude_deg,
    ):
        told.append(
            _("The reference point is now {latitude}, {longitude}; all metres from it are kept, so are weather and clock: check them.").format(
                latitude=number(after.site.latitude_deg, digits=6), longitude=number(after.site.longitude_deg, digits=6)
            )
        )  # fmt: skip
    return tuple(told)


def bring_heights_in(file: Path, site: Path, *, how: HeightsHow, skyline: bool = False) -> BroughtHeights:
    """Take heights into the site file ``site``, which is backed up.

    Raises what ``look_at_heights`` and ``edit_of`` raise, LockedError where the site is open elsewhere, KeepingError where
    it cannot be written; it is then as it was.
    """
    with hold(site):
        document = open_site(site)
        before = document.design
        look = look_at_heights(file, before, how=how)
        if skyline and not look.raster:
            raise BadInputError(
                _("A skyline wants a raster of heights; {name} holds single ones.").format(name=look.name)
            )
        seen = skyline_of(file, before, how=how) if skyline and look.taken is not None else None
        edit = edit_of(before, look, seen)
        write_whole(site, write_site(replace(document, design=edit.design)), backup=True)
    return BroughtHeights(look, seen, kept_and_replaced(before, edit.design))
