"""How long ``assess`` takes after one line moved, as a ratio to a fresh assessment of the same design in the same process.

CPU time, without the calendar and the pitch that passes, which wait while a hand drags.
"""

import dataclasses
from collections.abc import Callable
from pathlib import Path
from time import process_time

import pytest

from studio.design.design import Design
from studio.files.site import open_site
from studio.study.assess import Assessor

EXAMPLES = Path(__file__).parents[2] / "example_sites"
MOVES = 12


def _best_ms(work: Callable[[int], object]) -> float:
    times = []
    for number in range(MOVES):
        start = process_time()
        work(number)
        times.append(process_time() - start)
    return 1e3 * min(times)


def _moved(design: Design, by_m: float) -> Design:
    """The design with the line in its middle moved north."""
    lines = list(design.lines)
    middle = len(lines) // 2
    lines[middle] = dataclasses.replace(lines[middle], y_m=lines[middle].y_m + by_m)
    return dataclasses.replace(design, lines=tuple(lines))


@pytest.mark.parametrize(("name", "most"), [("workshop_plot", 0.3), ("large_field", 0.3)])
def test_a_moved_line_against_a_fresh_assessment(
    capsys: pytest.CaptureFixture[str], name: str, most: float
) -> None:
    document = open_site(EXAMPLES / f"{name}.stillfield")
    design = document.design
    Assessor().assess(document, calendar=False)  # modules are loaded here
    start = process_time()
    assessor = Assessor()
    assessor.assess(document, calendar=False)
    fresh = 1e3 * (process_time() - start)
    moved = _best_ms(
        lambda number: assessor.assess(document, _moved(design, 0.01 * (number + 1)), calendar=False)
    )
    same = _best_ms(lambda number: assessor.assess(document, calendar=False))
    with capsys.disabled():
        print(
            f"\n{name}: fresh {fresh:.0f} ms, a line moved {moved:.1f} ms, ratio {moved / fresh:.3f}; "
            f"nothing moved {same:.1f} ms"
        )
    assert moved / fresh < most
