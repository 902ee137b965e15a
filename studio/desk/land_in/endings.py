"""Which of the files that come to the desk hold land, by their name, and where that can mean two things by a look inside."""

from pathlib import Path

from studio.files.heights.spots import holds_spots

ENDINGS = (
    ".geojson", ".json", ".kml", ".kmz", ".gpkg", ".shp", ".zip", ".dxf", ".gpx", ".csv", ".txt", ".tif", ".tiff", ".asc",
)  # fmt: skip
_SHARED = (".json", ".csv")
"""Endings that weather files wear too."""
_YEAR_BYTES = 65_536
"""No year of hours takes less; no list of corners of a plot takes more."""
_FIRST = 4096
_GEOMETRIES = (b"FeatureCollection", b"Feature", b"Polygon", b"GeometryCollection", b"LineString")


def holds_land(path: Path) -> bool:
    """Whether a file is to be read as land."""
    ending = path.suffix.lower()
    if ending not in ENDINGS:
        return False
    if ending not in _SHARED:
        return True
    try:
        if ending == ".csv" and path.stat().st_size < _YEAR_BYTES:
            return True
        with path.open("rb") as file:
            start = file.read(_FIRST)
    except OSError:
        return False
    if ending == ".csv":  # many heights take as much as a year
        return holds_spots(start.rpartition(b"\n")[0].decode("utf-8-sig", errors="replace"))
    return any(b'"%s' % word in start for word in _GEOMETRIES)
