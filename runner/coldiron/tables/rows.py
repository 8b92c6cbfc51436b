"""Rows of the tables of variants: as found first, then by rank; variants that nothing tells apart in one."""

from __future__ import annotations

from collections.abc import Sequence

from coldiron.answer.answer import Answer, alike
from coldiron.answer.rank import Ranked
from coldiron.tables.columns import cut

MOST_ROWS = 40
"""Variants beyond these are read from the files."""
WIDEST_NAME = 32
NARROWEST_NAME = 12
NAMED_MARK = "▸"

Row = tuple[Ranked, ...]
"""Variants of one row; the first is shown."""


def rows_of(answer: Answer) -> list[Row]:
    """Variants in their rows."""
    rows: list[list[Ranked]] = []
    for one in (answer.found, *(one for one in answer.ranked if one is not answer.found)):
        same = next((row for row in rows if alike(one, row[0])), None)
        # The variant that the answer names is never hidden behind another.
        if same is None or (answer.named and one is answer.named.ranked):
            rows.append([one])
        else:
            same.append(one)
    return [tuple(row) for row in rows]


def row_names(rows: Sequence[Row], answer: Answer, room: int) -> list[str]:
    """Mark, number and name of each row, the name in some room."""
    named = answer.named.ranked if answer.named else None
    names = [row[0].candidate.name for row in rows]
    room = min(max(map(len, names)), max(NARROWEST_NAME, min(WIDEST_NAME, room)))
    digits = max(len(str(row[0].candidate.number)) for row in rows)
    return [
        f"{NAMED_MARK if row[0] is named else ' '}{row[0].candidate.number:>{digits}}  {cut(name, room)}"
        for row, name in zip(rows, names, strict=True)
    ]


def folded_line(rows: Sequence[Row]) -> str:
    """Which variants share the row of another; empty where none does."""
    said = []
    for row in rows:
        if len(row) > 1:
            numbers = ", ".join(str(one.candidate.number) for one in row[1:])
            said.append(f"{numbers}: {as_known(row[0])}")
    return "; ".join(said)


def as_known(one: Ranked) -> str:
    """What a variant is known by: "as found", or "as" and its number."""
    return f"as {one.candidate.number}" if one.candidate.number else one.candidate.name
