"""A new lamp file with fitted values, beside the old one and never over anything."""

from __future__ import annotations

import os
import tomllib
from collections.abc import Sequence
from pathlib import Path
from typing import Any, TextIO

import tomlkit
from tomlkit.items import InlineTable

from coldiron.errors import FileProblems, Problem
from coldiron.fit.solve import FittedValue
from coldiron.lamp.load import lamp_from
from coldiron.resources import resource_dir
from coldiron.wording import printable


def new_path(lamp_file: Path, wanted: Path | None) -> Path:
    """Where the new file goes: as wanted, else beside the old one; beside nothing for a shipped lamp.

    Raises
    ------
    FileProblems
        If something is there already, or the folder is not.
    """
    shipped = lamp_file.resolve().is_relative_to(resource_dir("variants").resolve())
    path = wanted or (Path() if shipped else lamp_file.parent) / f"{lamp_file.stem}.fitted.toml"
    if os.path.lexists(path):
        expected = "a new file (a fit overwrites nothing): name another with --out"
        raise FileProblems([Problem("--out", "", printable(str(path)), expected)])
    if not path.parent.is_dir():
        raise FileProblems([Problem("--out", "", printable(str(path)), "a file in a folder that exists")])
    return path


def fitted_text(lamp_file: Path, fitted: Sequence[FittedValue]) -> str:
    """Text of a lamp file with fitted values, their provenance and plus-minus in it; the rest as it was."""
    document: Any = tomlkit.parse(lamp_file.read_text(encoding="utf-8-sig"))
    for one in fitted:
        key = one.free.key.partition(".")[2]
        if one.free.part not in document:
            document.add(one.free.part, tomlkit.table())
        entry = tomlkit.inline_table()
        entry.update({"value": one.free.text(one.value), "provenance": "fitted"})
        part = document[one.free.part]
        part[key] = entry
        if not isinstance(part, InlineTable):  # which has no room for comments
            part[key].comment(f"± {one.free.text(one.plus_minus, 2)}")
    names = ", ".join(one.free.key for one in fitted)
    head = [
        f"# Fitted to the bench readings of {printable(lamp_file.name)} by `coldiron fit`: {names}.",
        "# Plus-minus holds for all of them together in some 95 % of fits.",
    ]
    return "\n".join([*head, tomlkit.dumps(document)])


def write_fitted(lamp_file: Path, fitted: Sequence[FittedValue], path: Path) -> None:
    """Write the new lamp file, whole or not at all; its text is read as a lamp before.

    Raises
    ------
    FileProblems
        If a file has appeared there meanwhile, it cannot be written, or the values make no lamp.
    """
    text = fitted_text(lamp_file, fitted)
    lamp_from(tomllib.loads(text), path)
    try:
        with path.open("x", encoding="utf-8", newline="\n") as file:
            _fill(file, text)
    except OSError as error:
        expected = f"a new file that can be written ({error.strerror})"
        raise FileProblems([Problem("--out", "", printable(str(path)), expected)]) from None


def _fill(file: TextIO, text: str) -> None:
    """Write a new file; what a full disk leaves of it goes again."""
    try:
        file.write(text)
        file.flush()
    except OSError:
        Path(file.name).unlink()
        raise
