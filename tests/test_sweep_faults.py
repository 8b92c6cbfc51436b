"""Faults injected into cases: each costs its own case, and is said."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from typing import Any

import pytest

from coldiron.benches.base import Case
from coldiron.cli.study import failure_line
from coldiron.engine.local_pool import shared_pool
from coldiron.engine.pool import Outcome
from coldiron.sweep.run import FinishedCase, run_cases
from coldiron.sweep.worker import Work
from faulty_bench import faulty, start_faulty_worker
from hanging import HANG_S
from laboratory import case_of
from lamps import load_lamp

pytestmark = pytest.mark.ngspice
FAULTS = ("crash", "hang", "gives up", "raises", "spoils the engine")


class Patient:
    """A pool that waits for all but what hangs, as long as a busy machine may take."""

    def run_all(self, run: Any, works: Any, deadline_s: Any) -> Iterator[Outcome[Any]]:
        """Run tasks in real workers."""

        def patience_s(work: Work) -> float:
            hangs = any(case.variant == "hang" for case in work.cases)
            return deadline_s(work) if hangs else HANG_S

        return shared_pool(2, start_faulty_worker).run_all(run, works, patience_s)


def run(cases: Sequence[Case]) -> list[FinishedCase]:
    return run_cases(cases, Patient(), case_deadline_s=2.0)


def case(fault: str, number: int) -> Case:
    return replace(case_of(faulty(load_lamp("pantry-bulb"), fault, number), "steady"), variant=fault)


@pytest.fixture(scope="module")
def done() -> dict[str, list[FinishedCase]]:
    """Each fault with two sound cases before and after it."""
    found = {}
    for fault in FAULTS:
        group = [case(fault if n == 2 else "sound", n) for n in range(5)]
        found[fault] = run(group)
    return found


@pytest.mark.parametrize("fault", FAULTS)
def test_a_fault_costs_its_own_case(done: dict[str, list[FinishedCase]], fault: str) -> None:
    for number, one in enumerate(done[fault]):
        if number == 2 and fault != "spoils the engine":
            assert one.result.readings == {}
            assert one.result.failure is not None
        else:
            assert one.result.failure is None
            assert one.result.readings == {"answer": 42.0}


def test_each_failure_says_why(done: dict[str, list[FinishedCase]]) -> None:
    said = {fault: done[fault][2].result.failure for fault in FAULTS[:3]}
    words: dict[str, Any] = {
        fault: (f.why, f.engine_words, f.certain) if f else None for fault, f in said.items()
    }
    assert words == {
        "crash": ("no answer", "the engine process ended with status -6", False),
        "hang": ("no answer", "not finished within 2 s", False),
        "gives up": ("stopped at 1 s of 2 s", "timestep too small", True),
    }


def test_a_mistake_in_a_bench_keeps_its_traceback(done: dict[str, list[FinishedCase]]) -> None:
    failure = done["raises"][2].result.failure
    assert failure is not None
    assert failure.why.startswith("unexpected error in faulty_bench.py, line ")
    assert failure.engine_words.startswith("Traceback (most recent call last)")
    assert "take_faulty" in failure.engine_words
    assert failure.last_words == "ZeroDivisionError: float division by zero"
    assert not failure.certain, "it is tried again when the program has been mended"
    assert failure_line(done["raises"][2]).count("\n") == 0
