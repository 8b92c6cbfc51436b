"""`coldiron regress`: hold a study against its reference, or write that reference anew."""

from __future__ import annotations

import argparse
import contextlib
import shlex
import sys
from collections.abc import Callable
from functools import partial
from pathlib import Path

from coldiron.cli.console import Screen
from coldiron.cli.main import say_error
from coldiron.cli.running import run_with_progress
from coldiron.cli.study import failure_line
from coldiron.engine.local_pool import shared_pool
from coldiron.engine.pool import Lost
from coldiron.errors import CannotWrite, ColdironError, FileProblems, Problem, SimulationFailed
from coldiron.limits import Verdict, check_replacements, judge
from coldiron.regress.accept import accepted
from coldiron.regress.compare import compare
from coldiron.regress.files import REFUSED_STATUS, write_comparison, write_refusal
from coldiron.regress.groups import grouped
from coldiron.regress.head import complete_file, head
from coldiron.regress.moves import Comparison
from coldiron.regress.read import LARGEST_BYTES, read_reference
from coldiron.regress.record import case_name, record_of
from coldiron.regress.reference import ReferenceTable, written
from coldiron.regress.terminal import MOST_ROWS, moves_table
from coldiron.regress.tolerances import check_patterns
from coldiron.regress.words import changed_inputs, summary
from coldiron.study.load import load_study
from coldiron.study.model import Study
from coldiron.sweep.cases import study_cases
from coldiron.sweep.results import Results
from coldiron.sweep.run import FinishedCase
from coldiron.sweep.worker import engine_version, start_worker
from coldiron.tables.files import check_writable, file_stem, write_whole
from coldiron.wording import printable

ENGINE_DEADLINE_S = 60.0


def main(args: argparse.Namespace) -> int:
    """Return 0 when nothing moved, 1 when something did or a limit broke, 3 when cases failed.

    With `--accept` what the study gives becomes the reference, unless a case failed. Where a file or the
    installation is wrong, the folder of the results says so too: it is what a build shows.
    """
    try:
        return _regress(args)
    except ColdironError as failure:
        if failure.exit_status == REFUSED_STATUS:
            with contextlib.suppress(CannotWrite):
                name = file_stem(Path(args.study).stem)
                write_refusal(args.out / name, name, [printable(text) for text in str(failure).splitlines()])
        raise


def _regress(args: argparse.Namespace) -> int:
    study = load_study(args.study)
    check_replacements(study)
    path: Path = args.reference / f"{study.name}.toml"
    anew = f"coldiron regress {shlex.quote(args.study)} --accept"
    was = _before(path, study, anew, accepting=args.accept)
    if args.accept:
        check_writable(path)
    lost = _lost(partial(check_writable, args.out / study.name / "regress.md"))
    done = run_with_progress(list(study_cases(study)), args)
    verdicts = judge(study, done)
    now = record_of(study, Results(done), verdicts, _engine())
    known = {
        reading for record in (was, now) if record for case in record.readings.values() for reading in case
    }
    check_patterns(str(args.study), study.tolerance, known)
    failures = {case_name(one): printable(one.result.failure.why) for one in done if one.result.failure}
    comparison = None
    if was is not None:
        comparison = compare(was, now, study.tolerance, failures, verdicts, strict=args.strict)
        if not lost:
            lost = _lost(partial(write_comparison, args.out / study.name, comparison, done))
        _show(comparison, args.out / study.name)
    if args.accept:
        return _accept(path, accepted(was, now, study.tolerance), verdicts, study, done)
    if lost:
        return CannotWrite.exit_status
    return comparison.status if comparison else 0


def _lost(write: Callable[[], None]) -> bool:
    """Write, or say in a line that nothing of it is there: what moved is shown all the same."""
    try:
        write()
    except CannotWrite as failure:
        say_error(f"{failure}; what moved is shown all the same, but no file is written")
        return True
    return False


def _before(path: Path, study: Study, anew: str, *, accepting: bool) -> ReferenceTable | None:
    """The reference as it is; one that is to be replaced may be missing or damaged."""
    try:
        return read_reference(path, study.name, anew)
    except FileProblems:
        if accepting:
            return None
        raise


def _engine() -> str:
    [outcome] = shared_pool(1, start_worker).run_all(engine_version, [None], lambda task: ENGINE_DEADLINE_S)
    return "unknown engine" if isinstance(outcome.result, Lost) else outcome.result


def _show(comparison: Comparison, folder: Path) -> None:
    """One screen: what moved, the worst first, because of what, and what the rest is."""
    console = Screen(width=None if sys.stdout.isatty() else 160)

    def say(text: str) -> None:
        console.print(text, highlight=False, markup=False, soft_wrap=True)

    if comparison.moves:
        console.print(moves_table(comparison))
    for text in changed_inputs(comparison):
        say(f"because {text}")
    for more, what in (
        (len(grouped(comparison.moves)) - MOST_ROWS, "more rows"),
        (len(grouped(comparison.notes)), "notes on worst cases found elsewhere and limits kept now"),
    ):
        if more > 0:
            say(f"{more} {what}: {folder / 'regress.md'}")
    say(summary(comparison))


def _accept(
    path: Path, record: ReferenceTable, verdicts: list[Verdict], study: Study, done: list[FinishedCase]
) -> int:
    failed = [one for one in done if one.result.failure]
    if failed:
        for one in failed:
            say_error(failure_line(one))
        say_error(f"{path}: not written, because {len(failed)} of {len(done)} cases failed")
        return SimulationFailed.exit_status
    complete = written(record)
    if len(complete.encode()) > LARGEST_BYTES:
        expected = (
            f"a study whose reference is at most {LARGEST_BYTES / 1e6:g} MB; leave out variants or benches"
        )
        raise FileProblems([Problem(str(path), "", f"{len(complete) / 1e6:.0f} MB", expected)])
    # The file with the hash comes last: killed between the two, they do not pass for one writing.
    write_whole(complete_file(path), complete)
    write_whole(path, head(record, verdicts, study.tolerance, complete))
    sys.stdout.write(
        f"accepted: {record.count} readings of {len(record.readings)} cases in {path}, "
        f"{complete_file(path).name} beside it\n"
    )
    return 0
