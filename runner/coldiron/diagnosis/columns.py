"""Columns of a diagnosis: a name that may take several lines, and as many cells as a width has room for."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass

GAP = "  "
LEAST_NAME = 24
MOST_HEADING = 16


@dataclass(frozen=True)
class Row:
    """A number, a name, and cells to the right; the first row has the headings."""

    number: str
    name: str
    cells: tuple[str, ...]


def columns(rows: Sequence[Row], width: int) -> list[str]:
    """Lines of rows under each other, with a line that says how many cells had no room.

    Examples
    --------
    >>> rows = [Row("", "explained by", ("likely",)), Row("1", "varistor short", ("60 %",))]
    >>> columns(rows, 60)
    ['    explained by    likely', ' 1  varistor short    60 %']
    """
    heads, body = rows[0], rows[1:]
    headings = [textwrap.wrap(cell, MOST_HEADING) or [""] for cell in heads.cells]
    widths = [
        max(*(len(line) for line in heading), *(len(row.cells[k]) for row in body))
        for k, heading in enumerate(headings)
    ]
    name_width = max(len(row.name) for row in rows)
    shown = len(widths)
    while shown > 1 and _taken(widths[:shown]) + min(name_width, LEAST_NAME) > width:
        shown -= 1
    name_width = max(10, min(name_width, width - _taken(widths[:shown])))
    depth = max(len(heading) for heading in headings[:shown])
    lines = []
    for n in range(depth):
        # Headings stand on the row below them.
        cells = [
            heading[n - depth + len(heading)] if n >= depth - len(heading) else "" for heading in headings
        ]
        lines.append(_line("", heads.name if n == depth - 1 else "", cells[:shown], name_width, widths))
    for row in body:
        names = textwrap.wrap(row.name, name_width) or [""]
        for n, name in enumerate(names):
            first = n == 0
            cells = list(row.cells[:shown]) if first else []
            lines.append(_line(row.number if first else "", name, cells, name_width, widths))
    if shown < len(widths):
        lines.append(f"    {len(widths) - shown} more need width")
    return lines


def _taken(widths: Sequence[int]) -> int:
    return 4 + sum(len(GAP) + each for each in widths)


def _line(number: str, name: str, cells: Sequence[str], name_width: int, widths: Sequence[int]) -> str:
    parts = [f"{number:>2}", f"{name:<{name_width}}"]
    parts += [cell.rjust(wide) for cell, wide in zip(cells, widths, strict=False)]
    return GAP.join(parts).rstrip()
