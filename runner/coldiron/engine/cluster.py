"""A worker pool on a cluster: the same tasks on the workers of a Dask scheduler, anywhere on a network.

Each worker process runs one task at a time in one thread and keeps one engine. A task over its deadline
ends its worker by the alarm of the operating system, a crash ends it by itself; the worker's nanny starts
another. A task whose worker is gone is tried again, because a worker may also be lost for reasons of
its own.
"""

from __future__ import annotations

import importlib
import logging
import os
import signal
from collections.abc import Callable, Iterator, Sequence
from typing import Any

from coldiron.engine.pool import Lost, Outcome, Result, Task
from coldiron.errors import MissingCluster

CONNECT_S = 10.0
"""How long to look for a scheduler and its first worker [s]."""
TRIES = 3
"""A killer ends this many workers; a task that only shared a worker with one gets through before."""


class ClusterPool:
    """Workers of a scheduler.

    Parameters
    ----------
    address : str
        Of the scheduler, such as "tcp://10.0.0.5:8786" or "10.0.0.5:8786".
    identity : callable
        Names code and engine of the process it is called in. A worker of another identity gives no result: it
        would answer with another program's numbers.
    """

    def __init__(self, address: str, identity: Callable[[], str]) -> None:
        self._address = address
        self._identity = identity

    def run_all(
        self, run: Callable[[Task], Result], tasks: Sequence[Task], deadline_s: Callable[[Task], float]
    ) -> Iterator[Outcome[Result]]:
        """Yield one outcome a task, in the order they finish.

        Raises
        ------
        MissingCluster
            If there is no scheduler, no worker, or a worker with more than one thread.
        """
        distributed = _library()
        client = _client(distributed, self._address)
        expected = self._identity()
        places: dict[str, int] = {}
        tries: dict[int, int] = {}

        def submit(index: int) -> Any:
            task = tasks[index]
            tries[index] = tries.get(index, 0) + 1
            arguments = (run, task, deadline_s(task), self._identity, expected)
            future = client.submit(_run_alone, *arguments, pure=False)
            places[future.key] = index
            return future

        upcoming = iter(range(len(tasks)))
        try:
            running = distributed.as_completed(loop=client.loop)
            # One task a worker: what waits at a worker that dies is counted as having killed it.
            for index in _first(upcoming, len(_workers(client))):
                running.add(submit(index))
            for future in running:
                index = places.pop(future.key)
                failure = future.exception() if future.status == "error" else None
                if isinstance(failure, distributed.KilledWorker) and tries[index] < TRIES:
                    running.add(submit(index))
                    continue
                if isinstance(failure, distributed.KilledWorker):
                    limit_s = deadline_s(tasks[index])
                    yield Outcome(
                        index, Lost(f"the engine process ended, or did not finish within {limit_s:.0f} s")
                    )
                elif failure is not None:
                    yield Outcome(index, Lost.raised(failure))
                else:
                    yield Outcome(index, future.result())
                for following in _first(upcoming, max(1, len(_workers(client)) - len(places))):
                    running.add(submit(following))
        finally:
            client.cancel([client.futures[key] for key in places if key in client.futures], force=True)
            client.close()


def _first(numbers: Iterator[int], count: int) -> list[int]:
    return [number for _, number in zip(range(count), numbers, strict=False)]


def _library() -> Any:
    try:
        return importlib.import_module("distributed")
    except ImportError:
        raise MissingCluster("a cluster needs the extra 'cluster': pip install 'coldiron[cluster]'") from None


def _client(distributed: Any, address: str) -> Any:
    # What it has to say about lost workers is said by the outcomes.
    logging.getLogger("distributed").setLevel(logging.CRITICAL)
    try:
        client = distributed.Client(address, timeout=CONNECT_S, set_as_default=False)
    except (OSError, ValueError, TypeError) as error:
        raise MissingCluster(f"no scheduler answers at {address}: {error or type(error).__name__}") from None
    try:
        client.wait_for_workers(1, timeout=CONNECT_S)
    except TimeoutError:
        client.close()
        raise MissingCluster(f"the scheduler at {address} has no workers") from None
    threaded = [name for name, worker in _workers(client).items() if worker["nthreads"] != 1]
    if threaded:
        client.close()
        raise MissingCluster(
            f"worker {threaded[0]} has several threads, and the engine needs one: --nthreads 1"
        )
    client.run_on_scheduler(_give_up_at_once)
    return client


def _workers(client: Any) -> dict[str, Any]:
    workers: dict[str, Any] = client.scheduler_info(n_workers=-1)["workers"]
    return workers


def _give_up_at_once(dask_scheduler: Any) -> None:
    """Do not hand a task that has ended a worker to the next one: who tries again is decided here."""
    dask_scheduler.allowed_failures = 0


def _run_alone(
    run: Callable[[Task], Result], task: Task, deadline_s: float, identity: Callable[[], str], expected: str
) -> Result | Lost:
    """Run a task in a worker process under the alarm of the operating system."""
    if identity() != expected:
        return Lost(
            f"the worker on {os.uname().nodename} has another engine or another version of this program"
        )
    signal.setitimer(signal.ITIMER_REAL, deadline_s)
    try:
        return run(task)
    finally:
        signal.setitimer(signal.ITIMER_REAL, 0.0)
