"""A worker process with a real ngspice for tests: runs bare decks, or cases of benches."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from types import TracebackType
from typing import Any, Self, TypeVar

from coldiron.benches.base import Case, TestConditions
from coldiron.deck.deck import Deck
from coldiron.engine.local_pool import LocalPool
from coldiron.engine.session import Session
from coldiron.engine.waves import Waveforms
from coldiron.lamp.lamp import Lamp
from coldiron.lamp.model import Part
from coldiron.sweep import worker
from coldiron.sweep.case_result import CaseResult
from coldiron.sweep.worker import Work, run_work, start_worker
from hanging import HANG_S

T = TypeVar("T")
L = TypeVar("L", bound=Lamp)


def _session() -> Session:
    session = worker._session
    assert session is not None
    return session


def _run_deck(deck: Deck) -> Waveforms:
    return _session().run(deck)


def _call(task: tuple[Callable[..., T], tuple[Any, ...]]) -> T:
    function, args = task
    return function(*args)


class Laboratory:
    """One engine worker; what is raised in it is raised here."""

    def __enter__(self) -> Self:
        """Make a pool of one worker."""
        self._pool = LocalPool(1, start_worker)
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """End the worker."""
        self._pool.close()

    def call(self, function: Callable[..., T], *args: Any) -> T:
        """Run a function in the worker process."""
        result: T = self._pool.submit(_call, (function, args), HANG_S).result()
        return result

    def run(self, deck: Deck) -> Waveforms:
        """Run one deck."""
        return self.call(_run_deck, deck)

    def take(self, *cases: Case, keep_waves: bool = False) -> list[CaseResult]:
        """Run cases that share a lamp; fails the test when one gives no answer."""
        results = self.call(run_work, Work(tuple(cases), keep_waves))
        assert [result.failure for result in results] == [None] * len(cases)
        return results

    def readings(self, lamp: Lamp, bench: str, **conditions: Any) -> dict[str, Any]:
        """Readings of one lamp on one bench on its own supply."""
        [result] = self.take(case_of(lamp, bench, **conditions))
        return dict(result.readings)


def case_of(lamp: Lamp, bench: str, **conditions: Any) -> Case:
    """Case of a lamp as found on its own supply."""
    own = TestConditions(voltage_v=lamp.mains.voltage_v, frequency_hz=lamp.mains.frequency_hz)
    return Case("test", "as found", lamp, bench, replace(own, **conditions))


def changed(lamp: L, **parts: Part | dict[str, Any] | None) -> L:
    """A lamp with parts exchanged, removed (None) or some of their values replaced (a dict)."""
    update: dict[str, Any] = {}
    for name, part in parts.items():
        update[name] = getattr(lamp, name).model_copy(update=part) if isinstance(part, dict) else part
    return lamp.model_copy(update=update)
