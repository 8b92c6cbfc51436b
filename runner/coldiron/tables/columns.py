"""Columns of plain text: headings in lines, cells to the right, as many as a width has room for."""

from __future__ import annotations

import itertools
import re
import textwrap
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from rich.cells import cell_len, set_cell_size


@dataclass(frozen=True)
class Column:
    """A column with its group ("warm"), heading, what stands below it (a unit), and one cell a row.

    The heading is broken into lines of at most `narrow` cells.
    """

    group: str
    heading: str
    below: str
    cells: tuple[str, ...]
    left: bool = False
    narrow: int = 10

    @cached_property
    def lines(self) -> list[str]:
        """Heading in lines that are narrow."""
        # A number stays with its unit.
        unbroken = re.sub(r"(?<=\d) (?=\w)", "\N{NO-BREAK SPACE}", self.heading)
        return textwrap.wrap(unbroken, self.narrow, break_long_words=False) or [""]

    @cached_property
    def width(self) -> int:
        """Cells of the widest text."""
        return max(cell_len(text) for text in (*self.lines, self.below, *self.cells))

    def set(self, text: str) -> str:
        """Text in the width of the column, after the gap."""
        room = " " * (self.width - cell_len(text))
        return text + room if self.left else room + text


def fitting(columns: Sequence[Column], width: int, first: Sequence[Column] = ()) -> list[Column]:
    """Columns that have room side by side in a width, in their order.

    Those of `first` take their room before the others, in the order given.
    """
    fit: list[Column] = []
    for column in (*first, *(column for column in columns if column not in first)):
        trial = [each for each in columns if each in fit or each is column]
        if sum(len(gap) + each.width for gap, each in _spaced(trial)) <= width:
            fit.append(column)
    return [column for column in columns if column in fit]


def _spaced(columns: Sequence[Column]) -> list[tuple[str, Column]]:
    """Columns with the space before each: wider where a group begins, and where its name needs room."""
    spaced = []
    for group, neighbours in itertools.groupby(columns, key=lambda column: column.group):
        first, *others = neighbours
        room = sum(column.width + 1 for column in (first, *others)) - 1
        spaced.append((" " * (2 + max(0, cell_len(group) - room)), first))
        spaced += [(" ", column) for column in others]
    return spaced


def beside(names: Sequence[str], columns: Sequence[Column], corner: str = "") -> list[str]:
    """Lines of a table: groups, headings, what stands below them, then a row each.

    Parameters
    ----------
    names : sequence of str
        What stands left of each row.
    columns : sequence of Column
        Neighbours of one group share its heading.
    corner : str
        Heading of the names.
    """
    left = max(cell_len(name) for name in (*names, corner))
    spaced = _spaced(columns)
    deep = max((len(column.lines) for column in columns), default=1)
    padded = [[""] * (deep - len(column.lines)) + column.lines for column in columns]
    lines = [" " * left + _group_line(spaced)]
    lines += [_line("", left, spaced, [words[line] for words in padded]) for line in range(deep - 1)]
    lines += [_line(corner, left, spaced, [words[-1] for words in padded])]
    lines += [_line("", left, spaced, [column.below for column in columns])]
    lines += [
        _line(name, left, spaced, [column.cells[number] for column in columns])
        for number, name in enumerate(names)
    ]
    return [line.rstrip() for line in lines if line.strip()]


def _line(name: str, left: int, spaced: Sequence[tuple[str, Column]], texts: Sequence[str]) -> str:
    cells = (gap + column.set(text) for (gap, column), text in zip(spaced, texts, strict=True))
    return set_cell_size(name, left) + "".join(cells)


def _group_line(spaced: Sequence[tuple[str, Column]]) -> str:
    """Name of each group over its columns, and a rule to their end."""
    line = ""
    for group, neighbours in itertools.groupby(spaced, key=lambda each: each[1].group):
        (gap, first), *others = neighbours
        room = len(gap) - 2 + first.width + sum(len(space) + column.width for space, column in others)
        rule = "╌" * (room - cell_len(group) - 1)
        line += "  " + set_cell_size(f"{group} {rule}" if group and rule else group, room)
    return line


def cut(text: str, width: int) -> str:
    """Text in a width, with a mark where some of it is left out.

    Examples
    --------
    >>> cut("varistor of the 250 V class", 12), cut("22 µF", 12)
    ('varistor of…', '22 µF       ')
    """
    if cell_len(text) <= width:
        return set_cell_size(text, width)
    return set_cell_size(set_cell_size(text, width - 1).rstrip() + "…", width)


def wrapped(text: str, width: int) -> list[str]:
    """Lines of a text, the second and further ones set in; a number stays with its unit where it can."""
    unbroken = re.sub(r"(?<=\d) (?=\S{1,4}(?:\s|$))", "\N{NO-BREAK SPACE}", text)
    lines = textwrap.wrap(
        unbroken, max(width, 20), subsequent_indent="  ", break_long_words=False, break_on_hyphens=False
    )
    return [line.replace("\N{NO-BREAK SPACE}", " ") for line in lines]
