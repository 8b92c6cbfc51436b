"""The table of a comparison on a terminal: one screen, farthest first."""

from __future__ import annotations

from itertools import compress

from rich import box
from rich.table import Table
from rich.text import Text

from coldiron.regress.moves import Comparison, MoveKind
from coldiron.regress.words import HEADINGS, cells

MOST_ROWS = 24
_STYLES = {MoveKind.FAILED: "bold red", MoveKind.LIMIT: "bold red"}


def moves_table(comparison: Comparison, most_rows: int = MOST_ROWS) -> Table:
    """What moved, farthest in tolerances first; rows beyond `most_rows` are left to the files.

    The supply has a column where the study has more than one.
    """
    supplies = {case.conditions for record in (comparison.was, comparison.now) for case in record.readings}
    shown = [heading != "supply" or len(supplies) > 1 for heading in HEADINGS]
    table = Table(box=box.SIMPLE_HEAD, header_style="bold", pad_edge=False)
    for heading in compress(HEADINGS, shown):
        table.add_column(heading, justify="right" if heading == "tolerances" else "left", overflow="fold")
    for move in comparison.moves[:most_rows]:
        texts = compress(cells(move), shown)
        table.add_row(*(Text(text) for text in texts), style=_STYLES.get(move.kind, ""))
    return table
