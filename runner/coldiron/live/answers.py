"""What has been answered, what is being answered, and who still waits for it."""

from __future__ import annotations

import asyncio
from collections import OrderedDict
from collections.abc import Callable, Mapping
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from coldiron.engine.local_pool import LocalPool
from coldiron.engine.store import Store
from coldiron.live.work import Answered, Asked, answer
from coldiron.sweep.cache import StoredCases
from coldiron.sweep.keys import case_key

MOST_KEPT = 400
"""Answers kept in memory, some 60 kB each."""
DEADLINE_S = 60.0


@dataclass
class Flight:
    """An answer on its way, and how many wait for it; with the last of them it is called off."""

    key: str
    coming: asyncio.Future[Answered]
    called_off: Callable[[], bool]
    holders: int = 0

    async def landed(self) -> Answered:
        """The answer; raises what kept it from coming."""
        return await asyncio.shield(self.coming)


class Shelf:
    """The store of finished cases on disk, in a thread of its own: an answer never waits for it.

    Only readings and decks are kept there, some 4 kB a case: what `coldiron study` reads back.

    Parameters
    ----------
    folder : Path or None
        None keeps nothing.
    say : callable
        Told when the store is given up.
    """

    def __init__(self, folder: Path | None, say: Callable[[str], None]) -> None:
        self._thread = ThreadPoolExecutor(1, "coldiron store") if folder else None
        self._store: Future[Store] | None = None
        if self._thread is not None and folder is not None:
            self._store = self._thread.submit(Store, folder, say)

    def keep(self, asked: Asked, found: Answered) -> None:
        """Keep the result of a whole case."""
        if self._thread is None or asked.one_surge:
            return
        self._thread.submit(self._keep, asked, found)

    def close(self) -> None:
        """Write what is left and give the file back."""
        if self._thread is not None and self._store is not None:
            self._thread.submit(self._store.result().close)
            self._thread.shutdown()

    def _keep(self, asked: Asked, found: Answered) -> None:
        assert self._store is not None
        StoredCases(self._store.result()).keep([(asked.case, found.result)])


class Answers:
    """Answers by what was asked: from memory, from a run under way, or from a worker.

    Parameters
    ----------
    pool : LocalPool
    shelf : Shelf
    """

    def __init__(self, pool: LocalPool, shelf: Shelf) -> None:
        self._pool = pool
        self._shelf = shelf
        self._kept: OrderedDict[str, Answered] = OrderedDict()
        self._flights: dict[str, Flight] = {}

    @property
    def workers(self) -> int:
        """How many can be worked on at a time."""
        return self._pool.workers

    @property
    def counts(self) -> Mapping[str, int]:
        """How many answers are kept, and how many on their way."""
        return {"kept": len(self._kept), "under way": len(self._flights)}

    def known(self, asked: Asked) -> Answered | None:
        """The answer, where it is in memory."""
        key = key_of(asked)
        if key in self._kept:
            self._kept.move_to_end(key)
            return self._kept[key]
        return None

    def join(self, asked: Asked) -> Flight | None:
        """Begin to wait for an answer that is under way; None where it is not."""
        flight = self._flights.get(key_of(asked))
        if flight is not None:
            flight.holders += 1
        return flight

    def hold(self, asked: Asked, priority: float) -> Flight:
        """Begin to wait for an answer; `release` ends it."""
        key = key_of(asked)
        flight = self._flights.get(key)
        if flight is None:
            flight = self._begun(key, asked, priority)
        flight.holders += 1
        return flight

    def release(self, flight: Flight) -> None:
        """Wait for it no longer: a run that nobody waits for ends, and its worker with it."""
        flight.holders -= 1
        if flight.holders <= 0 and not flight.coming.done():
            if self._flights.get(flight.key) is flight:
                del self._flights[flight.key]
            flight.called_off()

    async def get(self, asked: Asked, priority: float) -> Answered:
        """The answer, however it comes; a wait that is cancelled lets go of the run."""
        known = self.known(asked)
        if known is not None:
            return known
        flight = self.hold(asked, priority)
        try:
            return await flight.landed()
        finally:
            self.release(flight)

    def _begun(self, key: str, asked: Asked, priority: float) -> Flight:
        pending = self._pool.submit(answer, asked, DEADLINE_S, priority=priority)
        coming = asyncio.ensure_future(asyncio.wrap_future(pending))

        def landed(done: asyncio.Future[Answered]) -> None:
            # One that was called off may have had its place taken by the next that asks the same.
            if self._flights.get(key) is flight:
                del self._flights[key]
            if not done.cancelled() and done.exception() is None:
                self._keep(key, asked, done.result())

        flight = self._flights[key] = Flight(key, coming, coming.cancel)
        coming.add_done_callback(landed)
        return flight

    def _keep(self, key: str, asked: Asked, found: Answered) -> None:
        self._kept[key] = found
        while len(self._kept) > MOST_KEPT:
            self._kept.popitem(last=False)
        # The answer is on its way to the page by then: callbacks of a future run in their order.
        asyncio.get_running_loop().call_soon(self._shelf.keep, asked, found)


def key_of(asked: Asked) -> str:
    """Name of what is asked: what decides the answer, and nothing else."""
    return f"{case_key(asked.case)}{' one' if asked.one_surge else ''}"


def words_of(error: BaseException) -> str:
    """Why an answer did not come, in a line."""
    said: Any = getattr(error, "why", None)
    return str(said) if said else (str(error) or type(error).__name__)
