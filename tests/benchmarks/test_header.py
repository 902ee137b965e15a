"""How long the header of eight lines takes round a no-build area and past lines end to end, as a ratio to that of the same

field whose header runs straight. One line is moved before each run, as while a hand drags; CPU time.
"""

import dataclasses
from pathlib import Path
from time import process_time

import pytest

from studio.design.design import Design
from studio.edits.registry import apply_edit
from studio.files.site import open_site
from studio.study.header import header_of
from studio.study.place import place_lines

EXAMPLE = Path(__file__).parents[2] / "example_sites" / "workshop_plot.stillfield"
MOVES = 40


def _moved_ms(design: Design) -> float:
    times = []
    for number in range(MOVES):
        lines = list(design.lines)
        lines[3] = dataclasses.replace(lines[3], y_m=lines[3].y_m + 0.001 * (number + 1))
        moved = dataclasses.replace(design, lines=tuple(lines))
        placed = place_lines(moved)
        start = process_time()
        header_of(moved, placed)
        times.append(process_time() - start)
    return 1e3 * sorted(times)[MOVES // 2]


def test_a_header_round_what_is_in_its_way(capsys: pytest.CaptureFixture[str]) -> None:
    design = open_site(EXAMPLE).design
    free = dataclasses.replace(design, plot=dataclasses.replace(design.plot, no_build=()))
    straight = _moved_ms(free)
    wishes = {"azimuth_deg": 90.0, "pitch_m": 4.9}
    parted = apply_edit(design, "plant_lines", wishes).design
    assert len(parted.lines) == 8
    round_it = _moved_ms(parted)
    with capsys.disabled():
        print(
            f"\nheader of 8 lines: straight {straight:.2f} ms, round a no-build area that parts a line {round_it:.2f} ms, "
            f"ratio {round_it / straight:.1f}"
        )
    assert round_it < 12 * straight
