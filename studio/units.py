"""Conversions between the units of the trade; SI inside, named units where a number leaves."""

from math import pi

SECONDS_PER_HOUR = 3600.0
HOURS_PER_YEAR = 8760
JOULES_PER_KWH = 3.6e6
ZERO_CELSIUS_K = 273.15
STEFAN_BOLTZMANN = 5.670374419e-8
"""W/m2K4, CODATA 2018 (exact in the SI of 2019)."""
GRAVITY = 9.80665
"""m/s2, standard gravity, CGPM 1901."""
SUN_HALF_ANGLE_MRAD = 4.65
"""Half-angle of the sun's disc as physics of concentrators uses it (Rabl, Active Solar Collectors, 1985)."""
SUN_RMS_MRAD = SUN_HALF_ANGLE_MRAD / 2
"""RMS per axis of a uniform disc: half its radius."""


def kelvin(celsius: float) -> float:
    """Absolute temperature of ``celsius``."""
    return celsius + ZERO_CELSIUS_K


def circle_area(diameter_m: float) -> float:
    """Area of a circle in m2."""
    return pi * diameter_m**2 / 4
