"""A bench that crashes, hangs or gives up as its case asks: importable where workers run it."""

from __future__ import annotations

import os
import time

from coldiron.benches import steady
from coldiron.benches.base import Case, Findings, Lab
from coldiron.errors import NoConvergence
from coldiron.sweep import worker


def take_faulty(case: Case, lab: Lab) -> Findings:
    """Do what the variant's name says."""
    if case.variant == "crash":
        os.abort()
    if case.variant == "hang":
        time.sleep(600.0)
    if case.variant == "gives up":
        raise NoConvergence("stopped at 1 s of 2 s", "timestep too small")
    if case.variant == "raises":  # a mistake in the program
        return Findings({"answer": 42.0 / float(case.variant == "whole")}, {}, {})
    if case.variant == "spoils the engine":
        worker._this_session().spent = True
    return Findings({"answer": 42.0}, {}, {})


def start_faulty_worker() -> None:
    """A worker whose bench "steady" does as told."""
    worker.start_worker()
    steady.take = take_faulty
