"""The whole screen of a study: the verdict, the table, the matrix, and the answer last."""

from __future__ import annotations

from collections.abc import Sequence

from coldiron.answer.answer import Answer
from coldiron.answer.words import answer_lines, verdict_line
from coldiron.study.model import Study
from coldiron.sweep.results import Results
from coldiron.tables.columns import wrapped
from coldiron.tables.matrix import matrix_table
from coldiron.tables.rows import MOST_ROWS, Row, rows_of
from coldiron.tables.variants import variants_table


def screen(study: Study, results: Results, answer: Answer, width: int) -> list[str]:
    """Lines of the screen, none longer than a width but where a number would be broken.

    Parameters
    ----------
    study : Study
    results : Results
    answer : Answer
        From `coldiron.answer.answer.answer` of the same results.
    width : int
        Of the terminal.
    """
    rows = rows_of(answer)
    shown = shown_rows(rows, answer)
    lines = [*wrapped(verdict_line(answer), width), *wrapped(_title(study, results), width)]
    lines += variants_table(answer, shown, results.benches, width)
    if len(rows) > len(shown):
        lines.append(f"{len(rows) - len(shown)} more variants in rank.csv")
    matrix = matrix_table(answer, shown, width)
    if matrix:
        lines += ["", *matrix]
    lines.append("")
    for line in answer_lines(answer):
        lines += wrapped(line, width)
    return lines


def shown_rows(rows: Sequence[Row], answer: Answer) -> list[Row]:
    """The first of the rows that a screen shows, and the one of the variant that the answer names."""
    shown = list(rows[:MOST_ROWS])
    named = answer.named.ranked if answer.named else None
    if named and all(row[0] is not named for row in shown):
        shown[-1:] = [row for row in rows if row[0] is named]
    return shown


def _title(study: Study, results: Results) -> str:
    holes = results.holes()
    failed = sum(hole.word == "failed" for hole in holes)
    counts = [f"{len(results.variants)} variants", f"{len(results)} cases", f"{failed} failed"]
    supplies = ", ".join(results.conditions)
    where = f"{study.lamp.name}, {study.name}: {supplies}; {study.conditions.ambient_c:g} °C"
    return f"{where}; {', '.join(counts)}"


def left_out_lines(results: Results) -> list[str]:
    """Which benches do not apply to which variants, and what they lack: one line for each reason."""
    variants: dict[tuple[str, str], dict[str, None]] = {}
    for hole in results.holes():
        if hole.word == "not applicable":
            variants.setdefault((hole.bench, hole.why), {})[hole.variant] = None
    everywhere = len(results.variants)
    return [
        f"left out: {bench} ({'every variant' if len(names) == everywhere else ', '.join(names)}): {why}"
        for (bench, why), names in variants.items()
    ]
