"""How long ``assess`` takes in a fresh process with nothing cached, as a ratio to importing pvlib.

Nothing is compiled at run time, so no compilation hides in the figure. At most 5; about 2 is what we aim at.
"""

import subprocess
import sys
import time
from importlib.resources import files
from pathlib import Path

import pytest

EXAMPLE = Path(__file__).parents[2] / "example_sites" / "workshop_plot.stillfield"
WEATHER = Path(str(files("pvlib") / "data" / "723170TYA.CSV"))
RUNS = 5


def _best(*arguments: str) -> float:
    times = []
    for _run in range(RUNS):
        start = time.perf_counter()
        subprocess.run([sys.executable, *arguments], check=True, stdout=subprocess.DEVNULL)
        times.append(time.perf_counter() - start)
    return min(times)


def test_a_cold_assess_against_an_import_of_pvlib(capsys: pytest.CaptureFixture[str]) -> None:
    empty = _best("-c", "pass")
    pvlib = _best("-c", "import pvlib") - empty
    plain = _best("-m", "studio", "assess", str(EXAMPLE), "--json") - empty
    weather = _best("-m", "studio", "assess", str(EXAMPLE), "--json", "--weather", str(WEATHER)) - empty
    with capsys.disabled():
        print(
            f"\nimport pvlib {pvlib:.2f} s; assess {plain:.2f} s, ratio {plain / pvlib:.2f}; "
            f"with a weather file read {weather:.2f} s, ratio {weather / pvlib:.2f} (nothing is compiled)"
        )
    assert plain / pvlib < 5
    assert weather / pvlib < 5
