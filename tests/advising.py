"""Searches for tests: over real runs in one worker, or over a bench that reads what a test makes up."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any, cast

import numpy as np

from coldiron.advice.dominance import beats, in_grains
from coldiron.advice.half_cycle import half_cycle_readings, reduced
from coldiron.advice.runs import Bench, aims_of
from coldiron.advice.search import Found, Search
from coldiron.advice.space import Space
from coldiron.benches.base import Case
from coldiron.engine.local_pool import LocalPool
from coldiron.engine.pool import Outcome, WorkerPool
from coldiron.lamp.lamp import Lamp
from coldiron.study.advise import COST
from coldiron.study.load import study_from
from coldiron.study.model import Study
from coldiron.sweep.case_result import CaseResult
from coldiron.sweep.worker import Work

CHOICE: Mapping[str, Any] = {
    "reservoir": {"least": "33 µF", "most": "100 µF", "voltage": ["400 V"], "life": ["2000 h"]},
    "line_fusing": {"least": "10 Ω", "most": "33 Ω", "power": ["3 W"], "series": "E6"},
    "sense_resistor": {"least": "13 Ω", "most": "24 Ω", "series": "E12"},
    "aims": ["cost", "light_pct", "flicker_pct"],
    "set_aside": ["iec-61000-3-2.*", "ieee-1789.no-effect"],
}


def parts_study(lamp: Lamp, benches: Sequence[str] = ("steady",), **advise: Any) -> Study:
    """A study of a lamp that chooses among some parts."""
    tables = {
        "lamp": lamp.name,
        "name": "parts",
        "benches": list(benches),
        "advise": {**CHOICE, **advise},
    }
    return study_from(tables, Path("parts.toml"), lamp)


def searched(study: Study, pool: WorkerPool, **options: Any) -> Found:
    """Search a study."""
    space = Space(study)
    return Search(space, Bench(space, pool), **options).run()


def by_brute_force(study: Study, pool: WorkerPool) -> tuple[list[int], list[int]]:
    """Candidates that keep every limit when all are run on all benches, and those of them that none beats.

    Nothing of the search is used but the bench: each pair is compared by the definition.
    """
    space = Space(study)
    bench, aims = Bench(space, pool), aims_of(study)
    for name in bench.benches:
        bench.run(range(len(space)), name)
    kept = [number for number in range(len(space)) if bench.keeps_all(number)]
    values = np.array(
        [
            [
                float(space.costs[n])
                if aim.reading == COST
                else aim.sign * bench.of(n).readings.get(aim.reading, np.nan)
                for aim in aims
            ]
            for n in kept
        ]
    ).reshape(-1, len(aims))
    grains = in_grains(values, [aim.step for aim in aims])
    best = [n for n, own in zip(kept, grains, strict=True) if not any(beats(other, own) for other in grains)]
    return kept, best


class MadeUp:
    """A pool that runs nothing: it reads what the half wave says, times a factor a case and reading."""

    def __init__(
        self, error: Callable[[Case, str], float], surge: Callable[[Case], Mapping[str, float]]
    ) -> None:
        self._error, self._surge = error, surge

    def run_all(
        self, run: object, works: Sequence[Work], deadline_s: Callable[[Work], float]
    ) -> Iterator[Outcome[list[CaseResult]]]:
        """Every case of every work; their half waves are computed side by side."""
        cases = [case for work in works for case in work.cases]
        lamps = [
            reduced(case.lamp, case.conditions.voltage_v, case.conditions.frequency_hz) for case in cases
        ]
        said = half_cycle_readings([lamp for lamp in lamps if lamp is not None])
        results = iter(
            self._result(case, {n: float(v[row]) for n, v in said.items()}) for row, case in enumerate(cases)
        )
        for index, work in enumerate(works):
            yield Outcome(index, [next(results) for _ in work.cases])

    def _result(self, case: Case, said: Mapping[str, float]) -> CaseResult:
        if case.bench == "surge":
            return CaseResult(dict(self._surge(case)), {})
        readings = {
            name: value * self._error(case, name)
            for name, value in said.items()
            if np.isfinite(value) and (name == "discharge_50V_s") == (case.bench == "unplug")
        }
        return CaseResult(readings, {})


def off_by(
    error: Callable[[Case, str], float], surge: Callable[[Case], Mapping[str, float]] = lambda case: {}
) -> WorkerPool:
    """A pool of that kind; a surge reads what a function of the case says."""
    return cast("WorkerPool", MadeUp(error, surge))


def one_worker() -> LocalPool:
    """A pool of one engine."""
    from coldiron.sweep.worker import start_worker

    return LocalPool(1, start_worker)
