"""A study with more variants than anyone reads: files that grow while it runs, and the same answer."""

from __future__ import annotations

import argparse
from collections.abc import Sequence

from coldiron.answer.answer import Answer
from coldiron.answer.front import Front, front
from coldiron.answer.gathered import Gathered
from coldiron.answer.rank import Ranked
from coldiron.answer.words import answer_lines, verdict_line
from coldiron.benches.base import Case
from coldiron.cli.arguments import CAUTION
from coldiron.cli.running import run_in_batches
from coldiron.cli.study import say, terminal_width
from coldiron.errors import SimulationFailed
from coldiron.limits import judge
from coldiron.study.model import Study
from coldiron.tables.answer_files import rank_frame, write_answer
from coldiron.tables.columns import wrapped
from coldiron.tables.files import provenance, write_whole
from coldiron.tables.growing import GrowingTable
from coldiron.tables.matrix import matrix_table
from coldiron.tables.run_folder import RunFolder
from coldiron.tables.tidy import csv_text
from coldiron.tables.variants import variants_table

BATCH_CASES = 2000
SHOWN = 15
"""Variants on the screen: the first of the ranking."""


def run_large(study: Study, cases: Sequence[Case], args: argparse.Namespace) -> int:
    """Run a large study and return 0, or 3 when some cases gave no answer."""
    folder = args.out / study.name
    ran = {
        "study": study.name,
        "lamp": study.lamp.name,
        "benches": [bench for bench in study.benches if any(case.bench == bench for case in cases)],
        "variants": len({case.variant for case in cases}),
        "cases": len(cases),
        **provenance(study),
    }
    run = RunFolder(folder, ran)
    gathered = Gathered(study)
    benches: tuple[str, ...] = ()
    with GrowingTable(folder) as table:
        for done in run_in_batches(cases, args, most=whole_variants(cases)):
            verdicts = judge(study, done)
            results = table.add(done, verdicts)
            gathered.add(results, verdicts)
            benches = results.benches
    answer = gathered.answer()
    files = [*table.files, *write_answer(folder, answer)]
    trade = front(answer)
    if trade:
        best = rank_frame(answer).loc[[one.candidate.name for one in trade.variants]]
        for measure in (trade.across, trade.up):
            best[measure.reading] = [one.candidate.reading(measure.reading) for one in trade.variants]
        files.append(folder / "front.csv")
        write_whole(files[-1], csv_text(best.reset_index()))
        if not args.no_pictures:
            from coldiron.pictures.tradeoff import tradeoff

            named = answer.named.ranked.candidate.number if answer.named else None
            files.append(folder / "pictures" / "trade-off.svg")
            write_whole(files[-1], tradeoff(trade, f"{study.lamp.name} · {study.name}", named).labelled)
    run.finish(files)
    counts = f"{len(gathered.candidates)} variants; {len(cases)} cases, {table.failed} failed"
    lines = _screen(study, answer, trade, benches, counts, terminal_width())
    lines += wrapped(f"Files: {folder}. One variant closer: --variant NAME.", terminal_width())
    say([*lines, *wrapped(CAUTION, terminal_width())])
    return SimulationFailed.exit_status if table.failed else 0


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
