"""Stage: how hot it gets when no oil flows, and how strong the light on the window is."""

from dataclasses import dataclass

import numpy as np

from studio.design.design import Design
from studio.engine.mirror.cone import WindowFrames, cone_shares
from studio.engine.mirror.form import Window
from studio.engine.mirror.points import surface_points
from studio.engine.motion.pose import window_frames
from studio.study.assessment import Array, PlacedLine
from studio.study.heat import receiver_of
from studio.study.light import Shares
from studio.study.optics import LineOptics, errors_of
from studio.study.place import form_of
from studio.study.sky import Sky

_PROBE_M = 0.01
"""Side of the small window with which the flux is felt out."""
_PLACES = 9
STRONG_SUN_W_M2 = 1000.0


@dataclass(frozen=True)
class HotSpot:
    """At DNI 1000 W/m2 and the sun of the year that brings most: absorbed W of a receiver, mean and peak flux kW/m2

    on its window, and the absorber's temperature without flow, mean and at the peak."""

    absorbed_w: float
    mean_kw_m2: float
    peak_kw_m2: float
    stagnation_c: float
    stagnation_peak_c: float


def hot_spot_of(design: Design, placed: PlacedLine, optics: LineOptics, sky: Sky, shares: Shares) -> HotSpot:
    """The hot spot of the mirrors of a line with ``optics``; temperatures at 25 °C and no wind.

    The peak is felt out with a window of 1 cm side moved over the real one, at the pose of that sun.
    """
    mirror, receiver = design.mirror, design.receiver
    aperture = mirror.width_m * mirror.height_m
    brings = optics.cosine * optics.at_parts.accepted
    best = int(np.argmax(brings))
    reflected = STRONG_SUN_W_M2 * aperture * float(optics.cosine[best]) * shares.reflectance
    absorbed = reflected * float(optics.at_parts.accepted[best]) * shares.absorptance
    area = receiver.window_width_m * receiver.window_height_m
    peak = reflected * _peak_share(design, optics, placed.axes @ sky.part_suns[best], best) / _PROBE_M**2
    build = receiver_of(design)
    return HotSpot(
        absorbed_w=absorbed,
        mean_kw_m2=reflected * float(optics.at_parts.into_window[best]) / area / 1000.0,
        peak_kw_m2=peak / 1000.0,
        stagnation_c=float(build.stagnation_c(absorbed)),
        stagnation_peak_c=float(build.stagnation_peak_c(peak * shares.absorptance)),
    )


def _peak_share(design: Design, optics: LineOptics, sun: Array, part: int) -> float:
    """Largest share of the reflected light on a probe of 1 cm side anywhere on the window; ``sun`` (3,) mirror frame."""
    receiver = design.receiver
    errors = errors_of(design)
    pose = optics.at_parts
    frame = window_frames(optics.motion, pose.slide_m[[part]], pose.roll_deg[[part]])
    across = np.cross(frame.along, frame.forward[0])
    u, v = np.meshgrid(
        np.linspace(-0.5, 0.5, _PLACES) * receiver.window_width_m,
        np.linspace(-0.5, 0.5, _PLACES) * receiver.window_height_m,
    )
    probes = WindowFrames(
        centre=frame.centre + u.reshape(-1, 1) * frame.along + v.reshape(-1, 1) * across,
        along=frame.along,
        forward=np.repeat(frame.forward, u.size, axis=0),
    )
    probe = Window(width_m=_PROBE_M, height_m=_PROBE_M, acceptance_deg=receiver.acceptance_deg)
    points = surface_points(form_of(design.mirror), errors)
    shares = cone_shares(points, errors, probe, np.repeat(sun[None, :], u.size, axis=0), probes)
    return float(shares.into_window.max())
