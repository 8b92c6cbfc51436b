"""Inside a worker process: cases in, findings out; one engine, its decks remembered for a task."""

from __future__ import annotations

import os
import time
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from coldiron.benches import BENCHES
from coldiron.benches.base import Case
from coldiron.deck.deck import Deck
from coldiron.engine.pool import RETIRED_EXIT_STATUS
from coldiron.engine.session import Session, enter_private_folder
from coldiron.engine.waves import Array, Waves
from coldiron.errors import SimulationFailed


@dataclass(frozen=True)
class Failure:
    """Why a case has no readings, and the engine's own words."""

    why: str
    engine_words: str = ""


@dataclass(frozen=True)
class Finding:
    """What a case gave, ready to be stored: readings or a failure, the decks, the time the engine took.

    `waves` hold time and vectors of the decks under their labels, where they were asked for.
    """

    readings: Mapping[str, float | str]
    decks: Mapping[str, str]
    failure: Failure | None = None
    waves: Mapping[str, Mapping[str, Array]] | None = None
    engine_s: float = 0.0
    runs: int = 0


_session: Session | None = None


def start_worker() -> None:
    """Prepare a worker process: a private folder, then the engine."""
    global _session
    enter_private_folder()
    _session = Session()


class SessionLab:
    """A lab on one engine session that remembers the decks of a task.

    `engine_s` and `runs` count what was really run.
    """

    def __init__(self, session: Session) -> None:
        self._session = session
        self._done: dict[str, Waves] = {}
        self.engine_s = 0.0
        self.runs = 0

    def run(self, deck: Deck) -> Waves:
        """Run a deck once; the same deck again returns what it gave."""
        if deck.key not in self._done:
            began = time.perf_counter()
            try:
                self._done[deck.key] = self._session.run(deck)
            finally:
                self.engine_s += time.perf_counter() - began
                self.runs += 1
        return self._done[deck.key]


@dataclass(frozen=True)
class Work:
    """Cases of one task; `keep_waves` asks for the vectors behind the pictures."""

    cases: tuple[Case, ...]
    keep_waves: bool = False


def run_work(work: Work) -> list[Finding]:
    """Run the cases of a task one after the other; a case that fails costs only itself."""
    session = _session
    if session is None:
        start_worker()
        session = _session
    if session is None or session.spent:
        os._exit(RETIRED_EXIT_STATUS)
    lab = SessionLab(session)
    return [_run_case(case, lab, keep_waves=work.keep_waves) for case in work.cases]


def _run_case(case: Case, lab: SessionLab, *, keep_waves: bool) -> Finding:
    before_s, before_runs = lab.engine_s, lab.runs
    try:
        found = BENCHES[case.bench].take(case, lab)
    except SimulationFailed as failure:
        return Finding({}, {}, Failure(failure.why, failure.engine_words), None, lab.engine_s - before_s)
    return Finding(
        readings=dict(found.readings),
        decks={label: deck.text for label, deck in found.decks.items()},
        waves={label: _plain(waves) for label, waves in found.waves.items()} if keep_waves else None,
        engine_s=lab.engine_s - before_s,
        runs=lab.runs - before_runs,
    )


def _plain(waves: Waves) -> dict[str, Array]:
    """Vectors that a picture can draw; the inner nodes of devices stay behind."""
    kept = {name: values for name, values in waves.vectors.items() if "#" not in name}
    return {"time": np.asarray(waves.time_s), **kept}
