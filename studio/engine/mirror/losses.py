"""What becomes of every ray of the ray way, each by one named fate, and the shares of light that add up to 1."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from studio.engine.mirror.blockers import Blocker, Gear, Point, meets, meets_neighbour, meets_own_film
from studio.engine.mirror.form import Floats, MirrorForm
from studio.engine.mirror.rays import RayHits
from studio.errors import BadInputError
from studio.text import _


class Fate(IntEnum):
    """The first thing that happens to a ray on its way, in this order."""

    SHADED_BY_OWN_RIM = 0
    SHADED_BY_RECEIVER = 1
    SHADED_BY_PIPE = 2
    SHADED_BY_ARM = 3
    SHADED_BY_NEIGHBOUR = 4
    STOPPED_BY_RECEIVER = 5
    STOPPED_BY_PIPE = 6
    STOPPED_BY_ARM = 7
    STOPPED_BY_MIRROR = 8
    MISSED_WINDOW = 9
    OUTSIDE_ACCEPTANCE = 10
    ACCEPTED = 11


_SHADE: dict[Gear, Fate] = {
    "receiver": Fate.SHADED_BY_RECEIVER,
    "pipe": Fate.SHADED_BY_PIPE,
    "arm": Fate.SHADED_BY_ARM,
}
_STOP: dict[Gear, Fate] = {
    "receiver": Fate.STOPPED_BY_RECEIVER,
    "pipe": Fate.STOPPED_BY_PIPE,
    "arm": Fate.STOPPED_BY_ARM,
}


@dataclass(frozen=True)
class RaySummary:
    """Shares (0..1) of all light that would fall on the front of the film if nothing stood in its way; they add to 1.

    Shade: of the mirror's own rim, of receivers, pipes and arms, of neighbouring mirrors. Stopped: reflected light that
    meets one of these before the window (``stopped_by_mirror``: a neighbour's film or its own opposite side).
    ``missed_window`` passes by the window, or from behind; ``outside_acceptance`` enters too askew. Where two are to
    blame, the first of the order above is. ``accepted_error`` is the standard error of ``accepted``.
    """

    shaded_by_own_rim: float
    shaded_by_receiver: float
    shaded_by_pipe: float
    shaded_by_arm: float
    shaded_by_neighbour: float
    stopped_by_receiver: float
    stopped_by_pipe: float
    stopped_by_arm: float
    stopped_by_mirror: float
    missed_window: float
    outside_acceptance: float
    accepted: float
    accepted_error: float


def ray_fates(
    form: MirrorForm, hits: RayHits, *, blockers: Sequence[Blocker] = (), neighbours_m: Sequence[Point] = ()
) -> NDArray[np.int8]:
    """The ``Fate`` of every ray of ``hits``, (N,).

    ``blockers`` are the gear of this mirror and of those beside it, ``neighbours_m`` the vertices of mirrors of the same
    form that stand alike, from this one's, all in the mirror frame. A receiver's box must not stand in front of its own
    window.
    """
    for offset in neighbours_m:
        if not np.linalg.norm(offset) > 0:
            raise BadInputError(_("A neighbouring mirror cannot stand where the mirror itself stands."))
    fates = np.full(len(hits.facing), Fate.MISSED_WINDOW, dtype=np.int8)
    fates[hits.inside] = Fate.OUTSIDE_ACCEPTANCE
    fates[hits.accepted] = Fate.ACCEPTED
    endless = np.full(len(fates), np.inf)
    reach = np.where(np.isnan(hits.reach_m), np.inf, hits.reach_m)
    # later lines overrule earlier ones: from the last thing that can happen to the first
    fates[meets_own_film(form, hits.start, hits.reflected, reach)] = Fate.STOPPED_BY_MIRROR
    for offset in neighbours_m:
        fates[meets_neighbour(form, offset, hits.start, hits.reflected, reach)] = Fate.STOPPED_BY_MIRROR
    for gear in reversed(_STOP):
        for body in (body for body in blockers if body.gear == gear):
            fates[meets(body, hits.start, hits.reflected, reach)] = _STOP[gear]
    for offset in neighbours_m:
        fates[meets_neighbour(form, offset, hits.start, hits.toward_sun, endless)] = Fate.SHADED_BY_NEIGHBOUR
    for gear in reversed(_SHADE):
        for body in (body for body in blockers if body.gear == gear):
            fates[meets(body, hits.start, hits.toward_sun, endless)] = _SHADE[gear]
    fates[hits.weight < hits.facing] = Fate.SHADED_BY_OWN_RIM
    return fates


def ray_summary(hits: RayHits, fates: NDArray[np.int8]) -> RaySummary:
    """Shares of the light of ``hits`` by its ``fates``; all 0 where no light falls on the film."""
    total = float(np.sum(hits.facing))
    light = np.bincount(fates, weights=hits.facing, minlength=len(Fate)) / (total if total > 0 else np.inf)
    shares = {fate.name.lower(): float(light[fate]) for fate in Fate}
    off: Floats = hits.facing * ((fates == Fate.ACCEPTED) - shares["accepted"])
    error = float(np.sqrt(np.sum(off * off))) / total if total > 0 else 0.0
    return RaySummary(**shares, accepted_error=error)
