"""What of a line's gear swings over its mirrors and its ground, at any poses."""

from dataclasses import dataclass

import numpy as np

from studio.design.motion import Motion
from studio.engine.motion.pose import window_frames
from studio.engine.shade.gear import GearShape
from studio.study.assessment import Array
from studio.study.optics import motion_of


@dataclass(frozen=True)
class Swung:
    """Points (N, 3) of the mirror frame with the vertex at its origin, m.

    ``edges``: middles of the receiver's four edges that run along the line, at every pose; ``pipe``: the pipe's middle
    beside it.
    """

    edges: Array
    pipe: Array


def swung(motion: Motion, gear: GearShape, along: Array, *, slide_m: Array, roll_deg: Array) -> Swung:
    """Gear at poses (P,) of a line that runs ``along`` (3,) in the mirror frame: edges (4 P, 3), pipe (P, 3)."""
    frames = window_frames(motion_of(motion, along), slide_m, roll_deg)
    edges = [
        frames.centre + side * gear.receiver_height_m / 2 * frames.across + depth * frames.forward
        for side in (-1, 1)
        for depth in (0.0, gear.receiver_depth_m)
    ]
    outward, aside = gear.pipe_offset_m
    return Swung(np.concatenate(edges), frames.centre + outward * frames.forward - aside * frames.across)
