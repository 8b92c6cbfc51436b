"""`coldiron study`: run every variant, show the table, leave the files."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence

from rich.console import Console

from coldiron.cli.arguments import CAUTION
from coldiron.cli.running import run_with_progress
from coldiron.cli.select import selected_cases
from coldiron.errors import SimulationFailed
from coldiron.limits import Verdict, check_replacements, judge
from coldiron.study.load import load_study
from coldiron.study.model import Study
from coldiron.sweep.results import Results
from coldiron.sweep.run import FinishedCase
from coldiron.tables.files import write_results
from coldiron.tables.sentences import sentences
from coldiron.tables.terminal import headline_table, legend
from coldiron.tables.verdicts import verdict_lines, verdict_table

LARGE_VARIANTS = 500
"""Above this a study is written as it runs; below, it is compared on the terminal."""


def main(args: argparse.Namespace) -> int:
    """Run a study and return 0, or 3 when some cases gave no answer."""
    study = load_study(args.study)
    check_replacements(study)
    cases = selected_cases(study, args.variant, args.bench)
    if len({case.variant for case in cases}) > LARGE_VARIANTS:
        from coldiron.cli.large import run_large

        return run_large(study, cases, args)
    console = Console(width=None if sys.stdout.isatty() else 160)
    done = run_with_progress(cases, args, keep_waves=not args.no_pictures)
    try:
        return _tell(console, study, done, args)
    except KeyboardInterrupt:
        words = f"all {len(done)} cases had run; the same command shows and writes them"
        raise KeyboardInterrupt(words) from None


def _tell(console: Console, study: Study, done: Sequence[FinishedCase], args: argparse.Namespace) -> int:
    """Show a study that has run and write its files; return the exit status."""
    results, verdicts = Results(done), judge(study, done)
    folder = write_results(args.out / study.name, study, results, verdicts)
    for supply in results.conditions:
        title = f"{study.lamp.name}: {study.name}, {supply}, ambient {study.conditions.ambient_c:g} °C"
        console.print(headline_table(results, supply, title, verdicts, console.width))
    failed = [one for one in done if one.result.failure]
    for line in legend([failure_line(one) for one in failed], skipped_lines(done)):
        console.print(line, highlight=False, markup=False)
    print_verdicts(console, results, verdicts)
    if not args.no_pictures:
        # The table is on the screen by now; drawing takes longer than many a study.
        from coldiron.pictures.study import draw_study
        from coldiron.report.page import write_report

        draw_study(folder / "pictures", results)
        write_report(folder, study, results, verdicts)
    console.print(f"files: {folder}", highlight=False)
    console.print(f"[bold]{CAUTION}[/bold]", highlight=False)
    return SimulationFailed.exit_status if failed else 0


def print_verdicts(console: Console, results: Results, verdicts: Sequence[Verdict]) -> None:
    """Print a sentence for each variant, the broken limits, and where no limit applies."""
    for variant, text in sentences(results, verdicts).items():
        console.print(f"{variant}: {text}", highlight=False, markup=False)
    table = verdict_table(verdicts)
    if table is not None:
        console.print(table)
    for line in verdict_lines(verdicts):
        console.print(line, highlight=False, markup=False)


def skipped_lines(done: Sequence[FinishedCase]) -> list[str]:
    """Which bench was skipped for which variants, and what it lacks, one line for each reason."""
    variants: dict[tuple[str, str], dict[str, None]] = {}
    for one in done:
        if one.result.skipped:
            variants.setdefault((one.case.bench, one.result.skipped), {})[one.case.variant] = None
    everywhere = len({one.case.variant for one in done})
    return [
        f"{bench} ({'every variant' if len(names) == everywhere else ', '.join(names)}): {why}"
        for (bench, why), names in variants.items()
    ]


def failure_line(one: FinishedCase) -> str:
    """Which case failed, and why, in one line."""
    failure = one.result.failure
    words = f"{failure.why}: {failure.last_words}" if failure and failure.engine_words else ""
    why = words or (failure.why if failure else "")
    return f"{one.case.variant} | {one.case.bench} | {one.case.exposure.label}: {why}"
