"""Fixtures of all tests: a pool of real engine workers, shared by the tests of one pytest process."""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from hypothesis import HealthCheck, settings

from laboratory import Laboratory

# How fast an example is says how busy the machine is, and nothing about the code. A gate gives the same
# answer to the same commit: its examples follow from the text of the test alone; `explore` throws the dice.
_NO_CLOCK = settings(deadline=None, suppress_health_check=[HealthCheck.too_slow])
settings.register_profile("gate", _NO_CLOCK, derandomize=True)
settings.register_profile("explore", _NO_CLOCK, derandomize=False)
settings.load_profile("gate")


@pytest.fixture(scope="session")
def laboratory() -> Iterator[Laboratory]:
    """A worker process with a real ngspice; ends with the tests."""
    with Laboratory() as open_laboratory:
        yield open_laboratory
