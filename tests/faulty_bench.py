"""A bench that crashes, hangs or gives up as its case asks: importable where workers run it."""

from __future__ import annotations

import os

from coldiron.benches import steady
from coldiron.benches.base import BenchResult, Case, Simulator
from coldiron.errors import NoConvergence
from coldiron.lamp.lamp import Lamp
from coldiron.sweep import worker
from faulty_tasks import hang

FAULTS = ("crash", "hang", "gives up", "raises", "spoils the engine", "sound")


def faulty(lamp: Lamp, fault: str, number: int) -> Lamp:
    """Lamp whose case does what a fault says; as names decide no case, its rated power says so."""
    power_w = 1000.0 * FAULTS.index(fault) + number
    return lamp.model_copy(update={"ratings": lamp.ratings.model_copy(update={"power_w": power_w})})


def take_faulty(case: Case, lab: Simulator) -> BenchResult:
    """Do what the lamp says."""
    fault = FAULTS[int(case.lamp.expected_power_w / 1000.0)]
    if fault == "crash":
        os.abort()
    if fault == "hang":
        hang()
    if fault == "gives up":
        raise NoConvergence("stopped at 1 s of 2 s", "timestep too small")
    if fault == "raises":  # a mistake in the program
        return BenchResult({"answer": 42.0 / float(fault == "whole")}, {}, {})
    if fault == "spoils the engine":
        worker._this_session().spent = True
    return BenchResult({"answer": 42.0}, {}, {})


def start_faulty_worker() -> None:
    """A worker whose bench "steady" does as told."""
    worker.start_worker()
    steady.take = take_faulty
