"""Pictures of flux in kW/m2 on the window's plane or any other, from single rays; how high, how wide, how concentrated."""

from dataclasses import dataclass
from math import sin, sqrt

import numpy as np
from numpy.typing import NDArray

from studio.engine.mirror.form import Floats, MirrorForm
from studio.engine.mirror.rays import RayHits
from studio.engine.mirror.sunshape import DISC_MRAD, LIMB, SunShape
from studio.errors import BadInputError
from studio.text import _

_ENOUGH_RAYS = 400
"""Rays in each half of the light over the area that the peak is taken from: 5 % of noise in a half, 3.5 % in both."""


@dataclass(frozen=True)
class Plane:
    """A rectangle that catches light, in the mirror frame: its ``centre_m`` (3,), unit vectors ``along`` (its width)

    and ``forward`` (the way light goes in, square to ``along``), ``width_m`` by ``height_m``, in ``columns`` by ``rows``
    cells. The other side lies along forward x along, as that of a window does."""

    centre_m: Floats
    along: Floats
    forward: Floats
    width_m: float
    height_m: float
    columns: int = 64
    rows: int = 64

    def __post_init__(self) -> None:
        if not (self.width_m > 0 and self.height_m > 0 and self.columns >= 1 and self.rows >= 1):
            raise BadInputError(
                _("A picture of flux needs a width and a height above 0 m and at least one cell each way.")
            )
        lengths = np.linalg.norm([self.along, self.forward], axis=1)
        if not (np.allclose(lengths, 1, atol=1e-6) and abs(float(self.along @ self.forward)) < 1e-6):
            raise BadInputError(
                _(
                    "The directions of a plane that catches light must be of length 1 and square to each other."
                )
            )

    @property
    def cell_m2(self) -> float:
        """Area of one cell."""
        return self.width_m * self.height_m / (self.columns * self.rows)


@dataclass(frozen=True, eq=False)
class FluxPicture:
    """Flux on a ``plane``. ``kw_m2`` and ``noise_kw_m2`` (rows, columns): the flux of each cell and its standard error by

    the number of rays; row 0 at the lowest across, column 0 at the lowest along. ``landed_kw``: all power that meets the
    endless plane from the front; ``in_picture_kw``: that within the rectangle. ``mean_kw_m2``: over the rectangle.

    ``peak_kw_m2``: over the squarish patch of ``peak_area_m2`` that catches most, as small as enough rays allow, with its
    standard error ``peak_error_kw_m2``. It is found on one half of the rays and measured on the other, and the other way
    round, so that noise does not lift it; a peak narrower than the patch is flattened. NaN where too few rays land.

    Of the light in the picture: ``centroid_m`` (along, across) from the plane's centre; ``rms_m`` about it on each axis;
    ``circle_90_m`` and ``square_90_m``: diameter and side of what holds 90 % of it about the centroid. NaN without light.
    """

    plane: Plane
    dni_w_m2: float
    kw_m2: Floats
    noise_kw_m2: Floats
    landed_kw: float
    in_picture_kw: float
    peak_kw_m2: float
    peak_error_kw_m2: float
    peak_area_m2: float
    centroid_m: tuple[float, float]
    rms_m: tuple[float, float]
    circle_90_m: float
    square_90_m: float

    @property
    def mean_kw_m2(self) -> float:
        """Flux over the whole rectangle."""
        return self.in_picture_kw / (self.plane.width_m * self.plane.height_m)

    @property
    def peak_concentration(self) -> float:
        """Peak flux over the direct sunlight's; never above ``concentration_limit``, but for noise."""
        return 1000 * self.peak_kw_m2 / self.dni_w_m2

    @property
    def mean_concentration(self) -> float:
        """Mean flux over the direct sunlight's."""
        return 1000 * self.mean_kw_m2 / self.dni_w_m2


def concentration_limit(sunshape: SunShape = "disc", *, sun_mrad: float = DISC_MRAD / 2) -> float:
    """Highest concentration in air that a sun allows: no optics makes light brighter than its source.

    An even disc of half-angle s: 1/sin2 s, 46 248 for the sun's (Winston, Minano & Benitez, Nonimaging Optics (2005),
    ch. 1). Others by how much brighter their middle is than that: a darkened limb 1/(1 - a/3), a Gaussian twice.
    ``sun_mrad`` as in ``Errors``.
    """
    brighter = {"disc": 1.0, "limb": 1 / (1 - LIMB / 3), "gaussian": 2.0}[sunshape]
    return brighter / sin(2e-3 * sun_mrad) ** 2


def flux_picture(
    form: MirrorForm,
    hits: RayHits,
    plane: Plane,
    *,
    dni_w_m2: float,
    reflectance: float,
    passing: NDArray[np.bool_] | None = None,
) -> FluxPicture:
    """The flux that the rays ``hits`` of a mirror of ``form`` bring to ``plane``.

    Each ray carries DNI x reflectance x its ``weight`` x aperture/N. ``passing`` (N,): rays that come this far, by their
    fates; all where not given. Light from behind the plane does not count.
    """
    if not (dni_w_m2 > 0 and 0 < reflectance <= 1):
        raise BadInputError(
            _(
                "The direct sunlight must be above 0 W/m2 and the reflectance above 0 and up to 1; "
                "found {dni} and {reflectance}."
            ).format(dni=dni_w_m2, reflectance=reflectance)
        )
    power_kw = 1e-3 * dni_w_m2 * reflectance * form.aperture_m2 / len(hits.weight) * hits.weight
    if passing is not None:
        power_kw = power_kw * passing
    against = hits.reflected @ plane.forward
    ahead = (plane.centre_m - hits.start) @ plane.forward
    meets = (power_kw > 0) & (against > 0) & (ahead > 0)
    power_kw, way = power_kw[meets], (ahead[meets] / against[meets])[:, None]
    landed = hits.start[meets] + way * hits.reflected[meets] - plane.centre_m
    u, v = landed @ plane.along, landed @ np.cross(plane.forward, plane.along)
    within = (np.abs(u) < plane.width_m / 2) & (np.abs(v) < plane.height_m / 2)
    landed_kw = float(np.sum(power_kw))
    u, v, power_kw = u[within], v[within], power_kw[within]
    column = np.floor((u / plane.width_m + 0.5) * plane.columns).astype(np.intp)
    row = np.floor((v / plane.height_m + 0.5) * plane.rows).astype(np.intp)
    cell = np.minimum(row, plane.rows - 1) * plane.columns + np.minimum(column, plane.columns - 1)

    def over_cells(values: Floats) -> Floats:
        total = np.bincount(cell, weights=values, minlength=plane.rows * plane.columns)
        return np.asarray(total.reshape(plane.rows, plane.columns), dtype=float)

    first = np.arange(len(u)) % 2 == 0
    halves = [over_cells(power_kw * half) for half in (first, ~first)]
    squares = over_cells(power_kw * power_kw)
    (middle_u, rms_u), (middle_v, rms_v) = _moments(u, power_kw), _moments(v, power_kw)
    centroid, rms = (middle_u, middle_v), (rms_u, rms_v)
    peak, error, area = _peak(plane, halves, over_cells(np.ones(len(u))), squares)
    return FluxPicture(
        plane=plane,
        dni_w_m2=dni_w_m2,
        kw_m2=(halves[0] + halves[1]) / plane.cell_m2,
        noise_kw_m2=np.sqrt(squares) / plane.cell_m2,
        landed_kw=landed_kw,
        in_picture_kw=float(np.sum(power_kw)),
        peak_kw_m2=peak,
        peak_error_kw_m2=error,
        peak_area_m2=area,
        centroid_m=centroid,
        rms_m=rms,
        circle_90_m=2 * _holds_90(np.hypot(u - centroid[0], v - centroid[1]), power_kw),
        square_90_m=2 * _holds_90(np.maximum(np.abs(u - centroid[0]), np.abs(v - centroid[1])), power_kw),
    )


def _moments(at: Floats, power_kw: Floats) -> tuple[float, float]:
    """Weighted mean and standard deviation; NaN without light."""
    total = float(np.sum(power_kw))
    if total <= 0:
        return float("nan"), float("nan")
    mean = float(np.sum(at * power_kw)) / total
    return mean, sqrt(float(np.sum(np.square(at - mean) * power_kw)) / total)


def _holds_90(distance: Floats, power_kw: Floats) -> float:
    """The distance within which 90 % of the power lies; NaN without light."""
    if len(distance) == 0:
        return float("nan")
    order = np.argsort(distance)
    summed = np.cumsum(power_kw[order])
    return float(distance[order[np.searchsorted(summed, 0.9 * summed[-1])]])


def _peak(plane: Plane, halves: list[Floats], rays: Floats, squares: Floats) -> tuple[float, float, float]:
    """Peak flux, its standard error and the area that it is taken over; NaN where no patch holds enough rays."""
    cell_width, cell_height = plane.width_m / plane.columns, plane.height_m / plane.rows
    for cells in range(1, max(plane.columns, plane.rows) + 1):
        # as square as whole cells allow
        wide = min(plane.columns, round(cells * max(cell_height / cell_width, 1.0)))
        high = min(plane.rows, round(cells * max(cell_width / cell_height, 1.0)))
        if np.max(_boxes(rays, high, wide)) >= 2 * _ENOUGH_RAYS:
            break
    else:
        return float("nan"), float("nan"), float("nan")
    area = wide * high * plane.cell_m2
    summed = [_boxes(half, high, wide) for half in halves]
    noise = _boxes(squares, high, wide)
    tops = [int(np.argmax(half)) for half in summed]
    power = summed[0].flat[tops[1]] + summed[1].flat[tops[0]]
    variance = (noise.flat[tops[0]] + noise.flat[tops[1]]) / 2
    return float(power) / area, sqrt(float(variance)) / area, area


def _boxes(values: Floats, high: int, wide: int) -> Floats:
    """Sums over every ``high`` by ``wide`` block of cells that lies within the picture."""
    summed = np.zeros((values.shape[0] + 1, values.shape[1] + 1))
    summed[1:, 1:] = np.cumsum(np.cumsum(values, axis=0), axis=1)
    return np.asarray(
        summed[high:, wide:] - summed[:-high, wide:] - summed[high:, :-wide] + summed[:-high, :-wide]
    )
