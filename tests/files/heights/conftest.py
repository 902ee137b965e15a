"""Rasters that are written for a test. Every height here is invented."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from studio.design.design import Design
from studio.design.site import Plot

Array = NDArray[np.float64]
Write = Callable[..., Path]
LATITUDE, LONGITUDE = 44.0, 5.8
FIELD = ((-60.0, -40.0), (60.0, -40.0), (60.0, 40.0), (-60.0, 40.0))


@pytest.fixture
def design() -> Design:
    """A plot of 120 m by 80 m about its reference point, near the rim of its UTM zone."""
    bare = Design()
    site = replace(bare.site, latitude_deg=LATITUDE, longitude_deg=LONGITUDE, altitude_m=500.0)
    return replace(bare, site=site, plot=Plot(boundary=FIELD))


@pytest.fixture
def write(tmp_path: Path) -> Write:
    """Writes a GeoTIFF of heights (rows from north to south) about a middle in the system's own coordinates."""
    import rasterio

    def write_so(
        heights: NDArray[Any], *, crs: str | None = "EPSG:32631", step: float = 5.0,
        middle: tuple[float, float] | None = None, name: str = "land.tif", **profile: Any,
    ) -> Path:  # fmt: skip
        rows, columns = heights.shape[-2:]
        x, y = middle if middle is not None else middle_in(crs or "EPSG:32631")
        profile = {"dtype": heights.dtype.name, "count": 1, **profile}
        transform = rasterio.transform.from_origin(x - step * columns / 2, y + step * rows / 2, step, step)
        path = tmp_path / name
        with rasterio.open(
            path, "w", driver="GTiff", height=rows, width=columns, crs=crs, transform=transform, **profile
        ) as file:
            file.write(heights if heights.ndim == 3 else heights[None])
        return path

    return write_so


def middle_in(crs: str) -> tuple[float, float]:
    """The reference point in a system."""
    from pyproj import Transformer

    x, y = Transformer.from_crs("EPSG:4326", crs, always_xy=True).transform(LONGITUDE, LATITUDE)
    return float(x), float(y)
