"""The store of finished cases: nothing that happens to its file may cost a result."""

from __future__ import annotations

import os
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coldiron.engine.store import FILE_NAME, Store


class Ear:
    """Collects what a store says."""

    def __init__(self) -> None:
        self.lines: list[str] = []

    def __call__(self, line: str) -> None:
        self.lines.append(line)


@pytest.fixture
def ear() -> Ear:
    return Ear()


def filled(folder: Path, rows: int = 200) -> None:
    store = Store(folder, print)
    store.put({f"key {n}": os.urandom(500) for n in range(rows)})
    store.close()


def test_what_was_put_comes_back_in_another_process(tmp_path: Path, ear: Ear) -> None:
    store = Store(tmp_path, ear)
    store.put({"a": b"first", "b": b"\x00\xff\n"})
    store.put({"a": b"second"})
    store.close()
    ask = f"""
from pathlib import Path
from coldiron.engine.store import Store
store = Store(Path({str(tmp_path)!r}), print)
print([store.get("a"), store.get("b"), store.get("c")])
"""
    done = subprocess.run([sys.executable, "-c", ask], capture_output=True, text=True, check=True)
    assert done.stdout == "[b'second', b'\\x00\\xff\\n', None]\n"
    assert ear.lines == []


def test_two_at_once_see_each_other(tmp_path: Path, ear: Ear) -> None:
    one, other = Store(tmp_path, ear), Store(tmp_path, ear)
    for n in range(50):
        one.put({f"one {n}": b"1"})
        other.put({f"other {n}": b"2", "shared": str(n).encode()})
        assert (one.get(f"other {n}"), other.get(f"one {n}")) == (b"2", b"1")
    assert one.get("shared") == b"49"
    assert ear.lines == []
    one.close()
    other.close()


def test_the_oldest_go_and_the_file_stays_below_its_limit(tmp_path: Path, ear: Ear) -> None:
    limit = 1_000_000
    store = Store(tmp_path, ear, largest_bytes=limit)
    for n in range(600):
        store.put({f"key {n}": os.urandom(5000)})
    kept = [n for n in range(600) if store.get(f"key {n}") is not None]
    assert kept == list(range(kept[0], 600)), "what goes is not the oldest"
    assert 100 < len(kept) < limit / 5000
    store.close()
    assert (tmp_path / FILE_NAME).stat().st_size < 1.1 * limit
    assert ear.lines == []


@settings(max_examples=60, deadline=None)
@given(at_ratio=st.floats(0, 1), length=st.integers(1, 5000), byte=st.integers(0, 255))
def test_damaged_bytes_never_come_back_as_content(
    tmp_path_factory: pytest.TempPathFactory, at_ratio: float, length: int, byte: int
) -> None:
    folder = tmp_path_factory.mktemp("store")
    rows = {f"key {n}": f"content {n}".encode() * 50 for n in range(300)}
    store = Store(folder, print)
    store.put(rows)
    store.close()
    path = folder / FILE_NAME
    content = bytearray(path.read_bytes())
    at = round(at_ratio * (len(content) - 1))
    content[at : at + length] = bytes([byte]) * len(content[at : at + length])
    path.write_bytes(content)
    ear = Ear()
    store = Store(folder, ear)
    for key, right in rows.items():
        assert store.get(key) in (right, None)
    store.put({"new": b"new"})
    assert store.get("new") == b"new"
    store.close()
    assert all("set aside" in line for line in ear.lines)


@pytest.mark.parametrize("content", [b"", b"not a database at all", b"SQLite format 3\x00" + bytes(4080)])
def test_a_damaged_store_is_set_aside_and_rebuilt(tmp_path: Path, ear: Ear, content: bytes) -> None:
    (tmp_path / FILE_NAME).write_bytes(content)
    store = Store(tmp_path, ear)
    store.put({"a": b"1"})
    assert store.get("a") == b"1"
    store.close()
    # An empty file is how a new one begins.
    assert len(ear.lines) == (1 if content else 0)
    assert len(list(tmp_path.glob("*.damaged-*"))) == len(ear.lines)


def test_a_truncated_store_is_set_aside(tmp_path: Path, ear: Ear) -> None:
    filled(tmp_path)
    path = tmp_path / FILE_NAME
    path.write_bytes(path.read_bytes()[:20_000])
    store = Store(tmp_path, ear)
    assert [store.get(f"key {n}") for n in range(200)].count(None) > 0
    store.put({"a": b"1"})
    assert store.get("a") == b"1"
    [line] = ear.lines
    assert "damaged" in line
    assert "set aside" in line
    store.close()


def test_a_store_of_another_shape_is_set_aside(tmp_path: Path, ear: Ear) -> None:
    with sqlite3.connect(tmp_path / FILE_NAME) as connection:
        connection.execute("CREATE TABLE kept (something TEXT)")
    connection.close()
    store = Store(tmp_path, ear)
    store.put({"a": b"1"})
    assert store.get("a") == b"1"
    assert len(ear.lines) == 1
    store.close()


def test_only_the_damaged_file_is_set_aside_when_two_find_it(tmp_path: Path, ear: Ear) -> None:
    filled(tmp_path)
    one, other = Store(tmp_path, ear), Store(tmp_path, ear)
    one._set_aside("tried")
    one.put({"a": b"1"})
    other._set_aside("tried")
    assert other.get("a") == b"1"
    assert len(ear.lines) == 1
    one.close()
    other.close()


def test_a_folder_that_cannot_be_made_ends_the_keeping_with_one_line(tmp_path: Path, ear: Ear) -> None:
    (tmp_path / "file").write_text("in the way")
    store = Store(tmp_path / "file" / "store", ear)
    store.put({"a": b"1"})
    assert store.get("a") is None
    assert not store.keeping
    [line] = ear.lines
    assert "going on without it" in line


def test_a_disk_that_fills_up_ends_the_keeping_with_one_line(tmp_path: Path) -> None:
    """Every size at which the disk can be full; a limit on the size of a file stands in for the disk."""
    ask = f"""
import os, resource, sys
from pathlib import Path
from coldiron.engine.store import Store
limit = int(sys.argv[1])
resource.setrlimit(resource.RLIMIT_FSIZE, (limit, limit))
store = Store(Path({str(tmp_path)!r}) / sys.argv[1], print)
for n in range(40):
    store.put({{f"key {{n}}": os.urandom(4000)}})
print("through", store.keeping)
store.close()
"""
    for limit in (0, 1, 4096, 10_000, 40_000, 100_000, 150_000):
        done = subprocess.run(
            [sys.executable, "-c", ask, str(limit)], capture_output=True, text=True, check=False
        )
        assert (done.returncode, done.stderr) == (0, "")
        said, through = done.stdout.splitlines()
        assert "going on without it" in said
        assert through == "through False"
        # What did get there is whole.
        store = Store(tmp_path / str(limit), print)
        assert all(len(store.get(f"key {n}") or bytes(4000)) == 4000 for n in range(40))
        store.close()


def test_a_read_only_file_ends_the_keeping_with_one_line(tmp_path: Path, ear: Ear) -> None:
    filled(tmp_path)
    store = Store(tmp_path, ear)
    assert store._connection is not None
    # Root can write everywhere: a pragma stands in for the permission.
    store._connection.execute("PRAGMA query_only = ON")
    store.put({"a": b"1"})
    [line] = ear.lines
    assert "readonly" in line
    assert "going on without it" in line
    store.close()
