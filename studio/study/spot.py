"""One mirror's spot under one sun: both ways of its optics beside each other, every loss, and the flux on its window."""

import re
from dataclasses import dataclass, fields, replace
from math import isfinite

import numpy as np

from studio.design.design import Design
from studio.engine.mirror.blockers import Blocker, Box, Rod
from studio.engine.mirror.cone import Shares, cone_shares
from studio.engine.mirror.flux import FluxPicture, Plane, flux_picture
from studio.engine.mirror.losses import Fate, RaySummary, ray_fates, ray_summary
from studio.engine.mirror.points import spot_points
from studio.engine.mirror.rays import RayShares, ray_hits, ray_shares
from studio.engine.mirror.sunshape import SunShape
from studio.engine.motion.pose import LineMotion, best_poses, window_frames
from studio.engine.sky.calendar import DAYS_OF_MONTHS
from studio.engine.sky.sun import clock_suns
from studio.errors import BadInputError
from studio.study.assessment import Array, PlacedLine
from studio.study.heat import shares_of
from studio.study.optics import errors_of, motion_of, window_of
from studio.study.place import form_of, place_lines
from studio.study.shade import gear_of
from studio.text import _

STRONG_SUN_W_M2 = 1000.0
RAYS = 200_000
MOST_BEYOND_M = 100.0
_PICTURE = 4.0
"""The picture of the flux reaches this many windows across."""
_CELLS = 140
_CLEAR_M = 1e-4
"""A box begins so far behind its own window."""


@dataclass(frozen=True, eq=False)
class SpotAt:
    """The spot of a mirror of line ``line_id`` for a sun.

    ``sun`` (3,) towards it in the site frame, ``off_axis_deg`` from the mirror axis. ``slide_m``, ``roll_deg`` the pose.
    ``cone`` and ``rays``: shares of the reflected light into the window and accepted, by the two ways; ``fates``: what
    became of all light on the film, receivers, pipe, frames and neighbours of its own line in the way. ``flux``: on the
    window's plane or ``beyond_m`` behind it, of what comes that far, at ``dni_w_m2``.
    ``gaussian_serves``: whether the cone way may be trusted.
    """

    line_id: int
    sun: Array
    off_axis_deg: float
    slide_m: float
    roll_deg: float
    best: bool
    cone: Shares
    rays: RayShares
    fates: RaySummary
    flux: FluxPicture
    on_window_kw: float
    window_mean_kw_m2: float
    dni_w_m2: float
    aperture_m2: float
    cosine: float
    reflectance: float
    absorptance: float
    gaussian_serves: bool
    count: int
    beyond_m: float = 0.0

    def losses_w(self) -> dict[str, float]:
        """Watts of one mirror, from the sun on its face to absorbed light: every named loss, in order; they add up."""
        facing = self.dni_w_m2 * self.aperture_m2
        on_film = facing * self.cosine
        steps = {"facing": facing, "cosine": facing - on_film}
        names = [f.name for f in fields(self.fates) if f.name not in ("accepted", "accepted_error")]
        shade = [name for name in names if name.startswith("shaded")]
        after = [name for name in names if not name.startswith("shaded")]
        steps |= {name: on_film * getattr(self.fates, name) for name in shade}
        lit = on_film * (1 - sum(getattr(self.fates, name) for name in shade))
        steps["film"] = lit * (1 - self.reflectance)
        steps |= {name: on_film * self.reflectance * getattr(self.fates, name) for name in after}
        accepted = on_film * self.reflectance * self.fates.accepted
        steps["absorptance"] = accepted * (1 - self.absorptance)
        steps["absorbed"] = accepted * self.absorptance
        return steps


def spot_at(
    design: Design,
    line: PlacedLine,
    sun: Array,
    *,
    slide_m: float | None = None,
    roll_deg: float | None = None,
    dni_w_m2: float = STRONG_SUN_W_M2,
    rays: int = RAYS,
    seed: int = 1,
    sunshape: SunShape = "disc",
    circumsolar_share: float = 0.0,
    beyond_m: float = 0.0,
) -> SpotAt:
    """The spot of a mirror in the middle of ``line`` under ``sun`` (3,), a unit vector of the site frame.

    What of slide and roll is not given is the best within the line's limits; where one is given, the other is not sought
    anew but stays that of the best pose. The rays' sun is of ``sunshape`` with ``circumsolar_share`` of its light about
    it; the picture of the flux stands ``beyond_m`` behind the window (before it where below 0), as if no receiver were in
    the way. Raises BadInputError for a sun behind the mirrors.
    """
    toward = line.axes @ sun
    if toward[2] <= 1e-6:
        raise BadInputError(
            _("The sun stands behind the mirrors of Line {number}, which face another way.").format(
                number=line.id
            )
        )
    if not -design.motion.arm_m < beyond_m <= MOST_BEYOND_M:
        raise BadInputError(
            _(
                "A plane for the flux stands from the arm before the window to {most} m behind it; found {m:g} m."
            ).format(most=MOST_BEYOND_M, m=beyond_m)
        )
    if not 100 <= rays <= 20_000_000:
        raise BadInputError(_("From 100 to 20 000 000 rays can be traced; found {rays}.").format(rays=rays))
    form, errors, window = form_of(design.mirror), errors_of(design), window_of(design)
    motion = motion_of(design.motion, line.axes @ line.along)
    pose = best_poses(form, errors, window, motion, toward[None, :])
    slide = float(pose.slide_m[0]) if slide_m is None else slide_m
    roll = float(pose.roll_deg[0]) if roll_deg is None else roll_deg
    frames = window_frames(motion, np.array([slide]), np.array([roll]))
    points = spot_points(form, errors, sun=toward)
    hits = ray_hits(
        form, errors, window, sun=toward, centre=frames.centre[0], along=frames.along, forward=frames.forward[0],
        rays=rays, generator=np.random.default_rng(seed), sunshape=sunshape, circumsolar_share=circumsolar_share,
    )  # fmt: skip
    step = line.axes @ line.along * line.spacing_m
    beside = tuple(_point(way * step) for way in (-1.0, 1.0)) if line.count > 1 else ()
    fates = ray_fates(
        form, hits, blockers=gear_blockers(design, line, motion, slide, roll), neighbours_m=beside
    )
    shares = shares_of(design)
    reaching = fates >= Fate.MISSED_WINDOW
    wider = 2 * abs(beyond_m) * max(form.width_m, form.height_m) / design.motion.arm_m
    plane = Plane(
        centre_m=frames.centre[0] + beyond_m * frames.forward[0], along=frames.along, forward=frames.forward[0],
        width_m=_PICTURE * window.width_m + wider, height_m=_PICTURE * window.height_m + wider, columns=_CELLS, rows=_CELLS,
    )  # fmt: skip
    flux = flux_picture(
        form, hits, plane, dni_w_m2=dni_w_m2, reflectance=shares.reflectance, passing=reaching
    )
    into = float(np.sum(hits.weight[reaching & hits.inside]))
    on_window = into / len(hits.weight) * form.aperture_m2 * dni_w_m2 * shares.reflectance / 1000
    return SpotAt(
        line_id=line.id,
        sun=sun,
        off_axis_deg=float(np.degrees(np.arccos(np.clip(toward[2], -1, 1)))),
        slide_m=slide,
        roll_deg=roll,
        best=slide_m is None and roll_deg is None,
        cone=cone_shares(points, errors, window, toward[None, :], frames),
        rays=ray_shares(hits),
        fates=ray_summary(hits, fates),
        flux=flux,
        on_window_kw=on_window,
        window_mean_kw_m2=on_window / (window.width_m * window.height_m),
        dni_w_m2=dni_w_m2,
        aperture_m2=form.aperture_m2,
        cosine=float(np.mean(hits.facing)),
        reflectance=shares.reflectance,
        absorptance=shares.absorptance,
        gaussian_serves=errors.gaussian_sun_serves,
        count=rays,
        beyond_m=beyond_m,
    )


def spot_of(
    design: Design,
    *,
    at: str = "",
    sun_deg: tuple[float, float] | None = None,
    line_id: int | None = None,
    slide_m: float | None = None,
    roll_deg: float | None = None,
    dni_w_m2: float = STRONG_SUN_W_M2,
    rays: int = RAYS,
    seed: int = 1,
    sunshape: SunShape = "disc",
    circumsolar_share: float = 0.0,
    beyond_m: float = 0.0,
) -> tuple[SpotAt, str]:
    """The spot as a person asks for it, and the words for its moment: ``at`` a month-day and standard clock time
    ("03-21T10:30", a year before it is passed over), or for the sun at ``sun_deg`` (azimuth, elevation).

    BadInputError where neither or both are given, for a moment without sun and a line that is not there.
    """
    if bool(at) == (sun_deg is not None):
        raise BadInputError(_("Say either when (--at 03-21T10:30) or where the sun stands (--sun 180 45)."))
    if not (isfinite(dni_w_m2) and 0 < dni_w_m2 <= 1400):
        raise BadInputError(
            _("Direct sunlight is above 0 and up to 1400 W/m2; found {dni:g}.").format(dni=dni_w_m2)
        )
    placed = {line.id: line for line in place_lines(design)}
    if not placed:
        raise BadInputError(_("This design has no line yet; place one first."))
    number = next(iter(placed)) if line_id is None else line_id
    if number not in placed:
        raise BadInputError(_("There is no Line {number}; there are {those}.").format(
            number=number, those=", ".join(map(str, placed))
        ))  # fmt: skip
    direction, when = _by_clock(design, at) if sun_deg is None else _by_angles(*sun_deg)
    if direction[2] <= 0:
        raise BadInputError(_("The sun is not up then ({when}).").format(when=when))
    found = spot_at(
        design, placed[number], direction,
        slide_m=slide_m, roll_deg=roll_deg, dni_w_m2=dni_w_m2, rays=rays, seed=seed,
        sunshape=sunshape, circumsolar_share=circumsolar_share, beyond_m=beyond_m,
    )  # fmt: skip
    return found, when


_TIME = re.compile(r"(?:\d{4}-)?(\d{1,2})-(\d{1,2})[T ](\d{1,2}):(\d{2})")


def _by_clock(design: Design, at: str) -> tuple[Array, str]:
    known = _TIME.fullmatch(at.strip())
    month, day, hour, minute = (int(part) for part in known.groups()) if known else (0, 0, 0, 0)
    if not (1 <= month <= 12 and 1 <= day <= DAYS_OF_MONTHS[month - 1] and hour < 24 and minute < 60):
        raise BadInputError(
            _("{at} is no moment of the year; month-day and clock time are written like 03-21T10:30.").format(
                at=at[:40]
            )
        )
    site, of_year = design.site, sum(DAYS_OF_MONTHS[: month - 1]) + day
    track = clock_suns(
        [of_year], [hour + minute / 60], latitude_deg=site.latitude_deg, longitude_deg=site.longitude_deg,
        altitude_m=site.altitude_m, utc_offset_h=site.utc_offset_h,
    )  # fmt: skip
    solar = float(track.solar_time_h[0])
    when = _("{month:02d}-{day:02d} {hour:02d}:{minute:02d} clock, {solar_h:02d}:{solar_m:02d} solar").format(
        month=month, day=day, hour=hour, minute=minute, solar_h=int(solar), solar_m=int(solar * 60) % 60
    )
    return track.direction[0], when


def _by_angles(azimuth_deg: float, elevation_deg: float) -> tuple[Array, str]:
    if not (abs(azimuth_deg) <= 360 and -90 <= elevation_deg <= 90):
        raise BadInputError(
            _(
                "The sun's azimuth lies within ±360° and its elevation within ±90°; found {a:g} and {e:g}."
            ).format(a=azimuth_deg, e=elevation_deg)
        )
    azimuth, elevation = np.radians(azimuth_deg), np.radians(elevation_deg)
    level = np.cos(elevation)
    direction = np.array([level * np.sin(azimuth), level * np.cos(azimuth), np.sin(elevation)])
    return direction, _("the sun as given")


def gear_blockers(
    design: Design, line: PlacedLine, motion: LineMotion, slide_m: float, roll_deg: float
) -> tuple[Blocker, ...]:
    """What stands about a mirror in the middle of its line: receivers of it and its neighbours, pipe, frames beside it."""
    gear = gear_of(design, line)
    slide, roll = np.array([slide_m]), np.array([roll_deg])
    window = window_frames(motion, slide, roll)
    arm = window_frames(replace(motion, window_turn_deg=0.0), slide, roll)
    along, outward = window.along, arm.forward[0]
    pipe = (
        window.centre[0] + gear.pipe_offset_m[0] * outward + gear.pipe_offset_m[1] * np.cross(along, outward)
    )
    foot, head = np.array(motion.axis_offset_m), pipe - slide_m * along
    middle, many = line.count // 2, line.count > 1
    run = 1.5 * line.spacing_m if many else gear.overhang_m
    found: list[Blocker] = [
        Rod("pipe", _point(pipe - run * along), _point(pipe + run * along), gear.pipe_diameter_m / 2)
    ]
    facing = window.forward[0]
    axes = (_point(along), _point(np.cross(facing, along)), _point(facing))
    half = (gear.receiver_width_m / 2, gear.receiver_height_m / 2, gear.receiver_depth_m / 2)
    for beside in (-1, 0, 1) if many else (0,):
        behind = window.centre[0] + (half[2] + _CLEAR_M) * facing + beside * line.spacing_m * along
        found.append(Box("receiver", _point(behind), axes, half))
    for gap in (middle, middle + 1):
        if gap % gear.mirrors_per_frame == 0 or gap == line.count:
            seat = (gap - middle - 0.5) * line.spacing_m * along
            found.append(Rod("arm", _point(foot + seat), _point(head + seat), gear.frame_width_m / 2))
    return tuple(found)


def _point(array: Array) -> tuple[float, float, float]:
    x, y, z = (float(part) for part in array)
    return x, y, z
