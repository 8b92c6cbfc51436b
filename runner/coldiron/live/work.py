"""What a worker does for the page: one hand in, its strips and readings out."""

from __future__ import annotations

import time
from collections.abc import Mapping
from dataclasses import dataclass, replace

from coldiron.benches import surge
from coldiron.benches.base import Case
from coldiron.benches.edges import edge_words
from coldiron.benches.surge_readings import discs_of
from coldiron.errors import NotApplicable, SimulationFailed
from coldiron.strips.spread import Strips, strips
from coldiron.sweep import worker
from coldiron.sweep.case_result import CaseResult, Failure
from coldiron.sweep.worker import Work, run_work, start_worker


@dataclass(frozen=True)
class Asked:
    """What a worker is asked: a case, and whether its first angle and polarity of a surge are enough."""

    case: Case
    one_surge: bool = False


@dataclass(frozen=True)
class Answered:
    """What a worker answers: the case's result without its vectors, its strips where it has some.

    `note` says what the strips are of, where that is not the case itself; `worker_s` what it took.
    """

    result: CaseResult
    strips: Strips | None
    note: str = ""
    worker_s: float = 0.0


def start() -> None:
    """Prepare the process that workers are forked from; the modules above are loaded by then."""
    start_worker()
    _ = surge.FIRED


def answer(asked: Asked) -> Answered:
    """Run what is asked on the engine of this worker.

    Whatever goes wrong is told in the result; nothing is raised that a bench can raise.
    """
    began_s = time.perf_counter()
    found = _one_surge(asked.case) if asked.one_surge else _whole(asked.case)
    return replace(found, worker_s=time.perf_counter() - began_s)


def _whole(case: Case) -> Answered:
    [result] = run_work(Work((case,), keep_waves=True))
    return Answered(replace(result, waves=None), _strips(case, result))


def _one_surge(case: Case) -> Answered:
    """The surge at the first angle and polarity, with the varistor's disc that lets most through."""
    lab = worker.fresh_lab()
    try:
        before = surge.settled(case, lab, case.conditions.operating_point())
        angle_deg, polarity = case.conditions.surge_angles_deg[0], case.conditions.surge_polarities[0]
        disc = discs_of(case.lamp)[0]
        run = surge.fired(case, lab, before, angle_deg, polarity, disc)
    except NotApplicable as reason:
        return Answered(CaseResult({}, {}, not_applicable=str(reason)), None)
    except SimulationFailed as error:
        edge = edge_words(case)
        why = f"{error.why} ({edge})" if edge else error.why
        decks = {worker.FAILED_DECK: lab.last.text} if lab.last else {}
        return Answered(CaseResult({}, decks, Failure(why, error.engine_words)), None)
    readings: Mapping[str, float | str] = run.readings
    runs = {
        label: {"time": waves.time_s, **waves.vectors}
        for label, waves in {"before": before.waves, "surge": run.window.waves}.items()
    }
    result = CaseResult(
        {name: value if isinstance(value, str) else float(value) for name, value in readings.items()},
        {"before": before.deck.text, "surge": run.deck.text},
        how_run={"before": before.how, surge.label(case.lamp, run): run.how},
        runs=lab.runs,
    )
    note = f"{disc} disc of the varistor" if len(discs_of(case.lamp)) > 1 else ""
    return Answered(result, strips(case, runs, result.readings), note)


def _strips(case: Case, result: CaseResult) -> Strips | None:
    """Strips of a case that gave an answer; None where its run is not one that can be shown."""
    if not result.readings or not result.waves:
        return None
    try:
        return strips(case, result.waves, result.readings)
    except (NotApplicable, KeyError):
        return None
