"""The folder of a study holds one run: the manifest says which, and names its files."""

from __future__ import annotations

import contextlib
import json
from collections.abc import Iterable, Mapping
from pathlib import Path, PurePosixPath
from typing import Any

from coldiron.tables.files import write_whole

MANIFEST = "manifest.json"
_OURS = {".csv", ".parquet", ".txt", ".cir", ".svg", ".html"}


class RunFolder:
    """Files of one run under a folder.

    While a run is being written its manifest says that it is not complete. At the end every file that an
    earlier run named in its manifest and this one has not written goes, so that a run of two variants never
    stands among the decks and pictures of eighteen. Files that no manifest names are nobody's business.

    Parameters
    ----------
    path : Path
    manifest : mapping
        What was run and with what, from `coldiron.tables.files.manifest`.
    """

    def __init__(self, path: Path, manifest: Mapping[str, Any]) -> None:
        self.path = path
        self._manifest = dict(manifest)
        self._before = _named_in(path / MANIFEST)
        self._write(complete=False, files=self._before)

    def finish(self, files: Iterable[Path]) -> None:
        """Say that a run is complete, and take away what an earlier one left.

        Parameters
        ----------
        files : iterable of Path
            Everything this run has written, but for its manifest.
        """
        names = sorted({file.relative_to(self.path).as_posix() for file in files})
        for name in self._before:
            if name not in names:
                with contextlib.suppress(OSError):
                    (self.path / name).unlink(missing_ok=True)
        for folder in {str(PurePosixPath(name).parent) for name in self._before} - {"."}:
            with contextlib.suppress(OSError):
                (self.path / folder).rmdir()  # only where it is empty
        self._write(complete=True, files=names)

    def _write(self, *, complete: bool, files: list[str]) -> None:
        text = json.dumps(
            {"complete": complete, **self._manifest, "files": files}, indent=2, ensure_ascii=False
        )
        write_whole(self.path / MANIFEST, f"{text}\n")


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
