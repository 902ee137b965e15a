"""What pvlib brings along, met here alone and without importing pvlib itself.

``import pvlib`` draws in pandas and most of scipy (some 0.6 s). The solar position algorithm is one file of it
that needs numpy only, and the turbidity map is a data file; both are taken on first use.
"""

import importlib
import sys
from functools import cache, lru_cache
from importlib.util import find_spec, module_from_spec, spec_from_file_location
from pathlib import Path
from types import ModuleType

from studio.errors import ComputationError
from studio.text import _

_MAP_ROWS, _MAP_COLUMNS, _MAP_SCALE = 2160, 4320, 20.0
_CELLS_PER_DEG = 12.0
_HALF_CELL_DEG = 0.5 / _CELLS_PER_DEG


@cache
def spa() -> ModuleType:
    """pvlib's solar position algorithm (``pvlib.spa``), loaded by itself."""
    if "pvlib.spa" in sys.modules:
        return sys.modules["pvlib.spa"]
    file = _folder() / "spa.py"
    spec = spec_from_file_location("pvlib.spa", file)
    if spec is None or spec.loader is None or not file.is_file():
        return importlib.import_module("pvlib.spa")
    module = module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@lru_cache(maxsize=64)
def monthly_turbidity(latitude_deg: float, longitude_deg: float) -> tuple[float, ...]:
    """Linke turbidity of the twelve months from the world map that pvlib carries.

    The map is a grid of 5' (rows from 90 N to 90 S, columns from 180 W to 180 E) of twenty times the turbidity:
    Remund et al., Worldwide Linke turbidity information, Proc. ISES Solar World Congress (2003). The cell that
    holds the place is taken. Raises ``ComputationError`` where the map is missing from the installation.
    """
    h5py = importlib.import_module("h5py")
    # cells are numbered by their middles; on an edge it is rounding that decides, as it does in pvlib
    row = round((90.0 - _HALF_CELL_DEG - latitude_deg) * _CELLS_PER_DEG)
    column = round((longitude_deg + 180.0 - _HALF_CELL_DEG) * _CELLS_PER_DEG)
    row, column = min(max(row, 0), _MAP_ROWS - 1), min(max(column, 0), _MAP_COLUMNS - 1)
    try:
        with h5py.File(_folder() / "data" / "LinkeTurbidities.h5", "r") as file:
            cell = file["LinkeTurbidity"][row, column]
    except OSError as error:
        raise ComputationError(
            _("The turbidity map of pvlib is not installed; install pvlib again.")
        ) from error
    return tuple(float(value) / _MAP_SCALE for value in cell)


@cache
def _folder() -> Path:
    spec = find_spec("pvlib")
    if spec is None or not spec.submodule_search_locations:
        raise ComputationError(_("pvlib is not installed; the sun cannot be computed without it."))
    return Path(spec.submodule_search_locations[0])
