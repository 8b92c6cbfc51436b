"""A lamp file becomes a Lamp, or a list of everything that is wrong with it."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from coldiron.errors import FileProblems, Problem
from coldiron.lamp.lamp import Lamp
from coldiron.lamp.toml_file import find_file, read_toml
from coldiron.lamp.understand import understand
from coldiron.wording import as_written, printable


def load_lamp(path_or_name: str | Path) -> Lamp:
    """Lamp described by a file, or a shipped lamp by its name.

    Parameters
    ----------
    path_or_name : str or Path
        A path, or the name of a shipped lamp such as "kerbside-flood".

    Raises
    ------
    FileProblems
        With every problem of the file.
    """
    path = find_file(path_or_name, "lamps")
    return lamp_from(read_toml(path), path)


def lamp_from(table: dict[str, Any], path: Path) -> Lamp:
    """Lamp described by the tables of a file at a path."""
    problems: list[Problem] = []
    if isinstance(table.get("lamp"), str) and not table.keys() & {"mains", "string", "sinks"}:
        expected = f"a lamp; the study's own is {as_written(table['lamp'])}"
        raise FileProblems([Problem(printable(str(path)), "", "a study", expected)])
    lamp = understand(Lamp, table, str(path), problems)
    if lamp is None:
        raise FileProblems(problems)
    return lamp
