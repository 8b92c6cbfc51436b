"""The table of variants on the terminal: one row each, worst over conditions, warm where warm was run."""

from __future__ import annotations

import math
from collections.abc import Sequence

from coldiron.answer.aims import measure_of
from coldiron.answer.answer import Answer
from coldiron.answer.candidate import Candidate
from coldiron.answer.told import sign_of
from coldiron.answer.words import times
from coldiron.heat.outcomes import BLINKS, STAYS_DARK
from coldiron.readings import surge_limit
from coldiron.readings.catalogue import COLUMNS, WARM, kind_of
from coldiron.readings.figures import change_text, figure
from coldiron.tables.columns import Column, beside, fitting, wrapped
from coldiron.tables.rows import Row, folded_line, row_names
from coldiron.tables.short import short_part, short_rule

WORST_MARK = "▼"
DRIVE_MARK = "~"
LEGEND = f"{WORST_MARK} worst of its column"
DRIVE_LEGEND = f"{DRIVE_MARK} set by the typical drive of the sink"
_GROUPS = {"unplug": "unplugged", "off-glow": "off"}


def changes_table(answer: Answer, rows: Sequence[Row], benches: Sequence[str], width: int) -> list[str]:
    """Lines of a table with the change of each reading against the lamp as found, in place of the reading.

    Between a surge current that an avalanche sets and one that something else does there is no percentage.
    """
    names = row_names(rows, answer, width // 4 - 1)
    found = answer.found.candidate
    columns = [
        Column(
            _group(bench, benches),
            kind_of(reading).heading,
            "",
            tuple(_change(reading, row[0].candidate, found) for row in rows),
        )
        for bench, reading in COLUMNS
        if not math.isnan(found.reading(reading))
    ]
    fit = fitting(columns, width - len(names[0]))
    lines = ["compared with as found: = is less than 0.5 %", *beside(names, fit, " №  variant")]
    left_out = len(columns) - len(fit)
    return [*lines, f"{left_out} more need width"] if left_out else lines


def _change(reading: str, one: Candidate, found: Candidate) -> str:
    if one is found:
        return ""
    if turned := surge_limit.turned(reading, one.words, found.words):
        return turned
    return change_text(one.reading(reading), found.reading(reading)) or "–"


def variants_table(answer: Answer, rows: Sequence[Row], benches: Sequence[str], width: int) -> list[str]:
    """Lines of the table, and what its marks mean; none is longer than the width.

    A column that has no room is left out; those that the aims ask for are the last to go.
    """
    names = row_names(rows, answer, width // 4 - 1)
    shown = [row[0].candidate for row in rows]
    worst = Column("", "worst use", "", tuple(map(_worst_use, shown)), left=True)
    made = {
        reading: _column(_group(bench, benches), reading, shown)
        for bench, reading in COLUMNS
        if any(not math.isnan(one.reading(reading)) for one in shown)
    }
    first = [made[reading] for reading in _first(answer) if reading in made]
    columns = fitting(list(made.values()), width - len(names[0]) - worst.width - 2, first)
    lines = beside(names, [*columns, worst], " №  variant")
    marks = "".join(text for column in columns for text in column.cells)
    legend = [words for mark, words in ((WORST_MARK, LEGEND), (DRIVE_MARK, DRIVE_LEGEND)) if mark in marks]
    left_out = len(made) - len(columns)
    if left_out:
        legend.append(f"{left_out} more need width")
    if folded := folded_line(rows):
        legend.append(folded)
    return [*lines, *wrapped("; ".join(legend), width)]


def _first(answer: Answer) -> list[str]:
    """Readings whose columns take their room first: those that are asked for, then one of each bench."""
    found = answer.found.candidate
    measures = [measure.reading for aim in answer.aims.want if (measure := measure_of(aim, found))]
    of_bench = dict(reversed(COLUMNS)).values()
    return list(dict.fromkeys([*(bound.reading for bound in answer.aims.keep), *measures, *of_bench]))


def _group(bench: str, benches: Sequence[str]) -> str:
    if bench == WARM:
        return "warm" if WARM in benches else "cold"
    return _GROUPS.get(bench, bench)


def _column(group: str, reading: str, shown: Sequence[Candidate]) -> Column:
    kind = kind_of(reading)
    texts = [_figure(one, kind.benches, reading) for one in shown]
    worst = _worst_text(reading, shown, texts)
    cells = tuple(f"{WORST_MARK if text == worst else ''}{text}" for text in texts)
    return Column(group, kind.heading, kind.unit, cells)


def _figure(one: Candidate, benches: Sequence[str], reading: str) -> str:
    value = one.reading(reading)
    if math.isnan(value):
        return "failed" if set(benches) & set(one.failed) else "–"
    limited_by = one.words.get(surge_limit.LIMITED, "") if reading == surge_limit.PEAK else ""
    return _short(value) + (DRIVE_MARK if limited_by.startswith(surge_limit.DRIVE) else "")


def _short(value: float) -> str:
    """A number with three significant digits, two below 1.

    Examples
    --------
    >>> _short(0.0566), _short(0.4021), _short(12.34), _short(0.0)
    ('0.057', '0.40', '12.3', '0')
    """
    if not 5e-5 <= abs(value) < 1:
        return figure(value)
    return f"{value:.{1 - math.floor(math.log10(abs(value)))}f}"


def _worst_text(reading: str, shown: Sequence[Candidate], texts: Sequence[str]) -> str:
    """The worst of a column as it is shown; where more than one shows it, none is the worst."""
    numbers = [(one.reading(reading), text) for one, text in zip(shown, texts, strict=True)]
    numbers = [(value, text) for value, text in numbers if not math.isnan(value)]
    sign = sign_of(reading)
    if not sign or len(numbers) < 2:
        return ""
    _, worst = max(numbers, key=lambda number: sign * number[0])
    return worst if [text for _, text in numbers].count(worst) == 1 else ""


_RESTLESS = {BLINKS: "blinks", STAYS_DARK: "shuts off", "thermal oscillation": "swings"}
"""In short, what a lamp does that finds no balance."""


def _worst_use(one: Candidate) -> str:
    """The part, or else the rule, that is used most."""
    if one.runs_away:
        return _RESTLESS.get(one.words.get("heat_outcome", ""), "runs away")
    rated = [use for use in one.uses.values() if use.topic.group == "rating"]
    over = one.over
    if over and not any(use.over for use in rated):
        use = over[0]
    elif rated:
        use = max(rated, key=lambda use: use.ratio)
    else:
        return "–"
    part = short_part(use.verdict.what) if use in rated else short_rule(use.topic.name)
    return f"{part} {times(use.ratio)}"
