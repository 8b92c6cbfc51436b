"""A store of what has been computed: keys to bytes in one SQLite file, bounded, and never in the way.

Whatever goes wrong with it costs a computation, not a result. A damaged file is set aside and a new one
begun; a disk that is full or a folder that cannot be written ends the keeping, with one line that says so.
The file is in write-ahead mode, so a process that is killed loses at most what it had not yet handed over,
and two studies can use one store at the same time.
"""

from __future__ import annotations

import sqlite3
import time
import zlib
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import TypeVar

FILE_NAME = "cases.sqlite"
LARGEST_BYTES = 2_000_000_000
LARGEST_ROW_BYTES = 400_000_000
"""A row that unpacks to more is none of ours."""
_KEPT_RATIO = 0.9
"""Share of the largest size that stays when the oldest rows go."""
_PATIENCE_S = 10.0
_SCHEMA = """
CREATE TABLE IF NOT EXISTS kept (
    number INTEGER PRIMARY KEY AUTOINCREMENT, key TEXT NOT NULL UNIQUE, content BLOB NOT NULL
)
"""
_DAMAGE = frozenset(
    {sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB, sqlite3.SQLITE_FORMAT, sqlite3.SQLITE_ERROR}
)

T = TypeVar("T")


def files_of(folder: Path) -> list[Path]:
    """Every file that a store in a folder has, those that were set aside as damaged among them."""
    return sorted(path for path in folder.glob(f"{FILE_NAME}*") if path.is_file())


def count_kept(folder: Path) -> int | None:
    """Rows of the store in a folder, without changing it; None where it cannot be read."""
    path = folder / FILE_NAME
    log = path.with_name(f"{FILE_NAME}-wal")
    # Without rows in its log a file is read as it lies: who only asks leaves no files of the log behind.
    way = "mode=ro" if log.exists() and log.stat().st_size else "immutable=1"
    try:
        connection = sqlite3.connect(f"{path.resolve().as_uri()}?{way}", uri=True)
        try:
            connection.execute("PRAGMA trusted_schema=OFF")
            return int(connection.execute("SELECT count(*) FROM kept").fetchone()[0])
        finally:
            connection.close()
    except sqlite3.Error:
        return None


class Store:
    """Bytes by key, on disk.

    Parameters
    ----------
    folder : Path
        Where the file is; made when it is not there.
    say : callable
        Told, in one line, when the store is set aside or given up.
    largest_bytes : int
        Size above which the oldest rows go.
    """

    def __init__(
        self, folder: Path, say: Callable[[str], None], *, largest_bytes: int = LARGEST_BYTES
    ) -> None:
        self._path = folder / FILE_NAME
        self._say = say
        self._largest_bytes = largest_bytes
        self._connection: sqlite3.Connection | None = None
        self._file_number = 0
        self._doubted = False
        self._try(self._open, None)

    @property
    def keeping(self) -> bool:
        """Whether what is put here is still kept."""
        return self._connection is not None

    def get(self, key: str) -> bytes | None:
        """Bytes kept under a key, or None."""
        return self._try(lambda: self._read(key), None)

    def put(self, rows: Mapping[str, bytes]) -> None:
        """Keep rows, all of them or none; a file found damaged is replaced, and they go into the new one."""
        if not self._try(lambda: self._write(rows), False):
            self._try(lambda: self._write(rows), False)

    def doubt(self, why: str) -> None:
        """Say, once, that something kept here is not what this program writes."""
        if not self._doubted:
            self._doubted = True
            self._say(
                f"store {self._path} holds what coldiron has not written ({why}): "
                "such cases are computed anew"
            )

    def give_up(self, why: str) -> None:
        """Say why nothing can be kept from here on, and keep nothing."""
        if self._connection is not None:
            self._give_up(why)

    def close(self) -> None:
        """Give the file back; nothing is kept from here on."""
        connection, self._connection = self._connection, None
        if connection is not None:
            try:
                connection.close()
            except sqlite3.Error as error:
                self._say(f"store {self._path}: {error}")

    def _open(self) -> None:
        self._path.parent.mkdir(parents=True, exist_ok=True)
        self._path.touch()
        self._file_number = self._path.stat().st_ino
        # Statements commit by themselves; what belongs together says BEGIN.
        connection = sqlite3.connect(self._path, timeout=_PATIENCE_S, isolation_level=None)
        self._connection = connection
        # A prepared file may hold views and triggers; nothing in them is run but plain SQL.
        connection.execute("PRAGMA trusted_schema=OFF")
        connection.execute("PRAGMA journal_mode=WAL")
        connection.execute("PRAGMA synchronous=NORMAL")
        connection.execute(_SCHEMA)
        connection.execute("SELECT number, key, content FROM kept LIMIT 0")

    def _read(self, key: str) -> bytes | None:
        if self._connection is None:
            return None
        row = self._connection.execute("SELECT content FROM kept WHERE key = ?", (key,)).fetchone()
        return _unpacked(key, row[0]) if row else None

    def _write(self, rows: Mapping[str, bytes]) -> bool:
        if self._connection is None:
            return True
        packed = [(key, _packed(key, content)) for key, content in rows.items()]
        with self._connection:
            self._connection.execute("BEGIN IMMEDIATE")
            self._connection.executemany("INSERT OR REPLACE INTO kept (key, content) VALUES (?, ?)", packed)
            if any(self._read(key) is None for key in rows):
                # A damaged index loses rows without an error, and would do so at every run from here on.
                raise _Damaged("what was put is not found again")
            self._drop_oldest(self._connection)
        return True

    def _drop_oldest(self, connection: sqlite3.Connection) -> None:
        """Keep the pages in use under the limit; freed pages are used again, so the file stays below too."""

        def ask(pragma: str) -> int:
            return int(connection.execute(f"PRAGMA {pragma}").fetchone()[0])

        page_bytes = ask("page_size")
        if (ask("page_count") - ask("freelist_count")) * page_bytes <= self._largest_bytes:
            return
        while (ask("page_count") - ask("freelist_count")) * page_bytes > _KEPT_RATIO * self._largest_bytes:
            gone = connection.execute(
                "DELETE FROM kept WHERE number IN (SELECT number FROM kept ORDER BY number LIMIT 64)"
            )
            if gone.rowcount == 0:
                return

    def _try(self, action: Callable[[], T], otherwise: T) -> T:
        """Do something with the file; what goes wrong is said, and cured as far as it can be."""
        try:
            return action()
        except _Damaged as damage:
            self._set_aside(str(damage))
        except sqlite3.Error as error:
            if isinstance(error, sqlite3.DatabaseError) and _primary_code(error) in _DAMAGE:
                self._set_aside(str(error))
            else:
                self._give_up(str(error))
        except OSError as error:
            self._give_up(error.strerror or str(error))
        return otherwise

    def _set_aside(self, why: str) -> None:
        self._disconnect()
        aside = self._path.with_name(f"{self._path.name}.damaged-{time.time_ns()}")
        try:
            # Another study may have done so already; its new file is not the damaged one.
            if self._file_number == self._path.stat().st_ino:
                self._path.rename(aside)
                for ending in ("-wal", "-shm"):
                    self._path.with_name(self._path.name + ending).unlink(missing_ok=True)
                self._say(
                    f"store {self._path} is damaged ({why}): set aside as {aside.name}, a new one begun"
                )
            self._open()
        except (OSError, sqlite3.Error) as error:
            self._give_up(str(error))

    def _give_up(self, why: str) -> None:
        self._disconnect()
        self._say(f"store {self._path}: {why}; going on without it")

    def _disconnect(self) -> None:
        connection, self._connection = self._connection, None
        if connection is not None:
            try:
                connection.close()
            except sqlite3.Error:
                # What closing would have written is lost with the file that could not be used.
                return


class _Damaged(Exception):
    """A row that is not what was put there."""


def _primary_code(error: sqlite3.Error) -> int:
    # Python's own errors (a value out of range) carry no code.
    return getattr(error, "sqlite_errorcode", 0) & 0xFF


def _packed(key: str, content: bytes) -> bytes:
    """Compress a row; the key inside shows a damaged index, the checksum of zlib damaged bytes."""
    return zlib.compress(key.encode() + b"\n" + content, level=1)


def _unpacked(key: str, packed: object) -> bytes:
    try:
        reader = zlib.decompressobj()
        whole = reader.decompress(packed, LARGEST_ROW_BYTES)  # type: ignore[arg-type]
    except (zlib.error, TypeError) as error:
        raise _Damaged(f"a row cannot be read: {error}") from None
    if not reader.eof:
        raise _Damaged("a row cannot be read: it is cut, or larger than any of ours")
    inner, _, content = whole.partition(b"\n")
    if inner != key.encode():
        raise _Damaged("a row stands under a wrong key")
    return content
