"""A diagnosis for notebooks and scripts: end states by how well they explain what was read and seen."""

from __future__ import annotations

import warnings
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from coldiron.benches.base import Case
from coldiron.diagnosis.findings import entries_of, findings, mains_of
from coldiron.diagnosis.next_reading import Proposal, propose
from coldiron.diagnosis.rank import Ranking, rank
from coldiron.diagnosis.signatures import signatures
from coldiron.diagnosis.words import lines
from coldiron.engine.local_pool import shared_pool
from coldiron.engine.store import Store
from coldiron.lamp.lamp import Lamp
from coldiron.lamp.load import load_lamp
from coldiron.sweep.cache import StoredCases
from coldiron.sweep.case_result import CaseResult
from coldiron.sweep.run import run_cases
from coldiron.sweep.worker import start_worker


@dataclass(frozen=True, repr=False)
class Diagnosis:
    """What came of a diagnosis; printed, the lines that the terminal shows."""

    ranking: Ranking

    @property
    def states(self) -> pd.DataFrame:
        """One row an end state, the likeliest first: its probability, and whether the set of 90 % has it."""
        of = self.ranking
        return pd.DataFrame(
            {
                "state": [of.signatures.states[n].name for n in of.order],
                "probability": of.probability[of.order],
                "likely": [int(n) in of.likely for n in of.order],
            }
        ).set_index("state")

    @property
    def shown(self) -> bool:
        """Whether a fault is shown at all: a good lamp would not read so."""
        return self.ranking.shown

    @property
    def next_reading(self) -> Proposal | None:
        """The measurement to take next; None where one state holds nine tenths, or nothing tells any more."""
        return propose(self.ranking)

    def __repr__(self) -> str:
        """Every line of it."""
        return "\n".join(lines(self.ranking, 100))


def diagnose(
    lamp: str | Path | Lamp,
    readings: Mapping[str, Sequence[str] | str] | None = None,
    symptoms: Sequence[str] = (),
    *,
    discoloured: str = "",
    workers: int | None = None,
    store: str | Path | None = None,
) -> Diagnosis:
    """Rank the end states of a lamp by how well they explain what was read and seen on a broken one.

    Parameters
    ----------
    lamp : str, Path or Lamp
        A lamp file, the name of a shipped one, or a lamp already loaded.
    readings : mapping, optional
        As on the command line, without dashes: "watts", "amperes", "mains" to a value; "volts", "ohms",
        "farads", "led-volts", "diode-volts" to texts such as "bus=242 V", "line_fusing=open" or
        "bus-minus=470k".
    symptoms : sequence of str
        Such as "dark", "flickers", "trips the breaker".
    discoloured : str
        A part that is burnt, brown or swollen.
    workers : int, optional
        Worker processes; all cores when absent.
    store : str or Path, optional
        Folder in which finished cases are kept and found again; nothing is kept when absent.

    Raises
    ------
    FileProblems
        With all that is unknown, contradicts itself, or is about a part that the lamp lacks.

    Examples
    --------
    >>> found = diagnose("pantry-bulb", {"watts": "4.8 W", "amperes": "44 mA"}, ["dim"])
    >>> sorted(found.states.index[:2])
    ['sinks one off', 'sinks one sense open']
    """
    loaded = lamp if isinstance(lamp, Lamp) else load_lamp(lamp)
    found = findings(loaded, entries_of(readings or {}), symptoms, discoloured)
    pool = shared_pool(workers, start_worker)
    kept = Store(Path(store), lambda text: warnings.warn(text, stacklevel=3)) if store is not None else None

    def run(cases: Sequence[Case]) -> list[CaseResult]:
        cache = StoredCases(kept, readings_only=True) if kept is not None else None
        return [one.result for one in run_cases(cases, pool, cache=cache, readings_only=True)]

    try:
        return Diagnosis(rank(signatures(loaded, mains_of(loaded, found), run), found))
    finally:
        if kept is not None:
            kept.close()
