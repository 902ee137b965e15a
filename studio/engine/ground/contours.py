"""Lines of equal height over triangles."""

import numpy as np

from studio.engine.ground.surface import Floats


def contour_segments(triangles: Floats, height_m: float) -> Floats:
    """Where triangles (T, 3, 3: corners x, y, z) are ``height_m`` high: segments (S, 2, 2) on plan.

    Each triangle that the height passes gives one segment, between the places where it passes two of its sides (linear
    along a side). A corner at the very height counts as above, so that neighbouring triangles agree.
    """
    high = triangles[:, :, 2] >= height_m
    crossed = triangles[high.any(axis=1) & ~high.all(axis=1)]
    high = crossed[:, :, 2] >= height_m
    # the corner that lies on its own side of the height first: the height passes both sides that meet there
    lone = np.where(high.sum(axis=1) == 1, high.argmax(axis=1), (~high).argmax(axis=1))
    rows = np.arange(len(crossed))
    tip = crossed[rows, lone]
    ends = []
    for turn in (1, 2):
        other = crossed[rows, (lone + turn) % 3]
        share = (height_m - tip[:, 2]) / (other[:, 2] - tip[:, 2])
        ends.append(tip[:, :2] + share[:, None] * (other[:, :2] - tip[:, :2]))
    return np.stack(ends, axis=1)
