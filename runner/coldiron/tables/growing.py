"""The tables of a large study, written while it runs: what has been written is not kept in memory."""

from __future__ import annotations

import contextlib
import csv
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from types import TracebackType
from typing import Self

from coldiron.limits.verdict import VERDICT_COLUMNS, Verdict, verdict_rows
from coldiron.study.model import AS_FOUND
from coldiron.sweep.results import Results
from coldiron.sweep.run import FinishedCase
from coldiron.tables.columnar import columnar_file
from coldiron.tables.tidy import Row, plain_text, rows, rows_text, variants_lines

NO_PARQUET = (
    "readings.parquet is not written: pyarrow is not installed (pip install 'coldiron[parquet]'); "
    "readings.csv has the same"
)


class GrowingTable:
    """Writes `readings.csv`, `readings.parquet` and `verdicts.csv` batch by batch, `variants.csv` at the end.

    The CSV files are those of a small study, byte for byte. Without pyarrow there is no Parquet file.

    Parameters
    ----------
    folder : Path
        Made when it is not there.
    lose : callable
        Told, once, when there is no room or no right to write; the batches go on without files.
    say : callable
        Told, in one line, that there is no Parquet file.
    """

    def __init__(
        self, folder: Path, lose: Callable[[str], None], say: Callable[[str], None] = lambda line: None
    ) -> None:
        self._folder = folder
        self._lose = lose
        self._lost = False
        self._parquet = columnar_file(folder / "readings.parquet")
        if self._parquet is None:
            say(NO_PARQUET)
        self._found: list[FinishedCase] = []
        self.failed = 0

    def __enter__(self) -> Self:
        """Begin the files."""
        with self._writing():
            self._folder.mkdir(parents=True, exist_ok=True)
            self._csv = (self._folder / "readings.csv").open("w", encoding="utf-8", newline="")
            self._verdicts = (self._folder / "verdicts.csv").open("w", encoding="utf-8", newline="")
            if self._parquet is not None:
                self._parquet.open()
            self._csv.write(",".join(Row._fields) + "\n")
            self._verdicts.write(",".join(VERDICT_COLUMNS) + "\n")
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """End the files."""
        with self._writing():
            for file in (self._csv, self._verdicts, self._parquet):
                if file is not None:
                    file.close()
            if kind is None and not self._lost:
                _write_variants(self._folder)

    @contextlib.contextmanager
    def _writing(self) -> Iterator[None]:
        """What goes wrong with the files meanwhile ends them, and costs nothing else."""
        try:
            yield
        except OSError as error:
            if not self._lost:
                self._lost = True
                self._lose(f"cannot write {self._folder}: {error.strerror or error}")

    @property
    def files(self) -> list[Path]:
        """Files that it leaves."""
        names = ("readings.csv", "readings.parquet", "verdicts.csv", "variants.csv")
        return [
            self._folder / name for name in names if self._parquet is not None or name != "readings.parquet"
        ]

    def add(self, done: Sequence[FinishedCase], verdicts: Sequence[Verdict] = ()) -> Results:
        """Append a batch of whole variants; the lamp as found comes in the first.

        Parameters
        ----------
        done : sequence of FinishedCase
        verdicts : sequence of Verdict
            From `coldiron.limits.judge` of the same cases.

        Returns
        -------
        Results
            The batch, with the lamp as found beside it, which what is derived needs.
        """
        first = not self._found
        self._found += [_bare(one) for one in done if one.case.variant == AS_FOUND]
        results = Results(done if first else [*self._found, *done])
        found = list(rows(results))
        if not first:  # Its rows have been written already.
            found = [row for row in found if row.variant != AS_FOUND]
        self.failed += sum(1 for one in done if one.result.failure)
        if not self._lost:
            with self._writing():
                self._csv.write(rows_text(found))
                self._csv.flush()
                self._verdicts.write(rows_text(verdict_rows(verdicts)))
                if self._parquet is not None:
                    self._parquet.write(found)
        return results


def _bare(one: FinishedCase) -> FinishedCase:
    """A case without the text of its decks."""
    return FinishedCase(
        one.case, type(one.result)(one.result.readings, {}, not_applicable=one.result.not_applicable)
    )


def _rows_of(path: Path) -> Iterator[Row]:
    """Rows of a `readings.csv`, one at a time."""
    with path.open(encoding="utf-8", newline="") as file:
        for line in csv.DictReader(file):
            texts = {name: plain_text(cell) for name, cell in line.items() if name != "value"}
            yield Row(value=float(line["value"] or "nan"), **texts)


def _write_variants(folder: Path) -> None:
    """One row a variant, from the readings on disk: twice through them, once for the columns."""
    source = folder / "readings.csv"
    several = len({row.conditions for row in _rows_of(source)}) > 1
    with (folder / "variants.csv").open("w", encoding="utf-8", newline="") as file:
        file.writelines(variants_lines(_rows_of(source), _rows_of(source), several=several))
