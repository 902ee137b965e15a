"""The smallest pitch that passes the winter check: by how much all pitches may shrink, or must grow."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from studio.engine.shade.rows import Floats

_MOST_STEPS = 60


@dataclass(frozen=True)
class PassingPitch:
    """Answer of :func:`passing_pitch`.

    ``scale`` multiplies all pitches alike; None when no scale within the bounds passes. ``shade`` (lines) is the mean
    shade of each line there (at the largest scale when none passes). ``steady`` is False when the shade of the worst
    line rose somewhere with growing pitch among the scales tried; the scale then passes, but a smaller one may too.
    """

    scale: float | None
    shade: Floats
    steady: bool


def passing_pitch(
    shade_at: Callable[[float], Floats],
    *,
    limit: float,
    pitch_m: float,
    least_scale: float,
    most_scale: float,
    within_m: float = 0.005,
) -> PassingPitch:
    """The smallest scale of all pitches at which no line's mean shade passes ``limit``, by bisection.

    ``shade_at(scale)`` gives each line's mean shade in the winter check (0..1). ``pitch_m`` is the largest pitch of the
    field: the answer is within ``within_m`` of the true one there, on the passing side. Raises ValueError when the
    bounds are not 0 < least < most.
    """
    if not 0 < least_scale < most_scale:
        raise ValueError(
            f"scales run from {least_scale} to {most_scale}; the least must be above zero and below the most"
        )
    tried: dict[float, float] = {}

    def shade(scale: float) -> Floats:
        lines = np.asarray(shade_at(scale), dtype=float)
        tried[scale] = float(lines.max(initial=0.0))
        return lines

    high, passing = most_scale, shade(most_scale)
    if tried[high] > limit:
        return PassingPitch(scale=None, shade=passing, steady=True)
    low, least = least_scale, shade(least_scale)
    if tried[low] <= limit:
        return PassingPitch(scale=low, shade=least, steady=True)
    for _step in range(_MOST_STEPS):
        if (high - low) * pitch_m <= within_m:
            break
        middle = (low + high) / 2
        lines = shade(middle)
        if tried[middle] <= limit:
            high, passing = middle, lines
        else:
            low = middle
    worst = np.array([tried[scale] for scale in sorted(tried)])
    return PassingPitch(scale=high, shade=passing, steady=bool((np.diff(worst) <= 1e-9).all()))
