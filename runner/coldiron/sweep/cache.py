"""Case results that were computed before: the store, in terms of cases."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Protocol

from coldiron.benches.base import Case
from coldiron.engine.store import Store
from coldiron.sweep.case_result import CaseResult
from coldiron.sweep.code import has_changed
from coldiron.sweep.keys import case_key
from coldiron.sweep.stored import NotAResult, read_back, waves_read_back, written, written_waves


class Cache(Protocol):
    """Whatever remembers results."""

    def recall(self, case: Case, *, with_waves: bool) -> CaseResult | None:
        """Result of the same case computed by the same code, or None."""
        ...

    def keep(self, found: Iterable[tuple[Case, CaseResult]]) -> None:
        """Remember results."""
        ...


class NoCache:
    """Remembers nothing."""

    def recall(self, case: Case, *, with_waves: bool) -> CaseResult | None:
        """Nothing, always."""
        return None

    def keep(self, found: Iterable[tuple[Case, CaseResult]]) -> None:
        """Let them go."""


class StoredCases:
    """Remembers results in a store.

    Parameters
    ----------
    store : Store
    fresh : bool
        Whether to ignore what is there, and only replace it.
    readings_only : bool
        Whether the results have no decks. They are kept apart from whole ones, so that nobody who wants a
        deck finds none.
    """

    def __init__(self, store: Store, *, fresh: bool = False, readings_only: bool = False) -> None:
        self._store = store
        self._fresh = fresh
        self._readings_only = readings_only

    def recall(self, case: Case, *, with_waves: bool) -> CaseResult | None:
        """Result of the same case computed by the same code, or None; with waves only if they were kept.

        A row that no result was written as is computed anew, and replaced.
        """
        if self._fresh:
            return None
        key = self._key(case)
        text = self._store.get(key)
        if text is None:
            return None
        try:
            if not with_waves:
                return read_back(text)
            content = self._store.get(_waves_key(key))
            return None if content is None else read_back(text, waves_read_back(content))
        except NotAResult as why:
            self._store.doubt(str(why))
            return None

    def keep(self, found: Iterable[tuple[Case, CaseResult]]) -> None:
        """Remember results that would come out the same again, and be believed."""
        rows: dict[str, bytes] = {}
        for case, result in found:
            text = written(result)
            if result.failure and not (result.failure.certain and _is_believed(text)):
                continue
            key = self._key(case)
            rows[key] = text
            if result.waves is not None:
                rows[_waves_key(key)] = written_waves(result.waves)
        if rows and has_changed():
            # The key names the program as it stands in its files, and another one may have computed this.
            self._store.give_up("the program has been changed since it was started")
        elif rows:
            self._store.put(rows)

    def _key(self, case: Case) -> str:
        return f"{case_key(case)} readings" if self._readings_only else case_key(case)


def _is_believed(text: bytes) -> bool:
    """Whether a failure would be read back: the deck that a guard refused would be refused again."""
    try:
        read_back(text)
    except NotAResult:
        return False
    return True


def _waves_key(key: str) -> str:
    return f"{key} waves"
