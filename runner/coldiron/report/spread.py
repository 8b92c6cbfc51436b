"""What a spread found, as the page shows it: two tables a variant, and sentences."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from coldiron.readings.catalogue import kind_of
from coldiron.readings.figures import figure
from coldiron.spread.whole import SpreadOf
from coldiron.spread.words import moved_text, spread_lines, worst_text, yield_text
from coldiron.tables.spread import extreme_text, limit_name, title, use_text


@dataclass(frozen=True)
class SpreadRow:
    """A row with its cells; `is_over` marks one that lamps break."""

    name: str
    cells: tuple[str, ...]
    is_over: bool = False


@dataclass(frozen=True)
class SpreadTable:
    """One table: heading of its first column, those of the others, and rows."""

    heading: str
    columns: tuple[str, ...]
    rows: tuple[SpreadRow, ...]


@dataclass(frozen=True)
class SpreadView:
    """One variant: its title, how it was drawn, its tables, and what follows from them."""

    title: str
    said: str
    tables: tuple[SpreadTable, ...]
    lines: tuple[str, ...]


def spread_view(one: SpreadOf) -> SpreadView:
    """Say what the page shows of one variant's spread."""
    _, _, said = title(one).partition(": ")
    kept = sum(not limit.worth_a_word for limit in one.margins.limits)
    lines = spread_lines(one)
    if kept:
        lines.insert(0, f"{kept} more limits are kept by every lamp, in the worst case too.")
    return SpreadView(one.title, f"{said[:1].upper()}{said[1:]}", tuple(_tables(one)), tuple(lines))


def _tables(one: SpreadOf) -> Iterator[SpreadTable]:
    found = one.margins
    rows = []
    for row in found.readings:
        kind = kind_of(row.reading)
        name = f"{kind.heading}{f', {kind.unit}' if kind.unit else ''} ({row.bench})"
        cells = [figure(value) for value in (row.nominal, row.p5, row.p50, row.p95)]
        ends = extreme_text(row.low, low=True), extreme_text(row.high)
        rows.append(SpreadRow(name, (*cells, *ends, moved_text(row.moved_by, by_ranks=row.by_ranks))))
    headings = ("as meant", "5 %", "50 %", "95 %", "worst, low", "worst, high", "moved most by")
    yield SpreadTable("reading", headings, tuple(rows))
    limits = [
        SpreadRow(
            limit_name(found, row),
            (
                yield_text(row.yielded),
                str(row.yielded.of),
                use_text(row.nominal_use),
                worst_text(row),
                moved_text(row.moved_by, by_ranks=row.by_ranks),
            ),
            row.yielded.kept < row.yielded.of,
        )
        for row in found.limits
        if row.worth_a_word
    ]
    if limits:
        yield SpreadTable("limit", ("kept by", "of", "as meant", "worst", "moved most by"), tuple(limits))
