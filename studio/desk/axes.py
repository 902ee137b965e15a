"""Round numbers for the axes of small charts."""

import numpy as np


def round_limits(least: float, most: float, *, lines: int) -> tuple[float, float, float]:
    """Round numbers that hold all values, and the step between some so many ``lines``."""
    room = max(most - least, 1e-3 * max(abs(most), 1e-6))
    step = round_step(room / lines)
    return float(np.floor(least / step) * step), float(np.ceil(most / step) * step), step


def round_step(least: float) -> float:
    """The next of 1, 2, 5 times a power of ten."""
    unit = 10.0 ** np.floor(np.log10(least))
    return float(next(k for k in (1.0, 2.0, 5.0, 10.0) if k * unit >= least) * unit)


def digits_of(step: float) -> int:
    """Decimals that tell ticks of a step apart."""
    return max(0, int(-np.floor(np.log10(step) + 1e-9)))
