"""What happens inside a worker process: cases in, results out, decks remembered for a task."""

from __future__ import annotations

import importlib
import os
import time
import traceback
from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from coldiron.benches import BENCHES
from coldiron.benches.base import Case
from coldiron.benches.edges import edge_words
from coldiron.deck.deck import Deck
from coldiron.engine.confine import confine, enter_private_folder
from coldiron.engine.pool import RETIRED_EXIT_STATUS
from coldiron.engine.session import Session
from coldiron.engine.waves import Array, Waveforms
from coldiron.errors import NotApplicable, SimulationFailed
from coldiron.sweep.case_result import CaseResult, Failure

FAILED_DECK = "failed"
"""Label of the last deck of a case that gave no answer."""

_session: Session | None = None


def start_worker() -> None:
    """Prepare a worker process: a private folder, then the engine, then no more than it needs."""
    global _session
    # Nearly every bench settles a lamp first: what that needs is loaded once, and not by each worker.
    _ = BENCHES["steady"]
    importlib.import_module("scipy.optimize")
    folder = enter_private_folder()
    _session = Session()
    confine(folder)


def engine_version(task: None) -> str:
    """Version of the engine in this worker, such as "ngspice-39"."""
    return _session.version if _session else "unknown"


class SessionSimulator:
    """A lab on one engine session that remembers the decks of a task.

    `engine_s` [s of processor time inside the engine's library] and `runs` count what was really run.
    """

    def __init__(self, session: Session) -> None:
        self._session = session
        self._done: dict[str, Waveforms] = {}
        self.last: Deck | None = None
        self._began_s = session.inside_s
        self.runs = 0

    @property
    def engine_s(self) -> float:
        """Processor time inside the engine's library since this lab began [s]."""
        return self._session.inside_s - self._began_s

    def run(self, deck: Deck) -> Waveforms:
        """Run a deck once; the same deck again, whatever its comments, returns what it gave."""
        self.last = deck
        if deck.key not in self._done:
            self.runs += 1
            self._done[deck.key] = self._session.run(deck)
        return self._done[deck.key]


def _this_session() -> Session:
    """Engine of this worker; a worker whose engine is spent ends here, and its task goes to another."""
    if _session is None or _session.spent:
        os._exit(RETIRED_EXIT_STATUS)
    return _session


def fresh_lab() -> SessionSimulator:
    """Make a lab on the engine of this worker that remembers nothing yet."""
    return SessionSimulator(_this_session())


@dataclass(frozen=True)
class Work:
    """Cases of one task; `keep_waves` asks for the vectors behind the pictures.

    `readings_only` leaves the decks behind, but for those of a case that failed: of thousands of lamps that
    differ by a value nobody looks at them, and they are most of what a result weighs.
    """

    cases: tuple[Case, ...]
    keep_waves: bool = False
    readings_only: bool = False


def run_work(work: Work) -> list[CaseResult]:
    """Run the cases of a task one after the other; a case that fails costs only itself.

    Returns
    -------
    list of CaseResult
        In the order of the cases. It is shorter than they are when a case has spoilt the engine: the others
        wait for a new one.
    """
    session = _this_session()
    lab = SessionSimulator(session)
    found = []
    for case in work.cases:
        result = _run_case(case, lab, keep_waves=work.keep_waves)
        found.append(bare(result) if work.readings_only else result)
        if session.spent:
            break
    return found


def bare(result: CaseResult) -> CaseResult:
    """Result without decks and how they were run; one that failed keeps them."""
    return result if result.failure else replace(result, decks={}, how_run={})


def _run_case(case: Case, lab: SessionSimulator, *, keep_waves: bool) -> CaseResult:
    began_s, before_s, before_runs = time.process_time(), lab.engine_s, lab.runs
    lab.last = None
    try:
        found = BENCHES[case.bench].take(case, lab)
    except NotApplicable as reason:
        return CaseResult({}, {}, waves={} if keep_waves else None, not_applicable=str(reason))
    except Exception as error:  # noqa: BLE001  whatever a bench raises costs its own case
        return CaseResult(
            {},
            {FAILED_DECK: lab.last.text} if lab.last else {},
            _foreseen(case, error) if isinstance(error, SimulationFailed) else _unexpected(error),
            cpu_s=time.process_time() - began_s,
            engine_s=lab.engine_s - before_s,
            runs=lab.runs - before_runs,
        )
    return CaseResult(
        readings={name: _plain(value) for name, value in found.readings.items()},
        decks={label: deck.text for label, deck in found.decks.items()},
        waves={label: _drawable(waves) for label, waves in found.waves.items()} if keep_waves else None,
        cpu_s=time.process_time() - began_s,
        engine_s=lab.engine_s - before_s,
        runs=lab.runs - before_runs,
        how_run=dict(found.how_run),
    )


def _foreseen(case: Case, error: SimulationFailed) -> Failure:
    """Failure of a case that the engine gave up on, with what is out of the ordinary about its lamp."""
    edge = edge_words(case)
    return Failure(f"{error.why} ({edge})" if edge else error.why, error.engine_words)


def _unexpected(error: Exception) -> Failure:
    """Failure of a case in which this program, and not the engine, went wrong; its words are the traceback.

    It is not certain: a machine short of memory raises too.
    """
    *_, where = traceback.extract_tb(error.__traceback__)
    words = "".join(traceback.format_exception(error)).rstrip()
    return Failure(
        f"unexpected error in {Path(where.filename).name}, line {where.lineno}", words, certain=False
    )


def _plain(value: float | str) -> float | str:
    """A reading without numpy's types: read back from the store it must be the same."""
    return value if isinstance(value, str) else float(value)


def _drawable(waves: Waveforms) -> Mapping[str, Array]:
    """Vectors that a picture can draw; the inner nodes of devices stay behind."""
    kept = {name: values for name, values in waves.vectors.items() if "#" not in name}
    return {"time": np.asarray(waves.time_s), **kept}
