"""What a long sitting leaves behind: random edits of a field, one after another, hold no more memory than the first of them.

Every allocation of Python and numpy is counted, so that neither the allocator nor what else runs plays a part.
"""

import dataclasses
import gc
import tracemalloc

import numpy as np

from studio.design.design import Design
from studio.files.examples import example_path
from studio.files.site import open_site
from studio.study.assess import Assessor
from tests.benchmarks.many_mirrors import plant_of

LINES, COUNT = 8, 6
WARM, EDITS = 3 * LINES, 8 * LINES
MOST_BYTES_AN_EDIT = 1000
"""What one line's answers take is many times as much."""


def test_random_edits_leave_memory_flat() -> None:
    document = open_site(example_path("large_field"))
    rng = np.random.default_rng(12)
    assessor, design = Assessor(), plant_of(document, LINES, COUNT)

    def edit(design: Design) -> Design:
        lines, place = list(design.lines), int(rng.integers(LINES))
        lines[place] = dataclasses.replace(lines[place], y_m=lines[place].y_m + float(rng.uniform(-0.2, 0.2)))
        design = dataclasses.replace(design, lines=tuple(lines))
        assessor.assess(document, design, calendar=False, exact=not rng.integers(6))
        return design

    assessor.assess(document, design, calendar=False)
    held = []
    tracemalloc.start()
    try:
        for number in range(WARM + EDITS):
            design = edit(design)
            if number in (WARM - 1, WARM + EDITS - 1):
                assessor.assess(document, design, calendar=False)
                gc.collect()
                held.append(tracemalloc.get_traced_memory()[0])
    finally:
        tracemalloc.stop()
    assert (held[1] - held[0]) / EDITS < MOST_BYTES_AN_EDIT, held
