"""The failures a person can meet, each with its exit status.

ColdironError
├── FileProblems        lamp and study files; every problem of a file at once (status 2)
├── MissingResource     an installation without its data files (status 2)
├── MissingEngine       no ngspice library on this machine (status 2)
├── NoWorkers           no process can be started to compute in (status 2)
├── MissingCluster      no usable scheduler or worker at an address (status 2)
├── CannotWrite         no room or no right where results should go (status 2)
├── NotApplicable       a bench that this lamp or study gives nothing to try (the rest goes on)
└── SimulationFailed    one case that gave no answer (status 3)
├── DeckRefused     the engine, or our own guard, did not accept the deck
├── NoConvergence   the engine gave up before the stop time
└── WorkerLost      the worker crashed or ran over its deadline
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


class ColdironError(Exception):
    """Base of every failure this package raises on purpose."""

    exit_status = 2


@dataclass(frozen=True)
class Problem:
    """One thing wrong in one file, ready to be read by a person.

    `key` is the dotted path as written in the file ("sinks.sense_resistor"); `value` the text as
    written; `expected` what would have been right; `nearest` a valid spelling, where there is one; `drawing`
    what helps to see it, on lines of its own below.
    """

    file: str
    key: str
    value: str
    expected: str
    nearest: str = ""
    drawing: str = ""

    def __str__(self) -> str:
        """One line: file, key, value, expectation, nearest fix; a drawing goes below it."""
        where = f"{self.file}: {self.key}" if self.key else self.file
        value = f" is {self.value}" if self.value else ""
        fix = f" (did you mean {self.nearest}?)" if self.nearest else ""
        below = f"\n{self.drawing}" if self.drawing else ""
        return f"{where}{value}: expected {self.expected}{fix}{below}"


class FileProblems(ColdironError):
    """Every problem found in lamp and study files, in the order of the file.

    Its text has the first `MOST_SAID` of each file and says how many more there are.
    """

    MOST_SAID = 50

    def __init__(self, problems: Sequence[Problem]) -> None:
        self.problems = tuple(problems)
        lines: list[str] = []
        for file in dict.fromkeys(problem.file for problem in self.problems):
            own = [problem for problem in self.problems if problem.file == file]
            lines += map(str, own[: self.MOST_SAID])
            if len(own) > self.MOST_SAID:
                lines.append(f"{file}: and {len(own) - self.MOST_SAID} more")
        super().__init__("\n".join(lines))


class MissingResource(ColdironError):
    """A data file of the package itself is not there."""


class MissingEngine(ColdironError):
    """The ngspice library cannot be opened."""


class NoWorkers(ColdironError):
    """No worker process can be started; its cause is what the start raised, if it was that."""


class MissingCluster(ColdironError):
    """No scheduler, or no worker that can be used, at the address of a cluster."""


class CannotWrite(ColdironError):
    """A result cannot be written where it was asked for."""


class NotApplicable(ColdironError):
    """A bench lacks a part of the lamp or a fact of the study; says which. This is not a failure."""


class SimulationFailed(ColdironError):
    """One case gave no readings; carries the engine's own words."""

    exit_status = 3

    def __init__(self, why: str, engine_words: str = "") -> None:
        self.why = why
        self.engine_words = engine_words
        super().__init__(why, engine_words)

    def __str__(self) -> str:
        """The reason, then what the engine said."""
        return f"{self.why}: {self.engine_words}" if self.engine_words else self.why


class DeckRefused(SimulationFailed):
    """The deck was not accepted, by our guard or by the engine."""


class NoConvergence(SimulationFailed):
    """The engine stopped before the stop time, or returned values that are not finite."""


class WorkerLost(SimulationFailed):
    """The worker process crashed or was ended at its deadline."""
