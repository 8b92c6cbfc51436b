"""`coldiron study`: run every variant, leave the files, show the answer."""

from __future__ import annotations

import argparse
import io
import shutil
import sys
import tomllib
from collections.abc import Sequence
from pathlib import Path

from rich.console import Console
from rich.table import Table

from coldiron.answer.answer import Answer, answer
from coldiron.cli.arguments import CAUTION
from coldiron.cli.following import follow, say_failed
from coldiron.cli.main import say_error
from coldiron.cli.running import run_with_progress
from coldiron.cli.select import check_names, selected_cases
from coldiron.cli.shipped import shipped_lines
from coldiron.errors import CannotWrite, SimulationFailed
from coldiron.lamp.load import lamp_from
from coldiron.lamp.toml_file import find_file, read_toml
from coldiron.limits import Verdict, check_replacements, judge
from coldiron.resources import resource_dir
from coldiron.study.load import is_lamp, load_study, study_from
from coldiron.study.model import AS_FOUND, Study
from coldiron.study.weighed import is_untouched, weighed_text
from coldiron.sweep.faults import Followed
from coldiron.sweep.results import Results
from coldiron.sweep.run import FinishedCase
from coldiron.tables.answer_files import write_answer
from coldiron.tables.columns import wrapped
from coldiron.tables.fault_files import write_faults
from coldiron.tables.faults import fault_lines
from coldiron.tables.files import file_stem, manifest, write_results, write_whole
from coldiron.tables.rows import rows_of
from coldiron.tables.run_folder import RunFolder, folder_of
from coldiron.tables.screen import left_out_lines, screen, shown_rows
from coldiron.tables.sentences import sentences
from coldiron.tables.variants import changes_table
from coldiron.tables.verdicts import verdict_lines, verdict_table
from coldiron.wording import printable_lines

MOST_FAILURES = 12
MORE = "More: --about NAME, --changes, --limits."

LARGE_VARIANTS = 500
"""Above this a study is written as it runs; below, it is compared on the terminal."""


def main(args: argparse.Namespace) -> int:
    """Run a study and return 0, or 3 when some cases gave no answer."""
    if args.study is None:
        say(shipped_lines())
        return 0
    study = asked_study(args.study, args.out)
    check_replacements(study)
    if study.spread:
        from coldiron.spread.values import check_tolerances

        check_tolerances(study, study.spread)
    cases = selected_cases(study, args.variant, args.bench)
    check_names("--about", args.about or (), list(dict.fromkeys(case.variant for case in cases)))
    if len({case.variant for case in cases}) > LARGE_VARIANTS:
        from coldiron.cli.large import run_large

        if study.spread:
            say_error(f"more than {LARGE_VARIANTS} variants: the spread is left to coldiron spread --variant")
        return run_large(study, cases, args)
    with RunFolder(folder_of(args.out, study, args.variant, args.bench), say_error) as run:
        done = run_with_progress(cases, args, keep_waves=not args.no_pictures)
        faults = _faults(study, args) if study.faults and not args.bench else []
        try:
            return _tell(study, done, faults, args, run)
        except KeyboardInterrupt:
            words = f"all {len(done)} cases had run; the same command shows and writes them"
            raise KeyboardInterrupt(words) from None


def _faults(study: Study, args: argparse.Namespace) -> list[Followed]:
    """Faults that a study asks for, followed in the lamp as found and in the chosen variants."""
    keep = {AS_FOUND, *args.variant} if args.variant else {variant.name for variant in study.variants}
    chosen = tuple(variant for variant in study.variants if variant.name in keep)
    return follow(study.model_copy(update={"variants": chosen}), study.faults, args)


def asked_study(path_or_name: str, out: Path) -> Study:
    """Study of a file; of a lamp alone what a technician would weigh for it, written as a study file first.

    The file stands in the folder of its results, the lamp beside it, and is written anew from the lamp until
    somebody edits it; then it stays as it is, and the lamp's own study is run.
    """
    path = find_file(path_or_name, "studies", "lamps")
    table = read_toml(path)
    if not is_lamp(table):
        return load_study(path_or_name)
    lamp = lamp_from(table, path)
    name = file_stem(path.stem)
    folder = out / name
    is_shipped = path.parent == resource_dir("variants") / "lamps"
    text = weighed_text(lamp, name, path.stem if is_shipped else f"{name}.toml")
    file = folder / "study.toml"
    try:
        if not is_shipped:
            write_whole(folder / f"{name}.toml", path.read_text(encoding="utf-8-sig"))
        if file.exists() and not is_untouched(file.read_text(encoding="utf-8")):
            say_error(f"{file} has been edited and stays as it is; run it by its path")
            return study_from(tomllib.loads(text), file)
        write_whole(file, text)
    except CannotWrite:  # as for every file of this run, it is said where the folder is opened
        return study_from(tomllib.loads(text), file, lamp)
    say_error(f"the study of this lamp is in {file}, to be edited and run by its path")
    return load_study(file)


def _tell(
    study: Study,
    done: Sequence[FinishedCase],
    faults: Sequence[Followed],
    args: argparse.Namespace,
    run: RunFolder,
) -> int:
    """Write the files of a study that has run, show it, and return the exit status.

    The files come first: whoever reads only the head of what is printed has them all. Where they cannot be
    written that is said, and what was found is shown all the same.
    """
    results = Results(done)
    verdicts = judge(study, done)
    found = answer(study, results, verdicts)
    spread = None
    if study.spread and len(results):
        from coldiron.cli.spreading import leaning, spreads, worth_a_spread

        spread = spreads(study, worth_a_spread(found), args, study.spread, found)
        found = leaning(found, spread)
    each = spread.each if spread else ()
    try:
        files = [*write_results(run.part, study, results, verdicts), *write_answer(run.part, found)]
        if not args.no_pictures:
            from coldiron.pictures.faults import draw_faults
            from coldiron.pictures.study import draw_study
            from coldiron.report.page import write_report

            files += draw_study(run.part / "pictures", study, results, found)
            files += draw_faults(run.part / "pictures", faults)
            files.append(write_report(run.part, study, results, verdicts, found, each, faults))
        if spread:
            from coldiron.tables.spread import write_spread

            files += write_spread(run.part / "spread", each)
        if faults:
            files += write_faults(run.part, faults)
        run.finish(manifest(study, results), files)
    except CannotWrite as failure:
        run.lose(str(failure))
    width = terminal_width()
    lines = screen(study, results, found, width)
    if spread:
        from coldiron.tables.spread import spread_screen

        lines += [line for one in each for line in ("", *spread_screen(one, width))]
    if faults:
        lines += ["", *fault_lines(study.lamp, faults, width), ""]
    lines += _asked_for(results, verdicts, found, args, width)
    failed = [failure_line(one) for one in done if one.result.failure]
    for line in failed[:MOST_FAILURES]:
        lines += wrapped(f"failed: {line}", width)
    if len(failed) > MOST_FAILURES:
        lines.append(f"{len(failed) - MOST_FAILURES} more failed; readings.csv has them all")
    lines += wrapped(f"{files_words(run)} {MORE}", width)
    say([*lines, *wrapped(CAUTION, width)])
    lost = bool(faults) and say_failed(faults)
    return exit_status(run, failed=bool(failed) or lost or bool(spread and spread.failed))


def files_words(run: RunFolder) -> str:
    """Where the files of a run are."""
    return "No file was written." if run.lost else f"Files: {printable_lines(str(run.path))}."


def exit_status(run: RunFolder, *, failed: bool) -> int:
    """Status of a study that was shown: whether it has its files, and whether every case has an answer."""
    if run.lost:
        return CannotWrite.exit_status
    return SimulationFailed.exit_status if failed else 0


def _asked_for(
    results: Results,
    verdicts: Sequence[Verdict],
    found: Answer,
    args: argparse.Namespace,
    width: int,
) -> list[str]:
    """What an option asked for, each after an empty line."""
    lines = []
    rows = shown_rows(rows_of(found), found)
    if args.changes:
        lines += ["", *changes_table(found, rows, results.benches, width)]
    if args.about:
        said = sentences(results, verdicts)
        for name in args.about:
            lines += ["", *wrapped(f"{name}: {said[name]}", width)]
    if args.limits:
        lines += ["", *printed(verdict_table(verdicts), width)]
        for line in (*verdict_lines(verdicts), *left_out_lines(results)):
            lines += wrapped(line, width)
    return [*lines, ""] if lines else []


def failure_line(one: FinishedCase) -> str:
    """Which case failed, and why, in one line."""
    failure = one.result.failure
    words = f"{failure.why}: {failure.last_words}" if failure and failure.engine_words else ""
    why = words or (failure.why if failure else "")
    return f"{one.case.variant} | {one.case.bench} | {one.case.conditions.label}: {why}"


def terminal_width(otherwise: int = 100) -> int:
    """Columns of the terminal; of a pipe what COLUMNS says, or else 100."""
    return shutil.get_terminal_size((otherwise, 24)).columns


def printed(table: Table | None, width: int) -> list[str]:
    """Lines of a table as a terminal of some width shows it."""
    if table is None:
        return []
    console = Console(width=width, file=io.StringIO())
    with console.capture() as text:
        console.print(table)
    return text.get().splitlines()


def say(lines: Sequence[str]) -> None:
    """Print lines; where a reader of a pipe has left, that is known before the end."""
    sys.stdout.write("\n".join(lines) + "\n")
    sys.stdout.flush()
