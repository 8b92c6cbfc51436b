"""Tidy rows as a Parquet file, where pyarrow is installed: it is 170 MB, and a CSV has the same."""

from __future__ import annotations

from collections.abc import Sequence
from importlib.util import find_spec
from pathlib import Path
from typing import Any

from coldiron.tables.tidy import Row


def has_parquet() -> bool:
    """Whether Parquet files can be written here."""
    return find_spec("pyarrow") is not None


class ColumnarFile:
    """A Parquet file of tidy rows, written batch by batch."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._writer: Any = None

    def open(self) -> None:
        """Begin the file."""
        import pyarrow as pa
        from pyarrow import parquet

        fields = [(name, pa.float64() if name == "value" else pa.string()) for name in Row._fields]
        self._schema = pa.schema(fields)
        self._writer = parquet.ParquetWriter(self._path, self._schema)

    def write(self, found: Sequence[Row]) -> None:
        """Append rows."""
        import pyarrow as pa

        columns = dict(zip(Row._fields, zip(*found, strict=True), strict=True)) if found else {}
        whole = {name: list(columns.get(name, ())) for name in Row._fields}
        self._writer.write_table(pa.table(whole, schema=self._schema))

    def close(self) -> None:
        """End the file, as far as it was begun."""
        if self._writer is not None:
            self._writer.close()


def columnar_file(path: Path) -> ColumnarFile | None:
    """Parquet file to be written at a path; None where pyarrow is not installed."""
    return ColumnarFile(path) if has_parquet() else None
