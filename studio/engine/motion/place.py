"""From the mirror frame to the site: directions of a line, and the points of its receivers."""

from dataclasses import dataclass

import numpy as np

from studio.engine.mirror.form import Floats
from studio.engine.motion.pose import LineMotion, window_frames


def line_direction(azimuth_deg: float, grade_percent: float = 0.0) -> Floats:
    """Unit vector e (3,) of a line in the site frame; ``grade_percent`` is its rise towards the far end."""
    azimuth = np.radians(azimuth_deg)
    e = np.array([np.sin(azimuth), np.cos(azimuth), grade_percent / 100])
    return np.asarray(e / np.linalg.norm(e))


@dataclass(frozen=True)
class ReceiverPoints:
    """Of M receivers in S poses, (S, M, 3) in metres: window centre, centre of the pipe, foot of the arm on the roll

    axis; and ``forward`` (S, 3), the way light goes into the window."""

    window: Floats
    pipe: Floats
    axis: Floats
    forward: Floats


def receiver_points(
    motion: LineMotion,
    slide_m: Floats,
    roll_deg: Floats,
    *,
    pipe_behind_m: float,
    axes: Floats | None = None,
    vertices: Floats | None = None,
) -> ReceiverPoints:
    """Where the receivers of mirrors at ``vertices`` (M, 3) stand in poses ``slide_m``, ``roll_deg`` (S,).

    ``pipe_behind_m``: from the window to the pipe's centre, on along the arm. With ``axes`` (3, 3, from
    ``mirror_axes`` as an array) points and vertices are in the site frame, without in the mirror frame; without ``vertices``
    there is one mirror at the origin.
    """
    turn = np.eye(3) if axes is None else axes
    feet = np.zeros((1, 3)) if vertices is None else np.asarray(vertices, dtype=float)
    frames = window_frames(motion, np.asarray(slide_m, dtype=float), np.asarray(roll_deg, dtype=float))
    offset = np.array(motion.axis_offset_m)
    on_axis = offset + ((frames.centre - offset) @ frames.along)[:, None] * frames.along
    pipe = frames.centre + pipe_behind_m * frames.forward

    def placed(points: Floats) -> Floats:
        return np.asarray(feet[None, :, :] + (points @ turn)[:, None, :])

    return ReceiverPoints(placed(frames.centre), placed(pipe), placed(on_axis), frames.forward @ turn)
