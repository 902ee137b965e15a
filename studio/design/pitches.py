"""How far lines stand from one another."""

from math import radians, tan

import numpy as np

from studio.design.design import Design


def pitches(design: Design) -> tuple[float, ...]:
    """Distances between neighbouring lines, square to them, for lines that run alike (within 5 degrees).

    Lines are ordered square to the first line's azimuth; a distance below a millimetre is two lines end to end and no
    pitch.
    """
    if len(design.lines) < 2:
        return ()
    azimuth = radians(design.lines[0].azimuth_deg)
    square = np.array([np.cos(azimuth), -np.sin(azimuth)])
    alike = [
        line for line in design.lines
        if abs(tan(radians(line.azimuth_deg) - azimuth)) < tan(radians(5.0))
    ]  # fmt: skip
    offsets = np.sort(np.array([[line.x_m, line.y_m] for line in alike]) @ square)
    return tuple(float(gap) for gap in np.diff(offsets) if gap > 1e-3)
