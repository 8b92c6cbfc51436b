"""What a case gave, and how it is written down to be read back the same."""

from __future__ import annotations

import io
import json
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from coldiron.engine.waves import Array

PlainWaves = Mapping[str, Mapping[str, Array]]
"""Time and vectors of each deck of a case, by the deck's label."""


@dataclass(frozen=True)
class Failure:
    """Why a case has no readings, and the engine's own words, or the traceback of a mistake in this program.

    `certain` is True when the same case would fail the same way again: the engine gave up or refused the
    deck. A worker that died, or a deadline that passed, may be the machine's doing.
    """

    why: str
    engine_words: str = ""
    certain: bool = True

    @property
    def last_words(self) -> str:
        r"""Words for one line: of a traceback what was raised.

        Examples
        --------
        >>> Failure("unexpected error", "Traceback ...\n  File ...\nValueError: no crest").last_words
        'ValueError: no crest'
        """
        return self.engine_words.rstrip().rpartition("\n")[2]


@dataclass(frozen=True)
class CaseResult:
    """What a case gave, ready to be stored: readings or a failure, the decks, the time it took.

    `cpu_s` is the processor time of the whole case, `engine_s` that within the engine, in `runs` decks.
    `skipped` says what the lamp or the study lacks for this bench: no readings then, and no failure.
    `roads` say how each deck was started and whether it had to fall back, by its label; `waves` hold time and
    vectors of the decks under their labels, where they were asked for.
    """

    readings: Mapping[str, float | str]
    decks: Mapping[str, str]
    failure: Failure | None = None
    waves: PlainWaves | None = None
    cpu_s: float = 0.0
    engine_s: float = 0.0
    runs: int = 0
    roads: Mapping[str, str] = field(default_factory=dict)
    skipped: str = ""


def written(result: CaseResult) -> bytes:
    """Everything of a result but its waves, as text."""
    failure = result.failure
    return json.dumps(
        {
            "readings": dict(result.readings),
            "decks": dict(result.decks),
            "failure": [failure.why, failure.engine_words] if failure else None,
            "cpu_s": result.cpu_s,
            "engine_s": result.engine_s,
            "runs": result.runs,
            "roads": dict(result.roads),
            "skipped": result.skipped,
        }
    ).encode()


def read_back(text: bytes, waves: PlainWaves | None = None) -> CaseResult:
    """CaseResult as it was written.

    Examples
    --------
    >>> found = CaseResult({"bus_mean_V": 0.1 + 0.2, "weakest_part": "bridge"}, {"steady": "* deck"})
    >>> read_back(written(found)) == found
    True
    """
    plain = json.loads(text)
    plain["failure"] = Failure(*plain["failure"]) if plain["failure"] else None
    return CaseResult(**plain, waves=waves)


def written_waves(waves: PlainWaves) -> bytes:
    """Waves as one array file; the store compresses it."""
    buffer = io.BytesIO()
    rows = {f"{label}/{name}": values for label, row in waves.items() for name, values in row.items()}
    np.savez(buffer, allow_pickle=False, **rows)
    return buffer.getvalue()


def waves_read_back(content: bytes) -> PlainWaves:
    """Waves as they were written.

    Examples
    --------
    >>> waves = {"steady": {"time": np.array([0.0, 0.1]), "v(bus)": np.ones(2)}}
    >>> back = waves_read_back(written_waves(waves))
    >>> back["steady"]["time"].tolist()
    [0.0, 0.1]
    """
    waves: dict[str, dict[str, Array]] = {}
    with np.load(io.BytesIO(content), allow_pickle=False) as file:
        for path in file.files:
            label, _, name = path.partition("/")
            waves.setdefault(label, {})[name] = file[path]
    return waves
