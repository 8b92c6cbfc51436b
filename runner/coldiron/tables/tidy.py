"""Tidy and wide tables of results, as frames and as CSV text that is the same for the same results."""

from __future__ import annotations

import itertools
import math
import re
from collections.abc import Iterable, Iterator, Sequence
from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from coldiron.readings.catalogue import kind_of, place_of
from coldiron.study.model import KNOWN_BENCHES
from coldiron.sweep.results import Results

if TYPE_CHECKING:
    import pandas as pd

_ACTIVE = frozenset("=+-@＝＋－＠'")
"""First characters of what spreadsheets run or change; some take the wide forms for the same."""
_QUOTED = re.compile('[,;"\r\n\t]')
"""With a semicolon unquoted, what follows it would be a cell of its own in half of the world."""

Floats = NDArray[np.float64]


class Row(NamedTuple):
    """One reading of one case: a number in `value`, or a word in `text` and nan in `value`."""

    variant: str
    bench: str
    conditions: str
    reading: str
    value: float
    text: str
    unit: str


class WideColumn(NamedTuple):
    """One column of the wide table: a reading is (bench, id), cold and warm are two."""

    bench: str
    reading: str
    conditions: str

    @property
    def order(self) -> tuple[int, tuple[int, str]]:
        """Place among the columns: bench by bench, in the order of the catalogue; holes come last."""
        return KNOWN_BENCHES.index(self.bench), place_of(self.reading)

    def heading(self, *, several: bool) -> str:
        """Heading in a file; with several conditions it says which.

        Examples
        --------
        >>> WideColumn("heat", "svm", "230 V 50 Hz").heading(several=True)
        'heat svm at 230 V 50 Hz'
        """
        return f"{self.bench} {self.reading}" + (f" at {self.conditions}" if several else "")


def rows(results: Results) -> Iterator[Row]:
    """Every reading of every case, in the order of the study and of the catalogue.

    A case without readings has one row, "failed" or "not applicable", with the reason as its text.
    """
    for one in results:
        head = one.case.variant, one.case.bench, one.case.conditions.label
        hole = results.hole(*head)
        if hole:
            yield Row(*head, hole.word, math.nan, hole.why, "")
        for reading, value in results.readings(*head).items():
            if isinstance(value, str):
                yield Row(*head, reading, math.nan, value, "")
            else:
                yield Row(*head, reading, value, "", kind_of(reading).unit)


def tidy(results: Results) -> pd.DataFrame:
    """One row a case and reading.

    Columns are variant, bench, conditions, reading (ordered categories, in the order of the study and of the
    catalogue), value (float64), text (of a reading that is a word) and unit. A case that failed or is not
    applicable has one row with that word in place of the reading, and the reason as its text.
    """
    import pandas as pd

    found = list(rows(results))
    frame = pd.DataFrame(found, columns=list(Row._fields)).astype({"value": "float64"})
    readings = sorted(dict.fromkeys(row.reading for row in found), key=place_of)
    for name, order in (
        ("variant", results.variants),
        ("bench", results.benches),
        ("conditions", results.conditions),
        ("reading", readings),
    ):
        frame[name] = pd.Categorical(frame[name], categories=list(order), ordered=True)
    return frame


def wide(results: Results) -> pd.DataFrame:
    """One row a variant, one column a reading that is a number; all float64.

    The columns have the levels bench and reading, so that `wide["heat", "svm"]` is the warm lamp and
    `wide["steady", "svm"]` the cold one; where the study has several conditions there is a third level,
    conditions. What was not read is nan.
    """
    import pandas as pd

    numbers = {name: number for number, name in enumerate(results.variants)}
    cells: dict[WideColumn, Floats] = {}
    for row in rows(results):
        if not row.text:
            column = WideColumn(row.bench, row.reading, row.conditions)
            if column not in cells:
                cells[column] = np.full(len(numbers), np.nan)
            cells[column][numbers[row.variant]] = row.value
    columns = sorted(cells, key=lambda column: column.order)
    levels = 3 if len(results.conditions) > 1 else 2
    return pd.DataFrame(
        np.column_stack([cells[column] for column in columns]) if columns else None,
        index=pd.CategoricalIndex(results.variants, results.variants, ordered=True, name="variant"),
        columns=pd.MultiIndex.from_tuples(
            [column[:levels] for column in columns], names=WideColumn._fields[:levels]
        ),
        dtype="float64",
    )


def variants_text(results: Results) -> str:
    """CSV of one row a variant, one column a reading, numbers and words alike."""
    found = list(rows(results))
    return "".join(variants_lines(found, found, several=len(results.conditions) > 1))


def variants_lines(once: Iterable[Row], again: Iterable[Row], *, several: bool) -> Iterator[str]:
    """Lines of that CSV from the rows of a tidy table, which are gone through twice: first for the columns.

    Parameters
    ----------
    once, again : iterable of Row
        The same rows, variant by variant.
    several : bool
        Whether the study has several conditions.
    """
    columns = sorted(
        dict.fromkeys(WideColumn(row.bench, row.reading, row.conditions) for row in once),
        key=lambda column: column.order,
    )
    yield _csv([["variant", *(column.heading(several=several) for column in columns)]])
    for variant, own in itertools.groupby(again, key=lambda row: row.variant):
        cells = {
            WideColumn(row.bench, row.reading, row.conditions): number_text(row.text or row.value)
            for row in own
        }
        yield _csv([[number_text(variant), *(cells.get(column, "") for column in columns)]])


def number_text(value: object) -> str:
    """A value as the files hold it: seven significant digits, which every machine rounds alike.

    A text that a spreadsheet would take for a formula, or for a number that it is not, has an apostrophe
    before it, and so has one that begins with an apostrophe: `plain_text` takes it away.

    Examples
    --------
    >>> number_text(0.123456789), number_text(float("inf")), number_text("sinks, energy")
    ('0.1234568', 'inf', 'sinks, energy')
    >>> number_text(-0.5), number_text("-10 %"), number_text("=1+1")
    ('-0.5', "'-10 %", "'=1+1")
    """
    if isinstance(value, float):
        return "" if math.isnan(value) else f"{value:.7g}"
    return _safe(value) if isinstance(value, str) else str(value)


@lru_cache(maxsize=4096)
def _safe(text: str) -> str:
    return f"'{text}" if text.lstrip()[:1] in _ACTIVE else text


def plain_text(cell: str) -> str:
    """Text of a cell as it was before `number_text` wrote it.

    Examples
    --------
    >>> plain_text("'-10 %"), plain_text(number_text("'x'"))
    ('-10 %', "'x'")
    """
    return cell.removeprefix("'")


def csv_text(frame: pd.DataFrame) -> str:
    """CSV of a frame with every number at fixed precision and plain line ends."""
    columns = [map(number_text, frame[column].tolist()) for column in frame.columns]
    return _csv([list(map(number_text, frame.columns))]) + _csv(zip(*columns, strict=True))


def table_text(headings: Sequence[str], found: Iterable[Iterable[object]]) -> str:
    """CSV of rows under their headings: what `csv_text` makes of a frame of them."""
    return _csv([map(number_text, headings)]) + rows_text(found)


def rows_text(found: Iterable[Iterable[object]]) -> str:
    """CSV of rows, without the line of headings."""
    # Numbers need no quotes, and nearly all texts are those of the row before.
    return "".join([",".join([_cell(cell) for cell in row]) + "\n" for row in found])


def _cell(value: object) -> str:
    return number_text(value) if isinstance(value, float) else _quoted(number_text(value))


def _csv(lines: Iterable[Iterable[str]]) -> str:
    return "".join(",".join(map(_quoted, line)) + "\n" for line in lines)


@lru_cache(maxsize=8192)
def _quoted(cell: str) -> str:
    return '"' + cell.replace('"', '""') + '"' if _QUOTED.search(cell) else cell
