"""Benchmarks print ratios within one run; they run only when asked for with ``--benchmark-enable``."""

import pytest


@pytest.fixture(autouse=True)
def _only_when_asked(request: pytest.FixtureRequest) -> None:
    if not request.config.getoption("--benchmark-enable"):
        pytest.skip("a benchmark; run with --benchmark-enable")
