"""The small example that the main job is held against the outside on, and changes of it."""

import dataclasses
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from studio.design.design import Document
from studio.files.site import open_site
from studio.study.assess import Assessor

Floats = NDArray[np.float64]
ASSESSOR = Assessor()


@cache
def example() -> Document:
    return open_site(Path(__file__).parents[2] / "example_sites" / "small_dryer.stillfield")


def changed(document: Document, **parts: Any) -> Document:
    return dataclasses.replace(document, design=dataclasses.replace(document.design, **parts))
