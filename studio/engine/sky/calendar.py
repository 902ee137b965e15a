"""The one nominal year that everything is computed over: 365 days, standard time, no summer time."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

NOMINAL_YEAR: Final = 2025
NOMINAL_EPOCH_S: Final = 1735689600.0
"""Unix time of 1 January of the nominal year, 00:00 UTC."""
DAYS_OF_MONTHS: Final = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
DAYS_PER_YEAR: Final = 365


def months_of_days() -> NDArray[np.intp]:
    """Month (0 to 11) of each of the 365 days."""
    return np.repeat(np.arange(12), DAYS_OF_MONTHS)


def months_of_hours() -> NDArray[np.intp]:
    """Month (0 to 11) of each of the 8760 hours."""
    return np.repeat(months_of_days(), 24)


def day_of_year(month: int, day: int) -> int:
    """Day of the nominal year, 1 on 1 January, of a month (1 to 12) and day of the month."""
    return sum(DAYS_OF_MONTHS[: month - 1]) + day
