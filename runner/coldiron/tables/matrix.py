"""Used over allowed on the terminal: variants by limits, 1.0 and more is over, a dot is under 0.8."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

from rich.cells import cell_len

from coldiron.answer.answer import Answer
from coldiron.answer.rank import STEP_RATIO, Ranked
from coldiron.answer.told import CLOSE_RATIO
from coldiron.answer.use import GROUP_WORDS, GROUPS, Topic
from coldiron.readings.catalogue import kind_of
from coldiron.tables.columns import Column, beside, fitting, wrapped
from coldiron.tables.rows import Row, as_known, row_names
from coldiron.tables.short import short_part, short_rule

TITLE: Final = "used / allowed, worst of all benches and conditions: over 1 is over, · under 0.8"
_NAME_WIDTH: Final = 12


def matrix_table(answer: Answer, rows: Sequence[Row], width: int) -> list[str]:
    """Lines of the matrix: limits that some variant uses by 0.8 or more, as many as have room.

    Variants whose uses are within 10 % of each other stand in one row, under the first of them. Limits that
    the named variant or the lamp as found breaks take their room first, then those that most variants break.
    """
    topics = _topics(answer)
    if not topics:
        return []
    room = max(_NAME_WIDTH, width // 6)
    columns = {topic: _column(topic, rows) for topic in topics}
    first = [columns[topic] for topic in _weightiest(topics, answer)]
    fit = fitting(list(columns.values()), width - len(row_names(rows, answer, room)[0]), first)
    shown = [topic for topic in topics if columns[topic] in fit]
    merged = _merged(rows, shown)
    kept = [first for first, *_ in merged]
    also = [
        f"{', '.join(map(str, sorted(row[0].candidate.number for row in others)))}: {as_known(same[0])}"
        for same, *others in merged
        if others
    ]
    notes = [f"within 10 %, {'; '.join(also)}"] if also else []
    if len(shown) < len(topics):
        notes.append(f"{len(topics) - len(shown)} more need width")
    columns_kept = [_column(topic, kept) for topic in shown]
    # What the columns leave is room for the names.
    left = width - max(map(cell_len, beside(row_names(kept, answer, room), columns_kept)))
    table = beside(row_names(kept, answer, room + left), columns_kept)
    return [*wrapped(TITLE, width), *table, *wrapped("; ".join(notes), width)]


def _topics(answer: Answer) -> list[Topic]:
    highest: dict[Topic, float] = {}
    for one in answer.ranked:
        for topic, use in one.candidate.uses.items():
            highest[topic] = max(highest.get(topic, 0.0), use.ratio)
    near = [topic for topic, ratio in highest.items() if ratio >= CLOSE_RATIO]
    return sorted(near, key=lambda topic: (GROUPS.index(topic.group), -highest[topic]))


def _weightiest(topics: Sequence[Topic], answer: Answer) -> list[Topic]:
    """Topics in the order in which they take their room."""
    told = [answer.found.candidate, *([answer.named.ranked.candidate] if answer.named else [])]

    def weight(topic: Topic) -> tuple[bool, int]:
        is_told = any(topic in one.uses and one.uses[topic].over for one in told)
        over = [one for one in answer.ranked if (use := one.candidate.uses.get(topic)) and use.over]
        return not is_told, -len(over)

    return sorted(topics, key=weight)


def _column(topic: Topic, rows: Sequence[Row]) -> Column:
    shown = [row[0].candidate for row in rows]
    use = next((one.uses[topic] for one in shown if topic in one.uses), None)
    is_rating = topic.group == "rating"
    return Column(
        GROUP_WORDS[topic.group],
        short_part(topic.name) if is_rating else short_rule(topic.name),
        kind_of(use.verdict.reading).unit if use and is_rating else "",
        tuple(use_cell(one.uses[topic].ratio if topic in one.uses else math.nan) for one in shown),
        narrow=7,
    )


def use_cell(ratio: float) -> str:
    """A use as the matrix shows it; a limit that does not apply is a dash.

    Examples
    --------
    >>> [use_cell(ratio) for ratio in (0.3, 0.83, 1.0, 1.001, 1.33, 3.92, 12.5, math.inf, math.nan)]
    ['·', '.83', '1.00', '1.01', '1.33', '3.9', '12', '∞', '-']
    """
    if math.isnan(ratio):
        return "-"
    if ratio < CLOSE_RATIO:
        return "·"
    if math.isinf(ratio):
        return "∞"
    if ratio < 0.995:
        return f"{ratio:.2f}".removeprefix("0")
    if ratio < 2:
        # Over by less than shown is still over, and kept by less than shown is kept.
        return f"{max(ratio, 1.01) if ratio > 1 else 1.0:.2f}"
    return f"{ratio:.1f}" if ratio < 9.95 else f"{ratio:.0f}"


def _merged(rows: Sequence[Row], topics: Sequence[Topic]) -> list[list[Row]]:
    """Rows that use each limit alike, together."""
    merged: list[list[Row]] = []
    for row in rows:
        same = next((group for group in merged if _use_alike(group[0][0], row[0], topics)), None)
        if same:
            same.append(row)
        else:
            merged.append([row])
    return merged


def _use_alike(one: Ranked, other: Ranked, topics: Sequence[Topic]) -> bool:
    return all(
        (low >= CLOSE_RATIO and high <= STEP_RATIO * low and (low > 1) == (high > 1)) or high < CLOSE_RATIO
        for topic in topics
        for low, high in [sorted((_ratio(one, topic), _ratio(other, topic)))]
    )


def _ratio(one: Ranked, topic: Topic) -> float:
    use = one.candidate.uses.get(topic)
    return use.ratio if use else 0.0
