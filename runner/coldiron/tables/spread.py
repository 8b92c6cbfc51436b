"""A spread as a person reads it on a terminal, and as rows of its files."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from rich.cells import cell_len

from coldiron.readings.catalogue import kind_of
from coldiron.readings.figures import figure
from coldiron.spread.indices import INDEX_COLUMNS, index_rows
from coldiron.spread.margins import Extreme, LimitSpread, Margins, ReadingSpread
from coldiron.spread.values import AMBIENT, MAINS, Varied
from coldiron.spread.whole import SpreadOf
from coldiron.spread.words import limit_text, moved_text, spread_lines, topic_text, worst_text, yield_text
from coldiron.tables.columns import Column, beside, cut, fitting, wrapped
from coldiron.tables.files import write_whole
from coldiron.tables.tidy import table_text

if TYPE_CHECKING:
    import pandas as pd

READING_COLUMNS = (
    "variant", "bench", "reading", "unit", "n", "nominal", "p5", "p50", "p95", "low", "low_at_least", "high",
    "high_at_least", "moved_by", "measure", "r2",
)  # fmt: skip
LIMIT_COLUMNS = (
    "variant", "bench", "limit", "group", "judged_at_V", "n", "kept", "yield", "yield_low", "yield_high",
    "nominal_use", "worst_use", "worst_at_least", "moved_by", "measure", "r2",
)  # fmt: skip
DECIDING_COLUMNS = (
    "variant", "bench", "limit", "use", "key", "assumed", "turns_at", "over_above", "least", "most", "pinned",
    "reading_to_take",
)  # fmt: skip
PASSING_COLUMNS = (
    "variant", "limit", "use", "way", "key", "before", "after", "steps", "newly_over", "far_worse", "kept",
    "harm", "light_ratio",
)  # fmt: skip
TOLERANCE_COLUMNS = ("variant", "value", "together", "tolerance", "source")
_NAME_CELLS = 40
_LEAST_CELLS = 12
_MOST_LIMITS = 14


def spread_screen(one: SpreadOf, width: int) -> list[str]:
    """Lines of the spread of one variant."""
    lines = wrapped(title(one), width)
    names, columns = _reading_columns(one.margins)
    lines += beside(names, _with_movers(names, columns, one.margins.readings, width), corner="reading")
    limits = beside_limits(one.margins, width)
    lines += ["", *limits] if limits else []
    lines.append("")
    for line in spread_lines(one):
        lines += wrapped(line, width)
    return lines


def title(one: SpreadOf) -> str:
    """How many lamps, on what, and how many cases gave no answer."""
    found = one.margins
    drawing = found.drawing
    mains = next((value.ratio for value in drawing.values if value.key == MAINS), 0.0)
    volts = [f"{drawing.supply_v * (1 + sign * mains):.4g} V" for sign in (-1, 1)]
    low_c, high_c = drawing.rooms_c
    rooms = f"{low_c:g} °C to {high_c:g} °C" if high_c > low_c else f"{low_c:g} °C"
    rated = f"; the same at {drawing.rated_v:g} V for limits of that alone" if found.rated else ""
    failed = f"{one.failed} of {found.cases} cases gave no answer"
    together = f"; every part's rating is kept by {yield_text(found.together)}" if found.together else ""
    return (
        f"{one.title}: {drawing.spread.runs} lamps of its tolerances on {volts[0]} to {volts[1]}, "
        f"{rooms}{rated}; {failed}{together}."
    )


def _reading_columns(found: Margins) -> tuple[list[str], list[Column]]:
    rows = found.readings
    names = []
    for row in rows:
        kind = kind_of(row.reading)
        name = f"{kind.heading}{f', {kind.unit}' if kind.unit else ''} ({row.bench})"
        names.append(cut(name, _NAME_CELLS).rstrip())
    columns = [
        Column("", "as meant", "", tuple(figure(row.nominal) for row in rows)),
        *(
            Column("lamps", heading, "", tuple(figure(getattr(row, attribute)) for row in rows))
            for heading, attribute in (("5 %", "p5"), ("50 %", "p50"), ("95 %", "p95"))
        ),
        Column("worst", "low", "", tuple(extreme_text(row.low, low=True) for row in rows)),
        Column("worst", "high", "", tuple(extreme_text(row.high) for row in rows)),
    ]
    return names, columns


def beside_limits(found: Margins, width: int) -> list[str]:
    """Table of the limits that not every lamp keeps with room to spare."""
    rows = [limit for limit in found.limits if limit.worth_a_word]
    left = len(found.limits) - len(rows)
    note = f"{left} more limits are kept by every lamp, in the worst case too" if left else ""
    if not rows:
        return [note] if note else []
    shown = rows[:_MOST_LIMITS]
    names = [cut(limit_name(found, row), _NAME_CELLS).rstrip() for row in shown]
    columns = [
        Column("", "kept by", "", tuple(yield_text(row.yielded) for row in shown), narrow=20),
        Column("", "of", "", tuple(str(row.yielded.of) for row in shown)),
        Column("", "as meant", "", tuple(use_text(row.nominal_use) for row in shown)),
        Column("", "worst", "", tuple(worst_text(row) for row in shown)),
    ]
    lines = beside(names, _with_movers(names, columns, shown, width), corner="limit")
    if len(rows) > len(shown):
        lines.append(f"{len(rows) - len(shown)} more in limits.csv")
    return [*lines, note] if note else lines


def _with_movers(
    names: Sequence[str], columns: Sequence[Column], rows: Sequence[ReadingSpread | LimitSpread], width: int
) -> list[Column]:
    """Columns and the two values that move each row most; or the one, cut where the width asks for it."""
    left = max(cell_len(name) for name in names)
    columns = fitting(columns, width - left)
    room = width - left - sum(2 + column.width for column in columns) - 2
    if room < _LEAST_CELLS:
        return columns
    for most in (2, 1):
        cells = [moved_text(row.moved_by, by_ranks=row.by_ranks, most=most) for row in rows]
        if max(map(cell_len, cells)) <= room:
            break
    short = tuple(cut(cell, room).rstrip() for cell in cells)
    return [*columns, Column("", "moved most by", "", short, left=True, narrow=20)]


def limit_name(found: Margins, row: LimitSpread) -> str:
    """What a limit is about, where it was read, and on which mains where on that alone."""
    at = f", at {row.rated_v:g} V" if row.rated_v is not None else ""
    return limit_text(row.worst_verdict, row.bench, found.drawing.benches) + at


def use_text(use: float) -> str:
    """Used over allowed: "×1.06"."""
    return "–" if math.isnan(use) else f"×{figure(use)}"


def extreme_text(extreme: Extreme, *, low: bool = False) -> str:
    """A worst case, with a sign where there may be worse."""
    sign = ("≤" if low else "≥") if extreme.at_least else ""
    return f"{sign}{figure(extreme.value)}"


def write_spread(folder: Path, found: Sequence[SpreadOf], width: int = 100) -> list[Path]:
    """Write the tables of spreads under a folder; return the files."""
    lines = [line for one in found for line in (*spread_screen(one, width), "")]
    texts = {
        folder / "spread.txt": "\n".join(lines).rstrip() + "\n",
        folder / "spread.csv": table_text(READING_COLUMNS, reading_rows(found)),
        folder / "limits.csv": table_text(LIMIT_COLUMNS, limit_rows(found)),
        folder / "decides.csv": table_text(DECIDING_COLUMNS, deciding_rows(found)),
        folder / "passes.csv": table_text(PASSING_COLUMNS, passing_rows(found)),
        folder / "tolerances.csv": table_text(TOLERANCE_COLUMNS, tolerance_rows(found)),
        folder / "lamps.csv": table_text(*lamp_rows(found)),
    }
    if any(one.indices for one in found):
        rows = [row for one in found for row in index_rows(one.variant, one.margins.drawing, one.indices)]
        texts[folder / "indices.csv"] = table_text(INDEX_COLUMNS, rows)
    for path, text in texts.items():
        write_whole(path, text)
    return list(texts)


def reading_rows(found: Sequence[SpreadOf]) -> Iterator[tuple[object, ...]]:
    """One row a variant and headline reading, with the columns of `READING_COLUMNS`."""
    for one in found:
        for row in one.margins.readings:
            yield (
                one.variant, row.bench, row.reading, kind_of(row.reading).unit, row.n, row.nominal, row.p5,
                row.p50, row.p95, row.low.value, _yes(row.low.at_least), row.high.value,
                _yes(row.high.at_least), *_moved_cells(row),
            )  # fmt: skip


def limit_rows(found: Sequence[SpreadOf]) -> Iterator[tuple[object, ...]]:
    """One row a variant, bench and limit, with the columns of `LIMIT_COLUMNS`."""
    for one in found:
        for row in one.margins.limits:
            yield (
                one.variant, row.bench, topic_text(row.topic), row.topic.group,
                "" if row.rated_v is None else row.rated_v, row.yielded.of, row.yielded.kept,
                row.yielded.ratio, row.yielded.low_ratio, row.yielded.high_ratio, row.nominal_use,
                row.worst.value, _yes(row.worst.at_least), *_moved_cells(row),
            )  # fmt: skip


def deciding_rows(found: Sequence[SpreadOf]) -> Iterator[tuple[object, ...]]:
    """One row a verdict and assumed value that turns it; one without a value where none does."""
    for one in found:
        for verdict in one.deciding:
            head = (one.variant, verdict.held[0], topic_text(verdict.held[1]), verdict.use)
            for flip in verdict.flips:
                yield (
                    *head, flip.key, flip.assumed, "; ".join(f"{at:.6g}" for at in flip.at),
                    _yes(flip.over_above), flip.least, flip.most, _yes(flip.pinned), flip.reading,
                )  # fmt: skip
            if not verdict.flips:
                yield *head, "", math.nan, "", "", math.nan, math.nan, "", ""


def passing_rows(found: Sequence[SpreadOf]) -> Iterator[tuple[object, ...]]:
    """One row a broken limit, way and value that it changes; one without a value where there is no way."""
    for one in found:
        for limit in one.passing:
            head = (one.variant, topic_text(limit.topic), limit.use)
            for number, way in enumerate(limit.ways, start=1):
                newly = "; ".join(f"{topic_text(topic)} {now:.3g}" for topic, _, now in way.newly)
                worse = "; ".join(f"{topic_text(topic)} {now:.3g}" for topic, _, now in way.worse)
                for step in way.steps:
                    yield (
                        *head, number, step.key, step.before, step.after, step.steps, newly, worse, way.keeps,
                        way.harm, way.light_ratio,
                    )  # fmt: skip
            if not limit.ways:
                yield *head, 0, "", math.nan, math.nan, 0, "", "", 0, math.nan, math.nan


def tolerance_rows(found: Sequence[SpreadOf]) -> Iterator[tuple[object, ...]]:
    """One row a variant and what may be off in it, with where that is from."""
    for one in found:
        drawing = one.margins.drawing
        for value in drawing.values:
            yield (
                one.variant,
                value.key,
                "; ".join(value.members),
                _ratio(value, drawing.rooms_c),
                value.source,
            )


def lamp_rows(found: Sequence[SpreadOf]) -> tuple[tuple[str, ...], Iterator[tuple[object, ...]]]:
    """One row a variant and lamp: how far each value is off, in shares of its tolerance, and what it read."""
    keys = list(dict.fromkeys(value.key for one in found for value in one.margins.drawing.values))
    heads = list(dict.fromkeys((row.bench, row.reading) for one in found for row in one.margins.readings))

    def rows() -> Iterator[tuple[object, ...]]:
        for one in found:
            population = one.margins.varying
            places = {value.key: place for place, value in enumerate(one.margins.drawing.values)}
            for number, off in enumerate(population.off):
                yield (
                    one.variant,
                    number,
                    *(float(off[places[key]]) if key in places else math.nan for key in keys),
                    *(
                        float(population.readings[head][number]) if head in population.readings else math.nan
                        for head in heads
                    ),
                )

    return ("variant", "lamp", *keys, *(f"{bench} {reading}" for bench, reading in heads)), rows()


def _ratio(value: Varied, rooms_c: tuple[float, float]) -> object:
    return f"{rooms_c[0]:g} to {rooms_c[1]:g} °C" if value.key == AMBIENT else value.ratio


def _moved_cells(row: ReadingSpread | LimitSpread) -> tuple[object, ...]:
    moved = "; ".join(f"{key} {weight:+.3f}" for key, weight in row.moved_by)
    return moved, "rank coefficient" if row.by_ranks else "first-order index", row.r2


def _yes(truth: bool) -> str:
    return "yes" if truth else "no"


def frame(columns: Sequence[str], rows: Iterator[tuple[object, ...]]) -> pd.DataFrame:
    """Rows as a frame."""
    import pandas as pd

    return pd.DataFrame(list(rows), columns=list(columns))
