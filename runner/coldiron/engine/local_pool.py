"""The worker pool of this machine: processes that are forked as they are needed and outlive a call.

No library that was looked at does what is asked for here. Those with a deadline for each task import the
program that uses them into every worker, and look at their workers ten times a second; those that import
nothing lose every task when one worker dies.
"""

from __future__ import annotations

import atexit
import heapq
import math
import os
import pickle
import signal
import threading
import time
import traceback
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import CancelledError, Future
from dataclasses import dataclass
from multiprocessing import connection
from queue import SimpleQueue
from types import TracebackType
from typing import Any, Self, TypeVar

from coldiron.engine.pool import RETIRED_EXIT_STATUS, Elsewhere, Lost, Outcome, Result, Task
from coldiron.engine.workers import ForkServer, Worker, unpacked
from coldiron.errors import ColdironError, NoWorkers, WorkerLost

MOST_RETIREMENTS = 3
"""A task that has found as many engines spent is lost: it is not the engines' fault."""
TASKS_OF_A_WORKER = 1000
"""The engine's memory grows by some kilobytes a task; a new worker costs 2 ms."""

T = TypeVar("T")


class PendingResult(Future[T]):
    """Result of a task to come. `cancel` ends the task even while it runs, and its worker with it."""

    def __init__(self, end: Callable[[PendingResult[Any]], bool]) -> None:
        super().__init__()
        self._end = end

    def cancel(self) -> bool:
        """End the task, wherever it is; False only when it has been through already."""
        return super().cancel() or self._end(self)

    def cancelled(self) -> bool:
        """Whether the task was ended by `cancel`."""
        return super().cancelled() or (self.done() and isinstance(self.exception(), CancelledError))


@dataclass
class _Job:
    """A task on its way: what is sent, until when it may run, whom it is for."""

    number: int
    content: bytes
    deadline_s: float
    answer: PendingResult[Any]
    retirements: int = 0


@dataclass
class _Desk:
    """A worker and what it has at hand."""

    worker: Worker
    job: _Job | None = None
    until_s: float = 0.0
    jobs: int = 0

    ending: bool = False

    @property
    def free(self) -> bool:
        """Whether the worker can take a task."""
        return self.job is None and not self.ending

    def end(self) -> None:
        """Kill the worker; what it was at is no longer its own. That it is gone is heard later."""
        self.job, self.ending = None, True
        self.worker.kill()

    def fileno(self) -> int:
        """Descriptor that can be read when there is something to hear."""
        return self.worker.fileno()


class LocalPool:
    """Worker processes on this machine, forked as they are needed and kept until `close`.

    A worker that was killed or died is replaced at once. Calls may come from any thread; callbacks of answers
    run in a thread of the pool. Tasks and what they return travel pickled, functions by the name of their
    module: what was defined at a prompt or in a script cannot be found by a worker.

    Parameters
    ----------
    workers : int, optional
        How many may work at a time; all cores when absent.
    start : callable, optional
        Runs once, in the process that the workers are forked from: what it imports and opens they all have.
    idle_s : float
        After so long without a task every process ends [s]; the next task starts anew.
    """

    def __init__(
        self,
        workers: int | None = None,
        start: Callable[[], None] | None = None,
        *,
        idle_s: float = math.inf,
    ) -> None:
        self.workers = workers or len(os.sched_getaffinity(0))
        self.idle_s = idle_s
        self._server = ForkServer(start)
        self._lock = threading.RLock()
        self._waiting: list[tuple[float, int, _Job]] = []
        self._desks: list[_Desk] = []
        self._numbers = 0
        self._thread: threading.Thread | None = None
        self._rung = self._closing = False
        self._owner = os.getpid()
        self._ear, self._bell = connection.Pipe(duplex=False)

    def __enter__(self) -> Self:
        """Nothing is started before the first task."""
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """End the workers."""
        self.close()

    @property
    def closed(self) -> bool:
        """Whether it takes no more tasks."""
        return self._closing or self._owner != os.getpid()

    def submit(
        self, run: Callable[[Task], T], task: Task, deadline_s: float, *, priority: float = 0.0
    ) -> PendingResult[T]:
        """Hand in a task.

        Parameters
        ----------
        run : callable
        task : object
        deadline_s : float
            Longest time in the worker [s]; waiting does not count.
        priority : float
            A higher one goes first; tasks of the same one go in the order they came.

        Returns
        -------
        PendingResult
            Raises what the task raised, with its traceback as the cause; WorkerLost when its worker died or
            its deadline passed; NoWorkers when none can be started.
        """
        answer: PendingResult[T] = PendingResult(self._end)
        content = pickle.dumps((run, task), pickle.HIGHEST_PROTOCOL)
        with self._lock:
            if self.closed:
                raise RuntimeError("this worker pool is closed")
            if self._thread is None:
                self._thread = threading.Thread(target=self._keep, name="coldiron worker pool", daemon=True)
                self._thread.start()
                atexit.register(self.close)
            self._numbers += 1
            job = _Job(self._numbers, content, deadline_s, answer)
            heapq.heappush(self._waiting, (-priority, job.number, job))
        self._ring()
        return answer

    def run_all(
        self, run: Callable[[Task], Result], tasks: Sequence[Task], deadline_s: Callable[[Task], float]
    ) -> Iterator[Outcome[Result]]:
        """Yield one outcome a task, in the order they finish; who stops asking ends what still runs.

        Raises
        ------
        MissingEngine, NoWorkers
            If no worker can be started.
        """
        under_way: dict[Future[Result], int] = {}
        finished: SimpleQueue[Future[Result]] = SimpleQueue()
        upcoming = iter(range(len(tasks)))
        try:
            while True:
                # A short queue: results leave as they come, so memory does not grow with the number of tasks.
                while len(under_way) < 2 * self.workers and (index := next(upcoming, None)) is not None:
                    try:
                        answer = self.submit(run, tasks[index], deadline_s(tasks[index]))
                    except (pickle.PicklingError, AttributeError, TypeError) as error:
                        yield Outcome(index, Lost.raised(error))
                        continue
                    under_way[answer] = index
                    answer.add_done_callback(finished.put)
                if not under_way:
                    return
                done = finished.get()
                yield Outcome(under_way.pop(done), _outcome(done))
        finally:
            for left in under_way:
                left.cancel()

    def close(self) -> None:
        """End every worker; tasks that have no answer yet are cancelled."""
        with self._lock:
            if self._closing or self._owner != os.getpid():
                return
            self._closing = True
        atexit.unregister(self.close)
        self._ring()
        if self._thread is not None and self._thread is not threading.current_thread():
            self._thread.join()

    def _ring(self) -> None:
        """Have the pool's thread look at what is new."""
        with self._lock:
            if not self._rung:
                self._rung = True
                self._bell.send_bytes(b"!")

    def _keep(self) -> None:
        """Hand out tasks, take answers, watch deadlines; the one thread that speaks to workers."""
        # Interrupts are for the thread that waits; processes started here inherit that they do not hear them.
        signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT, signal.SIGTERM, signal.SIGHUP})
        try:
            while not self._closing:
                self._hand_out()
                busy = [desk.until_s for desk in self._desks if desk.job]
                idle_s = self.idle_s if self._desks and math.isfinite(self.idle_s) else None
                timeout_s = max(0.0, min(busy) - time.monotonic()) if busy else idle_s
                everyone: list[Any] = [self._ear, *self._desks]
                heard = connection.wait(everyone, timeout_s)
                if not heard and not busy:
                    self._rest()
                for ready in heard:
                    if isinstance(ready, _Desk):
                        self._hear(ready)
                    else:
                        with self._lock:
                            self._ear.recv_bytes()
                            self._rung = False
                self._end_late()
        finally:
            self._leave()

    def _hand_out(self) -> None:
        """Give waiting tasks to workers at rest, and to new ones while there may be more."""
        while self._waiting and sum(desk.job is not None for desk in self._desks) < self.workers:
            desk = next((desk for desk in self._desks if desk.free), None)
            if desk is None:
                try:
                    worker = self._server.fork()
                except NoWorkers as failure:
                    self._fail_all(failure)
                    return
                if worker is None:
                    if not self._desks:
                        self._fail_all(NoWorkers("this machine has no room for a worker process"))
                    return
                desk = _Desk(worker)
                with self._lock:
                    self._desks.append(desk)
            with self._lock:
                job = heapq.heappop(self._waiting)[2] if self._waiting else None
                if job is None or not (job.retirements or job.answer.set_running_or_notify_cancel()):
                    continue
                desk.job, desk.until_s = job, time.monotonic() + job.deadline_s
            try:
                desk.worker.send(job.content)
            except OSError:
                self._bury(desk, RETIRED_EXIT_STATUS)

    def _hear(self, desk: _Desk) -> None:
        """Take what a worker has to say: an answer, or that it is gone."""
        try:
            content = desk.worker.receive()
        except (EOFError, OSError):
            self._bury(desk, self._server.bury(desk.worker))
            return
        with self._lock:
            job, desk.job = desk.job, None
        if job is None:
            return
        desk.jobs += 1
        if desk.jobs >= TASKS_OF_A_WORKER:
            desk.end()
        try:
            result, failure = unpacked(content)
        except Exception as error:  # noqa: BLE001  what cannot be unpacked is that task's own loss
            result, failure = None, (error, "".join(traceback.format_exception(error)))
        if failure is None:
            job.answer.set_result(result)
        else:
            raised, words = failure
            raised.__cause__ = Elsewhere(words)
            job.answer.set_exception(raised)

    def _bury(self, desk: _Desk, status: int | None) -> None:
        """Forget a worker that is gone; its task goes to another if it did not begin."""
        with self._lock:
            self._desks.remove(desk)
            job, desk.job = desk.job, None
            if job is None:
                return
            if status == RETIRED_EXIT_STATUS and job.retirements < MOST_RETIREMENTS:
                job.retirements += 1
                heapq.heappush(self._waiting, (-math.inf, job.number, job))
                return
        how = "" if status is None else f" with status {status}"
        job.answer.set_exception(WorkerLost(f"the engine process ended{how}"))

    def _end_late(self) -> None:
        """End the workers whose task is over its deadline."""
        now_s = time.monotonic()
        for desk in self._desks:
            with self._lock:
                job = desk.job
                if job is None or now_s < desk.until_s:
                    continue
                desk.end()
            job.answer.set_exception(WorkerLost(f"not finished within {job.deadline_s:.0f} s"))

    def _end(self, answer: PendingResult[Any]) -> bool:
        """End a task that has begun; False when it is no longer here."""
        with self._lock:
            for desk in self._desks:
                if desk.job and desk.job.answer is answer:
                    desk.end()
                    break
            else:
                waiting = [entry for entry in self._waiting if entry[2].answer is not answer]
                if len(waiting) == len(self._waiting):
                    return answer.cancelled()
                heapq.heapify(waiting)
                self._waiting = waiting
        answer.set_exception(CancelledError())
        return True

    def _fail_all(self, failure: Exception) -> None:
        """Give every waiting task the reason why there are no workers."""
        with self._lock:
            waiting, self._waiting = self._waiting, []
        for _, _, job in waiting:
            if job.retirements or job.answer.set_running_or_notify_cancel():
                job.answer.set_exception(failure)

    def _rest(self) -> None:
        """End every process until there is something to do."""
        with self._lock:
            for desk in self._desks:
                desk.end()
            resting, self._desks = self._desks, []
        self._server.close()
        for desk in resting:
            desk.worker.buried()

    def _leave(self) -> None:
        """End every process; whoever still waits is told."""
        with self._lock:
            self._closing = True
            left = [*(desk.job for desk in self._desks if desk.job), *(job for _, _, job in self._waiting)]
            self._waiting = []
        self._rest()
        for job in left:
            if not Future.cancel(job.answer):
                job.answer.set_exception(CancelledError())


def _outcome(answer: Future[Any]) -> Any:
    """Result of a task, or its loss; a start that failed is no task's own and is raised."""
    error = answer.exception()
    if error is None:
        return answer.result()
    if isinstance(error, NoWorkers):
        raise error.__cause__ if isinstance(error.__cause__, ColdironError) else error
    return Lost.raised(error)


_shared: dict[tuple[int, Callable[[], None] | None], LocalPool] = {}
_sharing = threading.Lock()


def shared_pool(
    workers: int | None = None, start: Callable[[], None] | None = None, *, idle_s: float = math.inf
) -> LocalPool:
    """The one living pool of this process for this start, made when it is first asked for.

    Every study of a process goes through it, so that only the first waits for the engine. It ends with the
    process. `workers` of it may work at a time from now on; all cores when absent.
    """
    with _sharing:
        pool = _shared.get((os.getpid(), start))
        if pool is None or pool.closed:
            pool = _shared[os.getpid(), start] = LocalPool(workers, start, idle_s=idle_s)
        pool.workers = workers or len(os.sched_getaffinity(0))
        return pool
