"""One root finder for the heat balances: Newton over whole arrays, which says so when it finds nothing."""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from studio.errors import ComputationError
from studio.text import _

Numbers = NDArray[np.float64]

_DIFFERENCE_K = 0.01
_COLDEST_C = -250.0
_LONGEST_STEP_K = 400.0


def temperature_where_zero(
    residual: Callable[[Numbers], Numbers], start_c: Numbers, *, what: str, tolerance_k: float = 1e-6
) -> Numbers:
    """Temperatures (degC) at which ``residual`` is zero, element by element.

    ``residual`` takes and gives an array of the shape of ``start_c`` and must rise or fall throughout. Newton's
    method with a forward difference; ``ComputationError`` when a step is still longer than ``tolerance_k`` after
    60 rounds. ``what`` names the sought temperature in that message.
    """
    temperature = np.array(start_c, dtype=np.float64)
    if temperature.size == 0:
        return temperature
    for _round in range(60):
        value = residual(temperature)
        slope = (residual(temperature + _DIFFERENCE_K) - value) / _DIFFERENCE_K
        step = np.clip(value / slope, -_LONGEST_STEP_K, _LONGEST_STEP_K)
        temperature = np.maximum(temperature - step, _COLDEST_C)
        if not np.all(np.isfinite(temperature)):
            break
        if float(np.max(np.abs(step))) < tolerance_k:
            return temperature
    raise ComputationError(_("The heat balance found no {what}; check its inputs.").format(what=what))
