"""The table of a comparison on a terminal: one screen, what matters most first."""

from __future__ import annotations

from itertools import compress

from rich import box
from rich.table import Table
from rich.text import Text

from coldiron.regress.groups import causes_of, grouped
from coldiron.regress.moves import Comparison, MoveKind
from coldiron.regress.words import HEADINGS, row

MOST_ROWS = 24
_STYLES = {MoveKind.FAILED: "bold red", MoveKind.LIMIT: "bold red", MoveKind.APPLIES: "bold red"}


def moves_table(comparison: Comparison, most_rows: int = MOST_ROWS) -> Table:
    """What moved, a row for each thing that did; rows beyond `most_rows` are left to the files.

    A column that would be empty is left out, and so is that of the causes where there is only one.
    """
    causes = causes_of(comparison.moves)
    groups = grouped(comparison.moves)[:most_rows]
    rows = [row(group, causes) for group in groups]
    shown = [any(cells) for cells in zip(*rows, strict=True)]
    if len(causes) < 2:
        shown[HEADINGS.index("because")] = False
    table = Table(box=box.SIMPLE_HEAD, header_style="bold", pad_edge=False)
    for heading in compress(HEADINGS, shown):
        table.add_column(heading, overflow="fold")
    for group, cells in zip(groups, rows, strict=True):
        table.add_row(*(Text(text) for text in compress(cells, shown)), style=_STYLES.get(group.kind, ""))
    return table
