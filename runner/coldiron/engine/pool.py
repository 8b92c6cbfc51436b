"""Local workers: one engine process each, killed at a deadline, replaced when they die.

A pool takes tasks and hands back outcomes in the order they finish. A task that raises, crashes its worker or
runs over its deadline is one lost outcome; the rest go on.
"""

from __future__ import annotations

import multiprocessing
import os
import traceback
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import FIRST_COMPLETED, Future, TimeoutError, wait
from dataclasses import dataclass
from typing import Any, Generic, Protocol, TypeVar

from pebble import ProcessExpired, ProcessPool

ENGINE_BINDING = "PySpice.Spice.NgSpice.Shared"
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
        """Make the loss of a task that raised."""
        return cls(
            traceback.format_exception_only(error)[-1].strip(), "".join(traceback.format_exception(error))
        )


@dataclass(frozen=True)
class Outcome(Generic[Result]):
    """Result, or loss, of the task with this index."""

    index: int
    result: Result | Lost


class WorkerPool(Protocol):
    """Whatever can run tasks somewhere else."""

    def run_all(
        self, run: Callable[[Task], Result], tasks: Sequence[Task], deadline_s: Callable[[Task], float]
    ) -> Iterator[Outcome[Result]]:
        """Yield one outcome a task, in the order they finish."""
        ...


class LocalPool:
    """Worker processes on this machine.

    Parameters
    ----------
    workers : int, optional
        Number of processes; all cores when absent.
    start : callable, optional
        Runs once in each new worker.
    """

    def __init__(self, workers: int | None = None, start: Callable[[], None] | None = None) -> None:
        self.workers = workers or len(os.sched_getaffinity(0))
        self._start = start

    def run_all(
        self, run: Callable[[Task], Result], tasks: Sequence[Task], deadline_s: Callable[[Task], float]
    ) -> Iterator[Outcome[Result]]:
        """Yield one outcome a task, in the order they finish; an interrupt ends every worker."""
        context = multiprocessing.get_context("forkserver")
        # What every worker imports is imported once, in the process that they are forked from.
        context.set_forkserver_preload([ENGINE_BINDING, *([self._start.__module__] if self._start else [])])
        pool = ProcessPool(
            max_workers=min(self.workers, max(1, len(tasks))), initializer=self._start, context=context
        )
        try:
            waiting: dict[Future[Any], int] = {}
            upcoming = iter(range(len(tasks)))
            exhausted = False
            while waiting or not exhausted:
                # A short queue: results leave as they come, so memory does not grow with the number of tasks.
                while not exhausted and len(waiting) < 2 * self.workers:
                    index = next(upcoming, None)
                    if index is None:
                        exhausted = True
                        break
                    waiting[_schedule(pool, run, tasks[index], deadline_s)] = index
                if not waiting:
                    break
                done, _ = wait(waiting, return_when=FIRST_COMPLETED)
                for future in done:
                    index = waiting.pop(future)
                    result = _result(future, deadline_s(tasks[index]))
                    if result is None:
                        waiting[_schedule(pool, run, tasks[index], deadline_s)] = index
                    else:
                        yield Outcome(index, result)
            pool.close()  # type: ignore[no-untyped-call]
        finally:
            pool.stop()  # type: ignore[no-untyped-call]
            pool.join()


def _schedule(
    pool: ProcessPool, run: Callable[[Task], Any], task: Task, deadline_s: Callable[[Task], float]
) -> Future[Any]:
    future: Future[Any] = pool.schedule(run, args=(task,), timeout=deadline_s(task))
    return future


def _result(future: Future[Any], deadline_s: float) -> Any:
    """Result of a finished task, its loss, or None when its worker had retired before it began."""
    try:
        return future.result()
    except TimeoutError:
        return Lost(f"not finished within {deadline_s:.0f} s")
    except ProcessExpired as expiry:
        if expiry.exitcode == RETIRED_EXIT_STATUS:
            return None
        return Lost(f"the engine process ended with status {expiry.exitcode}")
    except Exception as error:  # noqa: BLE001  whatever a task raises is its own loss
        return Lost.raised(error)
