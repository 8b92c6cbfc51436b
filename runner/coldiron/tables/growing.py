"""The tables of a large study, written while it runs: what has been written is not kept in memory."""

from __future__ import annotations

import csv
from collections.abc import Iterator, Sequence
from pathlib import Path
from types import TracebackType
from typing import Self

import pandas as pd
import pyarrow as pa
from pyarrow import parquet

from coldiron.errors import CannotWrite
from coldiron.study.model import AS_FOUND
from coldiron.sweep.run import FinishedCase
from coldiron.tables.tidy import TIDY_COLUMNS, csv_text, number_text, tidy

_SCHEMA = (
    pa.schema([(name, pa.string()) for name in TIDY_COLUMNS if name != "value"])
    .insert(TIDY_COLUMNS.index("value"), pa.field("value", pa.float64()))
    .append(pa.field("text", pa.string()))
)
"""Of the Parquet file: a value that is no number stands in `text`."""


class GrowingTable:
    """Writes `readings.csv` and `readings.parquet` batch by batch, and `variants.csv` at the end.

    The CSV files are those of a small study, byte for byte.

    Parameters
    ----------
    folder : Path
        Made when it is not there.

    Raises
    ------
    CannotWrite
        If there is no room or no right.
    """

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._found: list[FinishedCase] = []
        self.failed = 0

    def __enter__(self) -> Self:
        """Begin the files."""
        try:
            self._folder.mkdir(parents=True, exist_ok=True)
            self._csv = (self._folder / "readings.csv").open("w", encoding="utf-8", newline="")
            self._parquet = parquet.ParquetWriter(self._folder / "readings.parquet", _SCHEMA)
        except OSError as error:
            raise CannotWrite(f"cannot write {self._folder}: {error.strerror or error}") from None
        self._csv.write(",".join(TIDY_COLUMNS) + "\n")
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """End the files; what was written before a failure stays readable."""
        self._csv.close()
        self._parquet.close()
        if kind is None:
            _write_variants(self._folder)

    def add(self, done: Sequence[FinishedCase]) -> None:
        """Append a batch; the lamp as found comes in the first."""
        self._found += [_bare(one) for one in done if one.case.variant == AS_FOUND]
        before = len(tidy(self._found)) if done[0].case.variant != AS_FOUND else 0
        table = tidy([*self._found, *done] if before else done).iloc[before:]
        self.failed += sum(1 for one in done if one.result.failure)
        try:
            self._csv.write(csv_text(table, index=False).partition("\n")[2])
            self._csv.flush()
            self._parquet.write_table(_arrow(table))
        except OSError as error:
            raise CannotWrite(f"cannot write {self._folder}: {error.strerror or error}") from None


def _bare(one: FinishedCase) -> FinishedCase:
    """A case without the text of its decks."""
    return FinishedCase(one.case, type(one.result)(one.result.readings, {}, skipped=one.result.skipped))


def _arrow(table: pd.DataFrame) -> pa.Table:
    numbers = [value if isinstance(value, float) else None for value in table["value"]]
    texts = [None if isinstance(value, float) else number_text(value) for value in table["value"]]
    columns = {name: table[name].astype(str).tolist() for name in TIDY_COLUMNS if name != "value"}
    return pa.table({**columns, "value": numbers, "text": texts}, schema=_SCHEMA)


def _rows(folder: Path) -> Iterator[tuple[str, dict[str, str]]]:
    """Each variant of `readings.csv` with its readings, a column for each supply where there are several."""
    path = folder / "readings.csv"
    with path.open(encoding="utf-8", newline="") as file:
        supplies = {row["conditions"] for row in csv.DictReader(file)}
    with path.open(encoding="utf-8", newline="") as file:
        variant, cells = "", dict[str, str]()
        for row in csv.DictReader(file):
            if row["variant"] != variant and cells:
                yield variant, cells
                cells = {}
            variant = row["variant"]
            column = row["reading"] + (f" at {row['conditions']}" if len(supplies) > 1 else "")
            cells.setdefault(column, row["value"])
        if cells:
            yield variant, cells


def _write_variants(folder: Path) -> None:
    """One row a variant, from the readings on disk: twice through them, once for the columns."""
    columns = dict.fromkeys(column for _, cells in _rows(folder) for column in cells)
    path = folder / "variants.csv"
    part = folder / ".variants.csv.part"
    try:
        with part.open("w", encoding="utf-8", newline="") as file:
            writer = csv.writer(file, lineterminator="\n")
            writer.writerow(["variant", *columns])
            for variant, cells in _rows(folder):
                writer.writerow([variant, *(cells.get(column, "") for column in columns)])
        part.replace(path)
    except OSError as error:
        part.unlink(missing_ok=True)
        raise CannotWrite(f"cannot write {path}: {error.strerror or error}") from None
