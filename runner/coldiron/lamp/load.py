"""A lamp file becomes a Lamp, or a list of everything that is wrong with it."""

from __future__ import annotations

from pathlib import Path

from coldiron.errors import FileProblems, Problem
from coldiron.lamp.lamp import Lamp
from coldiron.lamp.toml_file import read_toml
from coldiron.lamp.understand import understand
from coldiron.resources import resource_dir


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
    path = Path(path_or_name)
    shipped = resource_dir("variants") / "lamps" / f"{path_or_name}.toml"
    if len(path.parts) == 1 and not path.suffix and shipped.is_file():
        path = shipped
    problems: list[Problem] = []
    lamp = understand(Lamp, read_toml(path), str(path), problems)
    if lamp is None:
        raise FileProblems(problems)
    return lamp
