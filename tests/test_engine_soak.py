"""Many runs in one worker, some of them bad: no wrong result, and memory that stays flat."""

from __future__ import annotations

import contextlib
import random
from dataclasses import replace

import pytest

from coldiron.errors import NoConvergence
from faulty_tasks import memory_kib, run_unguarded
from laboratory import Laboratory
from test_engine_session import divider

pytestmark = pytest.mark.ngspice
BAD_RATIO = 0.05
WARM_UP_RUNS = 150


def soak(laboratory: Laboratory, runs: int) -> float:
    """Run dividers and bad decks; return the growth of the worker's memory [KiB a run]."""
    draw = random.Random(runs)
    before_kib = 0.0
    for number in range(runs + WARM_UP_RUNS):
        if number == WARM_UP_RUNS:
            before_kib = laboratory.call(memory_kib, None)
        ohm = draw.uniform(10.0, 1e5)
        if draw.random() < BAD_RATIO:
            # It runs, and stops in the middle: the engine stays in use, unlike after a deck it refused.
            stuck = divider(f"stuck {number}", ohm, "B1 0 out I = exp(100*v(out))*1e30", "C1 out 0 1e-12")
            with contextlib.suppress(NoConvergence):
                laboratory.call(run_unguarded, stuck)
            short = divider(f"short {number}", ohm)
            with pytest.raises(NoConvergence):
                laboratory.run(replace(short, stop_s=2 * short.stop_s))
            continue
        waves = laboratory.run(divider(f"good {number}", ohm))
        assert waves["v(out)"][-1] == pytest.approx(ohm / (ohm + 1000.0), rel=1e-4)
    return (laboratory.call(memory_kib, None) - before_kib) / runs


def test_soak(laboratory: Laboratory) -> None:
    # The allocator may take a page or two more; a leak of whole plots would be 20 KiB a run and more.
    assert soak(laboratory, 400) < 4.0


@pytest.mark.slow
def test_long_soak(laboratory: Laboratory) -> None:
    assert soak(laboratory, 5000) < 1.0
