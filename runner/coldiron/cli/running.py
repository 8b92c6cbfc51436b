"""Running cases for a command: which pool, which store, a bar that tells the time left."""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Sequence
from pathlib import Path
from types import TracebackType
from typing import Self

from coldiron.benches.base import Case
from coldiron.cli.main import say_error
from coldiron.engine.local_pool import shared_pool
from coldiron.engine.pool import WorkerPool
from coldiron.engine.store import Store
from coldiron.sweep.cache import StoredCases
from coldiron.sweep.keys import identity
from coldiron.sweep.run import FinishedCase, run_cases
from coldiron.sweep.worker import start_worker


def pool_of(args: argparse.Namespace) -> WorkerPool:
    """Workers on this machine, or those of a cluster."""
    if args.cluster:
        from coldiron.engine.cluster import ClusterPool

        return ClusterPool(args.cluster, identity, start_worker)
    return shared_pool(args.workers, start_worker)


class CaseRunner:
    """Runs cases for what goes on from what they gave: one pool, one store of readings, one bar.

    Parameters
    ----------
    args : argparse.Namespace
    """

    def __init__(self, args: argparse.Namespace) -> None:
        from rich.console import Console
        from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn

        self._args = args
        self.folder: Path = args.store or args.out / ".store"
        self._store = Store(self.folder, say_error, largest_bytes=round(args.store_limit * 1e9))
        self._cache = StoredCases(self._store, fresh=args.fresh, readings_only=True)
        self._pool = pool_of(args)
        self.finished = 0
        columns = TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TextColumn("cases")
        self._progress = Progress(*columns, console=Console(stderr=True), transient=True)
        self._bar = self._progress.add_task("", total=0)

    def __enter__(self) -> Self:
        """Show the bar."""
        self._progress.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Take the bar away, close the store, and say of an interrupt what is kept."""
        self._progress.stop()
        keeping = self._store.keeping
        self._store.close()
        if kind is KeyboardInterrupt:
            kept = f"{self.finished} cases are kept in {self.folder}; the same command goes on from there"
            raise KeyboardInterrupt(kept if keeping else "nothing was kept") from None

    def say(self, stage: str) -> None:
        """Tell what comes next."""
        self._progress.update(self._bar, description=stage, completed=0, total=0)

    def __call__(self, cases: Sequence[Case]) -> list[FinishedCase]:
        """Run cases and return them in their order, without decks."""
        task = self._progress.tasks[0]
        self._progress.update(self._bar, total=(task.total or 0) + len(cases))

        def count(done: FinishedCase) -> None:
            self.finished += 1
            self._progress.advance(self._bar)

        return run_cases(
            cases,
            self._pool,
            cache=self._cache,
            readings_only=True,
            case_deadline_s=self._args.deadline,
            finished=count,
        )


def run_with_progress(
    cases: Sequence[Case], args: argparse.Namespace, *, keep_waves: bool = False
) -> list[FinishedCase]:
    """Run cases through the store, with a bar on standard error.

    Raises
    ------
    KeyboardInterrupt
        When a person interrupts; its text says how much is kept.
    """
    return [one for batch in run_in_batches(cases, args, keep_waves=keep_waves) for one in batch]


def run_in_batches(
    cases: Sequence[Case], args: argparse.Namespace, *, keep_waves: bool = False, most: int | None = None
) -> Iterator[list[FinishedCase]]:
    """Run cases as `run_with_progress` does, and hand them out in order, `most` at a time."""
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

    columns = (
        TextColumn("{task.description}"),
        BarColumn(),
        MofNCompleteColumn(),
        TextColumn("cases, left"),
        TimeRemainingColumn(),
    )
    folder: Path = args.store or args.out / ".store"
    store = Store(folder, say_error, largest_bytes=round(args.store_limit * 1e9))
    pool, cache = pool_of(args), StoredCases(store, fresh=args.fresh)
    finished = 0
    with Progress(*columns, console=Console(stderr=True), transient=True) as progress:
        bar = progress.add_task("looking for what is known", total=None)
        known = 0

        def count(done: FinishedCase) -> None:
            nonlocal finished
            finished += 1
            if finished > known:
                progress.advance(bar)

        def recalled(of_batch: int) -> None:
            # What is recalled takes no time: counted in, it would promise the rest a hundred times too soon.
            nonlocal known
            known += of_batch
            words = f"running ({known} more were known)" if known else "running"
            progress.update(bar, description=words, total=len(cases) - known, completed=finished - known)

        try:
            for first in range(0, len(cases), most or len(cases) or 1):
                yield run_cases(
                    cases[first : first + (most or len(cases))],
                    pool,
                    cache=cache,
                    keep_waves=keep_waves,
                    case_deadline_s=args.deadline,
                    finished=count,
                    recalled=recalled,
                )
        except KeyboardInterrupt:
            kept = (
                f"{finished} of {len(cases)} cases are kept in {folder}; the same command goes on from there"
            )
            raise KeyboardInterrupt(kept if store.keeping else "nothing was kept") from None
        finally:
            store.close()
