"""The folder of a study holds one run: the manifest says which, and names its files.

A run is written beside, into a folder that begins with a dot, and moved to its place when all of it is there.
Until then, and if it is interrupted, the folder holds the run before, whole.
"""

from __future__ import annotations

import contextlib
import json
import os
import shutil
import signal
import tempfile
import threading
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from pathlib import Path, PurePosixPath
from types import TracebackType
from typing import Any, Self

from coldiron.errors import CannotWrite
from coldiron.study.model import Study
from coldiron.tables.files import short_stem, stems, write_whole
from coldiron.wording import printable_lines

MANIFEST = "manifest.json"
LEAST_FREE_BYTES = 4_000_000
"""With less room on the disk a run is not begun in the hope that its files will fit."""
_OURS = {".csv", ".parquet", ".txt", ".cir", ".svg", ".html"}
_BESIDE = ".part-"
_ENDINGS = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)


def folder_of(
    out: Path, study: Study, variants: Sequence[str] | None = None, benches: Sequence[str] | None = None
) -> Path:
    """Folder of a run: that of its study, or for a part of a study one of its own within.

    A part never takes the place of a whole, or of another part.

    Parameters
    ----------
    out : Path
        Folder of all results.
    study : Study
    variants, benches : sequence of str, optional
        What was chosen, when something was.
    """
    whole = out / study.name
    known = stems([variant.name for variant in study.variants])
    chosen = []
    if variants:
        chosen += ["variants", *(known[each.name] for each in study.variants if each.name in variants)]
    if benches:
        chosen += ["benches", *(bench for bench in study.benches if bench in benches)]
    return whole / "chosen" / short_stem("_".join(chosen)) if chosen else whole


class RunFolder:
    """Files of one run under a folder.

    They are written into `part` and moved to `path` by `finish`. Every file that an earlier run named in its
    manifest and this one has not written goes then, so that a run of two variants never stands among the
    decks and pictures of eighteen. Files that no manifest names are nobody's business. Where the folder
    cannot be written that is said at once, and all goes into a folder that is thrown away.

    Parameters
    ----------
    path : Path
    say : callable
        Told, in one line, that nothing will be written.
    """

    def __init__(self, path: Path, say: Callable[[str], None]) -> None:
        self.path = path
        self.lost = False
        self.part = path
        self._say = say
        self._made: list[Path] = []

    def __enter__(self) -> Self:
        """Make the folder to write into, and find out whether there is right and room to write."""
        try:
            self.path.mkdir(parents=True, exist_ok=True)
            _sweep(self.path)
            self._write_into(tempfile.mkdtemp(prefix=f"{_BESIDE}{os.getpid()}-", dir=self.path))
            (self.part / "probe").write_bytes(bytes(4096))
            (self.part / "probe").unlink()
            if shutil.disk_usage(self.part).free < LEAST_FREE_BYTES:
                raise OSError(None, "No space left on device")
        except OSError as error:
            self.lose(f"cannot write {self.path}: {error.strerror or error}")
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Take away what was not moved to its place."""
        for folder in self._made:
            shutil.rmtree(folder, ignore_errors=True)

    def lose(self, why: str) -> None:
        """Say that there will be no files, and why."""
        why = why.replace(str(self.part), str(self.path))
        self._say(f"{printable_lines(why)}; the table is shown all the same, but no file is written")
        self.lost = True
        self._write_into(tempfile.mkdtemp(prefix="coldiron-lost-"))

    def finish(self, manifest: Mapping[str, Any], files: Iterable[Path]) -> None:
        """Move a run to its place, and take away what an earlier one left.

        Parameters
        ----------
        manifest : mapping
            What was run and with what, from `coldiron.tables.files.manifest`.
        files : iterable of Path
            Everything this run has written below `part`.

        Raises
        ------
        CannotWrite
            If there is no room or no right.
        """
        if self.lost:
            return
        names = sorted({file.relative_to(self.part).as_posix() for file in files})
        try:
            with _undisturbed():
                self._move(manifest, names)
        except OSError as error:
            raise CannotWrite(f"cannot write {self.path}: {error.strerror or error}") from None

    def _move(self, manifest: Mapping[str, Any], names: list[str]) -> None:
        before = _named_in(self.path / MANIFEST)
        self._write(manifest, complete=False, files=sorted({*names, *before}))
        for name in names:
            (self.path / name).parent.mkdir(exist_ok=True)
            (self.part / name).replace(self.path / name)
        for name in set(before) - set(names):
            with contextlib.suppress(OSError):
                (self.path / name).unlink(missing_ok=True)
        for folder in {str(PurePosixPath(name).parent) for name in before} - {"."}:
            with contextlib.suppress(OSError):
                (self.path / folder).rmdir()  # only where it is empty
        self._write(manifest, complete=True, files=names)

    def _write_into(self, folder: str) -> None:
        self.part = Path(folder)
        self._made.append(self.part)

    def _write(self, manifest: Mapping[str, Any], *, complete: bool, files: list[str]) -> None:
        text = json.dumps({"complete": complete, **manifest, "files": files}, indent=2, ensure_ascii=False)
        write_whole(self.path / MANIFEST, f"{text}\n")


@contextlib.contextmanager
def _undisturbed() -> Iterator[None]:
    """Hold back what would end this process: nobody is to see half of one run and half of another.

    What it holds back are the handlers: a masked signal would reach another thread, and the handler this one.
    """
    came: list[int] = []
    before = {}
    if threading.current_thread() is threading.main_thread():
        before = {number: signal.getsignal(number) for number in _ENDINGS}
    before = {number: handler for number, handler in before.items() if callable(handler)}
    for number in before:
        signal.signal(number, lambda caught, frame: came.append(caught))
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
    if came:
        signal.raise_signal(came[0])


def _sweep(path: Path) -> None:
    """Take away what runs that were killed have left beside."""
    for left in path.glob(f"{_BESIDE}*-*"):
        number = left.name.removeprefix(_BESIDE).partition("-")[0]
        if number.isdigit() and not _runs(int(number)):
            shutil.rmtree(left, ignore_errors=True)


def _runs(pid: int) -> bool:
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return False
    except (OSError, OverflowError):
        return True
    return True


def _named_in(path: Path) -> list[str]:
    """Files that a manifest names, as far as they can be of a run: it is data, and may have been edited."""
    try:
        names = json.loads(path.read_text(encoding="utf-8"))["files"]
    except (OSError, ValueError, TypeError, KeyError):
        return []
    if not isinstance(names, list):
        return []
    return [name for name in names if isinstance(name, str) and _is_ours(path.parent, name)]


def _is_ours(folder: Path, name: str) -> bool:
    """Whether a name is that of a file of ours that stands in a folder or one step below it."""
    parts = PurePosixPath(name).parts
    plain = 1 <= len(parts) <= 2 and ".." not in parts and not name.startswith("/") and "\\" not in name
    try:
        return (
            plain
            and PurePosixPath(name).suffix in _OURS
            and (folder / name).resolve().is_relative_to(folder.resolve())
        )
    except (OSError, ValueError):
        return False
