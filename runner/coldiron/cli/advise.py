"""`coldiron advise`: choose parts of the catalogue for a lamp, leave the files, show what to buy."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Protocol

from coldiron.advice.advice import Advice, advise
from coldiron.advice.words import advice_lines, grouped, headings, row_cells, stage_lines
from coldiron.cli.arguments import CAUTION
from coldiron.cli.main import say_error
from coldiron.cli.running import pool_of
from coldiron.cli.study import asked_study, exit_status, files_words, say, terminal_width
from coldiron.engine.store import Store
from coldiron.errors import CannotWrite
from coldiron.limits import check_replacements
from coldiron.spread.values import check_tolerances
from coldiron.study.spread import Spread
from coldiron.sweep.cache import StoredCases
from coldiron.tables.advice import write_advice
from coldiron.tables.columns import Column, beside, wrapped
from coldiron.tables.files import manifest, write_results
from coldiron.tables.run_folder import RunFolder

LEAST_RUNS = 20
FOLDER = "advice"
"""Folder of the advice within that of its study: it never takes the place of the study's own run."""


class _Bar(Protocol):
    def tell(self, stage: str, done: int, left: int) -> None: ...

    def finished(self, bench: str) -> None: ...


def main(args: argparse.Namespace) -> int:
    """Search, write and show; return 0, or 3 when some cases of the shortlist gave no answer."""
    study = asked_study(args.study, args.out)
    check_replacements(study)
    spread = None
    if args.spread:
        spread = (study.spread or Spread()).model_copy(update={"runs": max(args.spread, LEAST_RUNS)})
        check_tolerances(study, spread)
    folder: Path = args.store or args.out / ".store"
    with RunFolder(args.out / study.name / FOLDER, say_error) as run:
        store = Store(folder, say_error, largest_bytes=round(args.store_limit * 1e9))
        finished = 0
        try:
            with _bar() as bar:

                def count(bench: str) -> None:
                    nonlocal finished
                    finished += 1
                    bar.finished(bench)

                advice = advise(
                    study,
                    pool_of(args),
                    StoredCases(store, fresh=args.fresh, readings_only=True),
                    shortlist_cache=StoredCases(store, fresh=args.fresh),
                    case_deadline_s=args.deadline,
                    tell=bar.tell,
                    finished=count,
                    keep_waves=not args.no_pictures,
                    spread=spread,
                )
        except KeyboardInterrupt:
            kept = f"{finished} cases are kept in {folder}; the same command goes on from there"
            raise KeyboardInterrupt(kept if store.keeping else "nothing was kept") from None
        finally:
            store.close()
        return _tell(advice, args, run)


def _tell(advice: Advice, args: argparse.Namespace, run: RunFolder) -> int:
    """Write the files, show the advice, and return the exit status."""
    shortlist, results, verdicts = advice.shortlist, advice.results, advice.verdicts
    try:
        files = [*write_advice(run.part, advice), *write_results(run.part, shortlist, results, verdicts)]
        if not args.no_pictures:
            from coldiron.pictures.advice import draw_advice
            from coldiron.report.page import write_report

            files += draw_advice(run.part / "pictures", advice)
            files.append(write_report(run.part, shortlist, results, verdicts, advice=advice))
        run.finish(manifest(shortlist, results), files)
    except CannotWrite as failure:
        run.lose(str(failure))
    width = terminal_width()
    first, *rest = advice_lines(advice)
    lines = [*wrapped(first, width), *_table(advice)]
    for line in (*rest, *(stage_lines(advice) if args.stages else ())):
        lines += wrapped(line, width)
    failed = [hole for hole in results.holes() if hole.word == "failed"]
    for hole in failed:
        lines += wrapped(f"failed: {hole.variant} | {hole.bench} | {hole.conditions}: {hole.why}", width)
    lines += wrapped(f"{files_words(run)} More: --stages.", width)
    say([*lines, *wrapped(CAUTION, width)])
    return exit_status(run, failed=bool(failed))


def _table(advice: Advice) -> list[str]:
    """The shortlist, a row a candidate."""
    if not advice.chosen:
        return []
    rows = [row_cells(advice, one) for one in advice.chosen]
    parts = len(advice.found.space.axes)
    columns = [
        Column(
            "",
            heading,
            "",
            tuple(row[place] for row in rows),
            left=place < parts or place == len(rows[0]) - 1,
        )
        for place, heading in enumerate(headings(advice))
    ]
    numbers = [str(one.number) for one in advice.chosen]
    return ["", *beside(numbers, columns, "№"), ""]


@contextmanager
def _bar() -> Iterator[_Bar]:
    """A bar on standard error: the stage, how many candidates are decided, cases run."""
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn

    columns = (
        TextColumn("{task.description}"),
        BarColumn(),
        TextColumn("{task.fields[said]}"),
        TimeElapsedColumn(),
    )
    with Progress(*columns, console=Console(stderr=True), transient=True) as progress:
        task = progress.add_task("as found", total=None, said="")
        cases = 0

        class Bar:
            def tell(self, stage: str, done: int, left: int) -> None:
                said = f"{grouped(done)} decided, {grouped(left)} left, {grouped(cases)} cases"
                progress.update(task, description=stage, completed=done, total=max(done + left, 1), said=said)

            def finished(self, bench: str) -> None:
                nonlocal cases
                cases += 1
                progress.update(task, said=f"{bench}: {grouped(cases)} cases")

        yield Bar()
