"""The year the slow way: every quarter hour, every mirror, rays on the ruled film, shadows by polygons.

What it shares with the live way are the parameters of the design, the weather and the poses: a pose is a setting, read here
from the design's own drive table at the quarter hour's own sun. The sun is taken from pvlib with its own clock; where
gear stands, what it throws and which rays get through is worked out here again, with shapely and with
``studio.engine.mirror.rays``, which the live way does not use. Every ray is judged twice: "flat", where apertures are flat
rectangles in the plane of the rim's corners, as casters and as what is shaded, and "curved", where mirrors cast the shadow
of their own rim and a ray is in the shade where its way from the film to the sun passes that plane within a shadow.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from pvlib import solarposition

from studio.design.design import Document
from studio.study.cache import Cache
from studio.study.sky import sky_of
from tests.study.slow_field import CAUSES, Floats, Ints, SlowField

QUARTERS = 4 * 8760
_BANDS = 24


@dataclass(frozen=True)
class SlowYear:
    """Sums of the year in kWh by ``CAUSES``, and of each its standard error from quarters and rays drawn.

    ``kwh`` and ``error_kwh`` are of the curved form, ``flat_kwh`` and ``flat_error_kwh`` of flat apertures, the same rays.
    ``facing_kwh`` is DNI x aperture, ``blocked_kwh`` what frames would take of the light on its way from the film to the
    window (neither way counts it), ``kept`` and ``flat_kept`` the share of the light absorbed without any shade that shade
    leaves, each with its standard error, ``traced`` the quarter hours that were traced, ``rays`` how many rays in all.
    """

    kwh: dict[str, float]
    error_kwh: dict[str, float]
    flat_kwh: dict[str, float]
    flat_error_kwh: dict[str, float]
    facing_kwh: float
    blocked_kwh: float
    kept: tuple[float, float]
    flat_kept: tuple[float, float]
    traced: int
    rays: int


@dataclass(frozen=True)
class Quarters:
    """The quarter hours of the nominal year, (35040,): direction to the sun (.., 3), DNI in W/m2, declination and hour

    angle in degrees."""

    sun: Floats
    dni: Floats
    declination_deg: Floats
    hour_angle_deg: Floats


def quarters_of(document: Document) -> Quarters:
    """Sun by pvlib (SPA, Reda & Andreas, NREL/TP-560-34302) at the middle of each quarter hour of 2025; the hour's DNI is

    spread evenly over those of its quarters whose middle has the sun up."""
    site = document.design.site
    clock = pd.date_range("2025-01-01 00:07:30", periods=QUARTERS, freq="15min", tz="UTC")
    found = solarposition.get_solarposition(
        clock - pd.Timedelta(hours=site.utc_offset_h),
        site.latitude_deg,
        site.longitude_deg,
        altitude=site.altitude_m,
        temperature=12.0,
        method="nrel_numpy",
    )
    up = np.radians(found["apparent_elevation"].to_numpy(dtype=float))
    around = np.radians(found["azimuth"].to_numpy(dtype=float))
    sun = np.stack([np.cos(up) * np.sin(around), np.cos(up) * np.cos(around), np.sin(up)], axis=1)
    hourly = sky_of(site, document.asset, Cache()).year.dni_w_m2
    lit = (sun[:, 2] > 0.0).reshape(-1, 4)
    spread = np.where(lit, 4.0 / np.maximum(lit.sum(axis=1, keepdims=True), 1), 0.0) * hourly[:, None]
    latitude = np.radians(site.latitude_deg)
    to_pole = sun[:, 1] * np.cos(latitude) + sun[:, 2] * np.sin(latitude)
    to_meridian = sun[:, 2] * np.cos(latitude) - sun[:, 1] * np.sin(latitude)
    return Quarters(
        sun=sun,
        dni=spread.ravel(),
        declination_deg=np.degrees(np.arcsin(to_pole)),
        hour_angle_deg=np.degrees(np.arctan2(-sun[:, 0], to_meridian)),
    )


def slow_year(document: Document, *, pairs: int | None, rays_per_mirror: int, seed: int) -> SlowYear:
    """The light of the year of a design.

    ``pairs``: draw two quarter hours from each of so many strata of equal light on the first line's apertures (by
    declination, then by hour angle); None traces every quarter hour with light on a mirror.
    """
    field = SlowField(document)
    quarters = quarters_of(document)
    sunlight = quarters.dni * 0.25e-3  # kWh/m2 of a quarter hour
    size = sunlight * np.maximum(quarters.sun @ field.lines[0].axes[2], 0.0)
    generator = np.random.default_rng(seed)
    if pairs is None:
        drawn = np.flatnonzero(size > 0.0)
        weight = sunlight[drawn]
    else:
        drawn = draw(quarters, size, pairs, generator)
        weight = sunlight[drawn] * size.sum() / (2 * pairs * size[drawn])
    poses = field.poses(quarters.sun[drawn])
    traced = np.stack(
        [
            field.trace(quarters.sun[q], slide, roll, rays_per_mirror, generator)
            for q, slide, roll in zip(drawn, *poses, strict=True)
        ]
    )
    parts = traced * weight[:, None]
    if (
        pairs is None
    ):  # neighbouring quarters stand for each other, which takes too much rather than too little
        error = np.sqrt(np.sum(np.square(np.diff(traced, axis=0)) * weight[1:, None] ** 2, axis=0) / 2)
    else:
        by_pair = parts.reshape(pairs, 2, -1)
        error = np.sqrt(np.sum(np.square(by_pair[:, 0] - by_pair[:, 1]), axis=0))
    total = parts.sum(axis=0)

    def kept(form: int) -> tuple[float, float]:
        """Ratio of what is absorbed to what would be without shade, and its error: quarters drawn have both in common."""
        here = form * len(CAUSES) + CAUSES.index("absorbed")
        share = float(total[here] / total[-1])
        left = parts[:, here] - share * parts[:, -1]
        apart = left[0::2] - left[1::2] if pairs is not None else np.diff(left) / np.sqrt(2)
        return share, float(np.sqrt(np.sum(apart**2)) / total[-1])

    def named(values: Floats, form: int) -> dict[str, float]:
        return dict(zip(CAUSES, values[form * len(CAUSES) :].tolist(), strict=False))

    return SlowYear(
        kwh=named(total, 0),
        error_kwh=named(error, 0),
        flat_kwh=named(total, 1),
        flat_error_kwh=named(error, 1),
        facing_kwh=float(sky_of(document.design.site, document.asset, Cache()).year.dni_w_m2.sum())
        * field.aperture_m2
        / 1000.0,
        blocked_kwh=float(total[-2]),
        kept=kept(0),
        flat_kept=kept(1),
        traced=len(np.unique(drawn)),
        rays=len(drawn) * rays_per_mirror * len(field.vertices),
    )


def draw(quarters: Quarters, size: Floats, pairs: int, generator: np.random.Generator) -> Ints:
    """Two quarter hours from each of ``pairs`` strata of equal size, each as likely as its size: (2 x pairs,)."""
    order = np.argsort(quarters.declination_deg, kind="stable")
    done = np.cumsum(size[order]) / size.sum()
    band = np.empty(len(size), dtype=np.intp)
    band[order] = np.minimum((done * _BANDS).astype(np.intp), _BANDS - 1)
    order = np.lexsort((quarters.hour_angle_deg, band))
    upto = np.cumsum(size[order]) / size.sum()
    place = (np.repeat(np.arange(pairs), 2) + generator.random(2 * pairs)) / pairs
    return np.asarray(order[np.searchsorted(upto, place, side="right").clip(max=len(size) - 1)])
