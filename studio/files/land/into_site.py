"""Land into a site file, a new one or one that is there: through the one gate, with what is kept told."""

from contextlib import ExitStack
from dataclasses import dataclass, replace
from pathlib import Path

from studio.design.design import Design, Document
from studio.drawings.on_earth import FARTHEST_M, site_of_degrees
from studio.edits.edit import Edit, admit
from studio.edits.land import take_land
from studio.errors import BadInputError
from studio.files.land.found import How, LandChoice, LandLook, TakenLand
from studio.files.land.look import look_at
from studio.files.land.take import take
from studio.files.lock import hold
from studio.files.site import ENDING, open_site, write_site
from studio.keep import write_whole
from studio.text import _, number, plural


@dataclass(frozen=True)
class Brought:
    """Land that was written into a site file: what was taken, what was doubtful about it, what was kept and replaced."""

    taken: TakenLand
    doubts: tuple[str, ...]
    told: tuple[str, ...]


def edit_of(design: Design, taken: TakenLand) -> Edit:
    """The edit that puts taken land into a design: boundary, no-build areas and, where it is known, the place."""
    return take_land(
        design,
        boundary=taken.boundary,
        no_build=[(area.name, area.ring) for area in taken.no_build],
        latitude_deg=taken.latitude_deg,
        longitude_deg=taken.longitude_deg,
        name=taken.name,
    )


def with_reference_kept(design: Design, look: LandLook, choice: LandChoice) -> LandChoice:
    """The choice with the design's reference point kept, where lines or a picture lie about it and the land is near."""
    place = (design.site.latitude_deg, design.site.longitude_deg)
    if not (design.lines or design.underlay.asset) or choice.about is not None:
        return choice
    usable = [area for area in look.areas if not area.refused and choice.area in (None, area.number)]
    middle = usable[0].middle if len(usable) == 1 else None
    return (
        replace(choice, about=place)
        if middle is not None and _apart_m(place, middle) < FARTHEST_M
        else choice
    )


def _apart_m(place: tuple[float, float], other: tuple[float, float]) -> float:
    """How far two places are apart, east or north; far away counts as endless."""
    try:
        offset = site_of_degrees([other[::-1]], latitude_deg=place[0], longitude_deg=place[1])[0]
    except BadInputError:
        return float("inf")
    return float(abs(offset).max())


def kept_and_replaced(before: Design, after: Design) -> tuple[str, ...]:
    """Sentences about what of a design stays and what the land replaced."""
    told = []
    if before.plot.boundary or before.plot.no_build:
        areas = len(before.plot.no_build)
        told.append(
            plural(
                "The boundary and {count} no-build area that were there are replaced.",
                "The boundary and {count} no-build areas that were there are replaced.",
                areas,
            )
            if areas
            else _("The boundary that was there is replaced.")
        )
    if before.lines:
        kept = plural("{count} line is kept", "{count} lines are kept", len(before.lines))
        told.append(
            _("{lines}, with headers and store, at their metres from the reference point.").format(lines=kept)
        )
    if before.underlay.asset:
        told.append(
            _(
                "The picture under the plan is kept at its metres from the reference point; check where it lies."
            )
        )
    if (before.site.latitude_deg, before.site.longitude_deg) != (
        after.site.latitude_deg,
        after.site.longitude_deg,
    ):
        told.append(
            _("The reference point is now {latitude}, {longitude}; weather and the clock ({clock} h ahead of UTC) are kept, so check them.").format(
                latitude=number(after.site.latitude_deg, digits=6), longitude=number(after.site.longitude_deg, digits=6),
                clock=number(after.site.utc_offset_h, digits=1),
            )
        )  # fmt: skip
    return tuple(told)


def bring_in(land: Path, site: Path, choice: LandChoice, *, how: How) -> Brought:
    """Take land into the site file ``site``, which is made when it is not there and backed up when it is.

    Raises what ``look_at`` and ``take`` raise, LockedError where the file is open elsewhere, KeepingError where it
    cannot be written; the file is then as it was.
    """
    if site.suffix != ENDING:
        raise BadInputError(
            _("{name} is no site file; its name should end in {ending}.").format(
                name=site.name, ending=ENDING
            )
        )
    with ExitStack() as held:
        if there := site.exists():
            held.enter_context(hold(site))
        document = open_site(site) if there else Document()
        before = document.design
        if there and how.near is None:
            how = replace(how, near=(before.site.latitude_deg, before.site.longitude_deg))
        look = look_at(land, how=how)
        taken = take(look, with_reference_kept(before, look, choice))
        if not there:
            before = replace(before, site=replace(before.site, name=taken.name))
        edit = admit(before, edit_of(before, taken))
        data = write_site(replace(document, design=edit.design))
        write_whole(site, data, backup=True)
    doubts = tuple(doubt.sentence for doubt in look.doubts)
    return Brought(taken, doubts, kept_and_replaced(before, edit.design))
