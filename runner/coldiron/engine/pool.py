"""Worker pools: tasks in, outcomes out, whatever becomes of the workers.

A task that raises, crashes its worker or runs over its deadline is one lost outcome; the rest go on.
"""

from __future__ import annotations

import traceback
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Generic, Protocol, TypeVar

from coldiron.errors import WorkerLost

RETIRED_EXIT_STATUS = 70
"""A worker leaves with this status when a task finds its engine spent: the task did nothing yet."""

Task = TypeVar("Task")
Result = TypeVar("Result")


@dataclass(frozen=True)
class Lost:
    """A task that gave no result, and why; `words` hold the traceback of one that raised."""

    why: str
    words: str = ""

    @classmethod
    def raised(cls, error: BaseException) -> Lost:
        """Make the loss of a task that raised, or whose worker was lost."""
        if isinstance(error, WorkerLost):
            return cls(str(error))
        words = str(error.__cause__) if isinstance(error.__cause__, Elsewhere) else ""
        return cls(
            traceback.format_exception_only(error)[-1].strip(),
            words or "".join(traceback.format_exception(error)),
        )


@dataclass(frozen=True)
class Outcome(Generic[Result]):
    """Result, or loss, of the task with this index."""

    index: int
    result: Result | Lost


class Elsewhere(Exception):
    """Cause of an exception that was raised in a worker: its traceback there, as text."""


class WorkerPool(Protocol):
    """Whatever can run tasks somewhere else."""

    def run_all(
        self, run: Callable[[Task], Result], tasks: Sequence[Task], deadline_s: Callable[[Task], float]
    ) -> Iterator[Outcome[Result]]:
        """Yield one outcome a task, in the order they finish."""
        ...
