"""Reading one TOML file that a stranger may have written: bounded, regular files only, never a traceback."""

from __future__ import annotations

import os
import re
import stat
import tomllib
from contextlib import suppress
from pathlib import Path
from typing import Any, Literal

from coldiron.errors import FileProblems, Problem
from coldiron.resources import resource_dir
from coldiron.wording import one_nearest, one_of, printable

LARGEST_BYTES = 1_000_000

# A dotted key of n words costs tomllib n²: one of 100 000 words takes all memory.
_MOST_DOTS = 50
_LONGEST_LINE = 200
_PIECES = re.compile(r"[=,{}\[\]]")


def shipped_names(folder: Literal["lamps", "studies"]) -> list[str]:
    """Names of the shipped lamps or studies."""
    return sorted(path.stem for path in (resource_dir("variants") / folder).glob("*.toml"))


def find_file(path_or_name: str | Path, *folders: Literal["lamps", "studies"]) -> Path:
    """Path of a file that a person named by its path or, when it is a shipped one, by its name alone.

    Raises
    ------
    FileProblems
        If a name without folder or ending is neither shipped nor a file.
    """
    path = Path(path_or_name)
    if len(path.parts) != 1 or path.suffix:
        return path
    names = {name: folder for folder in folders for name in shipped_names(folder)}
    if str(path) in names:
        return resource_dir("variants") / names[str(path)] / f"{path}.toml"
    if os.path.lexists(path):
        return path
    expected = f"a file, or the name of a shipped one ({one_of(names)})"
    for folder, kind in (("lamps", "a lamp"), ("studies", "a study")):
        if folder not in folders and str(path) in shipped_names(folder):  # type: ignore[arg-type]
            wanted = "a study" if kind == "a lamp" else "a lamp"
            raise FileProblems(
                [Problem(str(path), "", kind, f"{wanted}: {one_of(names)}, or a file of yours")]
            )
    raise FileProblems([Problem(printable(str(path)), "", "not known", expected, one_nearest(path, names))])


def read_toml(
    path: Path, *, largest_bytes: int = LARGEST_BYTES, what: str = "a lamp or a study"
) -> dict[str, Any]:
    """Tables of a TOML file; a byte order mark and CRLF line ends are accepted.

    Parameters
    ----------
    path : Path
    largest_bytes : int
        Size above which it is refused unread.
    what : str
        What it should hold, for a person.

    Raises
    ------
    FileProblems
        If the file is not there, not a regular file, too large, not UTF-8, empty, or not TOML.
    """

    def refuse(expected: str, value: str = "", key: str = "") -> FileProblems:
        return FileProblems([Problem(file=printable(str(path)), key=key, value=value, expected=expected)])

    try:
        content = _bytes(path, largest_bytes)
    except FileNotFoundError:
        raise refuse("a lamp or study file", "missing") from None
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) else str(error)
        raise refuse(f"a file that can be read ({reason})") from None
    if content is None:
        raise refuse("a file, not a folder or a device")
    if len(content) > largest_bytes:
        raise refuse(f"a file of at most {largest_bytes / 1e6:g} MB")
    try:
        text = content.decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError:
        raise refuse("text in UTF-8") from None
    if any(piece.count(".") > _MOST_DOTS for line in text.split("\n") for piece in _PIECES.split(line)):
        raise refuse("keys of a few words")
    if not text.strip():
        raise refuse(f"{what}, not an empty file")
    try:
        return tomllib.loads(text)
    except RecursionError:
        raise refuse("tables nested a few levels deep") from None
    except tomllib.TOMLDecodeError as error:
        slip = _slip(text, str(error))
        if slip is not None:
            key, value, expected, nearest = slip
            raise FileProblems([Problem(printable(str(path)), key, value, expected, nearest)]) from None
        raise refuse(f"valid TOML ({error})") from None
    except ValueError:  # int() on thousands of digits
        raise refuse("numbers of fewer digits") from None


def _slip(text: str, error: str) -> tuple[str, str, str, str] | None:
    """Key, value, expectation and mended line of a common slip in the line where TOML ended, if it is one.

    >>> _slip("voltage = 230 V", "Expected newline (at line 1, column 15)")
    ('voltage (line 1)', '230 V', 'text in quotes', 'voltage = "230 V"')
    """
    place = re.search(r"at line ([0-9]+),", error)
    line = text.split("\n")[int(place[1]) - 1] if place else ""
    written = re.fullmatch(r"\s*([A-Za-z0-9_.-]+)\s*=\s*([^#]*?)\s*(?:#.*)?", line)
    if written is None or len(line) > _LONGEST_LINE:
        return None
    key, value = written[1], written[2]
    with suppress(tomllib.TOMLDecodeError):
        tomllib.loads(f"value = {value}")
        return None  # the value is none of the trouble
    where = f"{key} (line {place[1] if place else ''})"
    truth = {"true": "true", "yes": "true", "on": "true", "false": "false", "no": "false", "off": "false"}
    if value.casefold() in truth:
        small = truth[value.casefold()]
        return where, value, "true or false in small letters, without quotes", f"{key} = {small}"
    if not value:
        return where, "empty", "a value", ""
    bare = value.strip("“”„‟‘’\"'`« »")
    if bare and not set(bare) & set("\"'{}[]=\\"):
        return where, printable(value), "text in quotes", f'{key} = "{bare}"'
    return None


def _bytes(path: Path, largest: int) -> bytes | None:
    """Read the beginning of a file; None if it is not a regular one."""
    # Without O_NONBLOCK the open of a FIFO waits for its writer.
    descriptor = os.open(path, os.O_RDONLY | os.O_NONBLOCK)
    try:
        if not stat.S_ISREG(os.fstat(descriptor).st_mode):
            return None
        with open(descriptor, "rb", closefd=False) as stream:  # a descriptor, not a path
            return stream.read(largest + 1)
    finally:
        os.close(descriptor)
