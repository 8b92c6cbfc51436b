"""`coldiron store`: where results and finished cases lie, how large they are, and how to be rid of them."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from pathlib import Path

from coldiron.engine.store import count_kept, files_of
from coldiron.errors import CannotWrite
from coldiron.wording import printable


def main(args: argparse.Namespace) -> int:
    """Say what lies in the folder of results, or remove the finished cases."""
    folder: Path = args.store or args.out / ".store"
    if args.clear:
        return _clear(folder)
    sys.stdout.write("\n".join([*_store_lines(folder), *_result_lines(args.out)]) + "\n")
    return 0


def _store_lines(folder: Path) -> Iterator[str]:
    files = files_of(folder)
    if not files:
        yield f"store of finished cases: nothing yet in {printable(str(folder))}"
        return
    kept = count_kept(folder)
    count = "not to be read" if kept is None else f"{kept} entries"
    yield f"store of finished cases: {printable(str(folder))}, {_size(_bytes(files))}, {count}"
    yield "  only ever a copy: coldiron store --clear removes it, the next run computes anew"
    damaged = [file for file in files if ".damaged-" in file.name]
    if damaged:
        yield f"  {_size(_bytes(damaged))} of it in {len(damaged)} damaged that were set aside"


def _result_lines(out: Path) -> Iterator[str]:
    folders = sorted(one for one in out.glob("*/") if not one.name.startswith(".")) if out.is_dir() else []
    runs = [(one, [file for file in one.rglob("*") if file.is_file()]) for one in folders]
    runs = [(one, files) for one, files in runs if files]
    if not runs:
        yield f"results: nothing yet in {printable(str(out))}"
        return
    total = sum(_bytes(files) for _, files in runs)
    yield f"results: {printable(str(out))}, {_size(total)}; a folder may be removed like any other"
    width = max(len(printable(one.name)) for one, _ in runs)
    for one, files in runs:
        what = " (what regress holds studies to: keep it)" if one.name == "reference" else ""
        yield f"  {printable(one.name):<{width}}  {_size(_bytes(files)):>8}{what}"


def _clear(folder: Path) -> int:
    files = files_of(folder)
    freed = _bytes(files)
    for file in files:
        try:
            file.unlink()
        except OSError as error:
            raise CannotWrite(f"cannot remove {printable(str(file))}: {error.strerror}") from None
    said = f"{_size(freed)} freed" if files else "nothing there"
    sys.stdout.write(f"store {printable(str(folder))}: {said}\n")
    return 0


def _bytes(files: list[Path]) -> int:
    return sum(file.stat().st_size for file in files)


def _size(count: float) -> str:
    """Bytes as a person reads them.

    >>> _size(999), _size(2_800_000), _size(1.3e9)
    ('999 B', '2.8 MB', '1.3 GB')
    """
    for unit in ("B", "kB", "MB", "GB"):
        if count < 999.5 or unit == "GB":
            return f"{count:.0f} {unit}" if count >= 99.5 or unit == "B" else f"{count:.1f} {unit}"
        count /= 1000.0
    raise AssertionError("every size has a unit")
