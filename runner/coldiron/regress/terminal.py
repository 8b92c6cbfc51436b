"""The table of a comparison on a terminal: one screen, farthest first."""

from __future__ import annotations

from rich import box
from rich.table import Table
from rich.text import Text

from coldiron.regress.moves import Comparison, Kind
from coldiron.regress.words import HEADINGS, cells

MOST_ROWS = 24
_STYLES = {Kind.FAILED: "bold red", Kind.LIMIT: "bold red"}


def moves_table(comparison: Comparison, most_rows: int = MOST_ROWS) -> Table:
    """What moved, farthest in tolerances first; rows beyond `most_rows` are left to the files."""
    table = Table(box=box.SIMPLE_HEAD, header_style="bold", pad_edge=False)
    for heading in HEADINGS:
        numeric = heading in ("reference", "now", "tolerances")
        table.add_column(heading, justify="right" if numeric else "left", overflow="fold")
    for move in comparison.moves[:most_rows]:
        table.add_row(*(Text(text) for text in cells(move)), style=_STYLES.get(move.kind, ""))
    return table
