"""What a file is that was dropped on the window."""

from collections.abc import Sequence
from pathlib import Path
from typing import Literal

from PySide6.QtCore import QUrl

from studio.desk.picture_import import SUFFIXES as PICTURES
from studio.desk.picture_import import WORLDS
from studio.desk.weather_import import SUFFIXES
from studio.files.site import ENDING

DropKind = Literal["site", "land", "weather", "picture"]


def dropped(urls: Sequence[QUrl]) -> tuple[Path, DropKind] | None:
    """The one file that was dropped and what it is; None where the desk has no use for it.

    A picture may come with the files that say where it lies: they are found beside it.
    """
    urls = [url for url in urls if Path(url.fileName()).suffix.lower() not in WORLDS]
    if len(urls) != 1 or not urls[0].isLocalFile():
        return None
    path = Path(urls[0].toLocalFile())
    if path.suffix.lower() == ENDING:
        return path, "site"
    if path.suffix.lower() in PICTURES:
        return path, "picture"
    from studio.desk.land_in.endings import holds_land  # what reads land is loaded when land comes

    if holds_land(path):
        return path, "land"
    return (path, "weather") if path.suffix.lower() in SUFFIXES else None
