"""A study with more variants than anyone reads: files that grow while it runs, and the same answer."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path

from coldiron.answer.answer import Answer
from coldiron.answer.front import Front, front
from coldiron.answer.gathered import Gathered
from coldiron.answer.rank import Ranked
from coldiron.answer.words import answer_lines, verdict_line
from coldiron.benches.base import Case
from coldiron.cli.arguments import CAUTION
from coldiron.cli.main import say_error
from coldiron.cli.running import run_in_batches
from coldiron.cli.study import exit_status, files_words, say, terminal_width
from coldiron.errors import CannotWrite
from coldiron.limits import judge
from coldiron.study.model import Study
from coldiron.tables.answer_files import rank_frame, write_answer
from coldiron.tables.columns import wrapped
from coldiron.tables.files import provenance, write_whole
from coldiron.tables.growing import GrowingTable
from coldiron.tables.matrix import matrix_table
from coldiron.tables.run_folder import RunFolder, folder_of
from coldiron.tables.tidy import csv_text
from coldiron.tables.variants import variants_table

BATCH_CASES = 2000
SHOWN = 15
"""Variants on the screen: the first of the ranking."""


def run_large(study: Study, cases: Sequence[Case], args: argparse.Namespace) -> int:
    """Run a large study and return 0, or 3 when some cases gave no answer."""
    with RunFolder(folder_of(args.out, study, args.variant, args.bench), say_error) as run:
        return _run_into(run, study, cases, args)


def _run_into(run: RunFolder, study: Study, cases: Sequence[Case], args: argparse.Namespace) -> int:
    gathered = Gathered(study)
    benches: tuple[str, ...] = ()
    with GrowingTable(run.part, run.lose, say_error) as table:
        for done in run_in_batches(cases, args, most=whole_variants(cases)):
            verdicts = judge(study, done)
            results = table.add(done, verdicts)
            gathered.add(results, verdicts)
            benches = results.benches
    answer = gathered.answer()
    trade = front(answer)
    ran = {
        "study": study.name,
        "lamp": study.lamp.name,
        "benches": [bench for bench in study.benches if any(case.bench == bench for case in cases)],
        "variants": len({case.variant for case in cases}),
        "cases": len(cases),
        "failed": table.failed,
        **provenance(study),
    }
    try:
        files = [*table.files, *write_answer(run.part, answer)]
        if trade:
            files += _front_files(run.part, study, answer, trade, pictures=not args.no_pictures)
        run.finish(ran, files)
    except CannotWrite as failure:
        run.lose(str(failure))
    counts = f"{len(gathered.candidates)} variants; {len(cases)} cases, {table.failed} failed"
    lines = _screen(study, answer, trade, benches, counts, terminal_width())
    lines += wrapped(f"{files_words(run)} One variant closer: --variant NAME.", terminal_width())
    say([*lines, *wrapped(CAUTION, terminal_width())])
    return exit_status(run, failed=table.failed > 0)


def _front_files(folder: Path, study: Study, answer: Answer, trade: Front, *, pictures: bool) -> list[Path]:
    """Write the variants that none beats, and their picture; return the files."""
    best = rank_frame(answer).loc[[one.candidate.name for one in trade.variants]]
    for measure in (trade.across, trade.up):
        best[measure.reading] = [one.candidate.reading(measure.reading) for one in trade.variants]
    texts = {folder / "front.csv": csv_text(best.reset_index())}
    if pictures:
        from coldiron.pictures.tradeoff import tradeoff

        named = answer.named.ranked.candidate.number if answer.named else None
        title = f"{study.lamp.name} · {study.name}"
        texts[folder / "pictures" / "trade-off.svg"] = tradeoff(trade, title, named).labelled
    for path, text in texts.items():
        write_whole(path, text)
    return list(texts)


def whole_variants(cases: Sequence[Case]) -> int:
    """Cases of a batch, so that none parts the cases of a variant: each variant has as many."""
    own = sum(case.variant == cases[0].variant for case in cases) if cases else 1
    return max(own, BATCH_CASES // own * own)


def _screen(
    study: Study, answer: Answer, trade: Front | None, benches: Sequence[str], counts: str, width: int
) -> list[str]:
    """The verdict, the first of the ranking, what they use of the limits, the trade-off, and the answer."""
    rows: list[tuple[Ranked, ...]] = [(answer.found,)]
    rows += [(one,) for one in answer.ranked if one is not answer.found][:SHOWN]
    if answer.named and all(row[0] is not answer.named.ranked for row in rows):
        rows[-1] = (answer.named.ranked,)
    lines = wrapped(verdict_line(answer), width)
    lines += wrapped(f"{study.lamp.name}, {study.name}; {counts}", width)
    lines += variants_table(answer, rows, benches, width)
    lines.append(f"{len(answer.ranked) - len(rows)} more variants in rank.csv")
    lines += ["", *matrix_table(answer, rows, width), ""]
    for line in answer_lines(answer):
        lines += wrapped(line, width)
    if trade:
        numbers = ", ".join(str(one.candidate.number) for one in trade.variants[:SHOWN])
        more = f" and {len(trade.variants) - SHOWN} more" if len(trade.variants) > SHOWN else ""
        said = f"{trade.across.reading} and {trade.up.reading}"
        lines += wrapped(f"No variant beats these in both {said}: {numbers}{more} (front.csv).", width)
    return lines
