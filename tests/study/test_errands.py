"""Errands in a process of their own: answers, errors that a person can read, and leaving."""

from collections.abc import Iterator

import pytest

from studio.design.design import Design
from studio.errors import BadInputError
from studio.study.errands import Bench, Errand, Errands
from studio.study.mirror_errands import curve_errand, day_errand, spot_errand, year_errand
from studio.study.spot import SpotAt
from studio.study.watch import StoppedError


@pytest.fixture(scope="module")
def errands() -> Iterator[Errands]:
    made = Errands()
    yield made
    made.close()


def test_an_errand_in_a_process_apart_answers_as_one_here(errands: Errands) -> None:
    args = (Design(), (), 17, 12.0, (0.0, 0.0), 2000)
    here, there = spot_errand(Bench(), *args), errands.run(Errand(spot_errand, args), ())
    assert here is not None
    assert isinstance(there, SpotAt)
    assert here.rays == there.rays


def test_what_an_errand_says_to_a_person_comes_through(errands: Errands) -> None:
    with pytest.raises(BadInputError):
        errands.run(Errand(curve_errand, (Design(), "mirror.surface", (1.0,))), ())


def test_a_fault_of_ours_comes_with_its_trace(errands: Errands) -> None:
    with pytest.raises(RuntimeError, match="day_errand"):
        errands.run(Errand(day_errand, (Design(), (), "no day")), ())


def test_an_errand_is_left_when_something_is_more_urgent(errands: Errands) -> None:
    def overtaken() -> bool:
        return True

    with pytest.raises(StoppedError):
        errands.run(Errand(year_errand, (Design(), (), "slope")), (), overtaken)
    assert errands.run(Errand(spot_errand, (Design(), (), 17, 0.0, (0.0, 0.0), 2000)), ()) is None
