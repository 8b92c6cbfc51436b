"""Public lines by which the end of a fault is judged, as data files hold them: each with its source."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import Annotated, Literal

from pydantic import Field

from coldiron.errors import FileProblems, Problem
from coldiron.lamp.model import Closed
from coldiron.lamp.toml_file import read_toml
from coldiron.lamp.understand import understand
from coldiron.resources import resource_dir


class LineRow(Closed):
    """One [[line]] of a file."""

    id: str
    what: str
    reading: str
    most: float
    clause: str = ""
    known: Literal["verified", "from memory"]


class LineFile(Closed):
    """One file: a standard and its lines."""

    standard: str
    edition: str = ""
    line: Annotated[tuple[LineRow, ...], Field(min_length=1)]


@dataclass(frozen=True)
class DecisionLine:
    """A number above which the end of a fault has another word, and where it stands."""

    id: str
    what: str
    reading: str
    most: float
    source: str
    known: str

    @property
    def words(self) -> str:
        """What it is, its number and its source, in one line."""
        known = "" if self.known == "verified" else f" ({self.known})"
        return f"{self.what}: {self.most:g}; {self.source}{known}"


@cache
def decision_lines() -> dict[str, DecisionLine]:
    """Every line by its id.

    Raises
    ------
    FileProblems
        With everything that is wrong in the files.
    """
    problems: list[Problem] = []
    found: dict[str, DecisionLine] = {}
    for path in sorted((resource_dir("variants") / "limits" / "faults").glob("*.toml")):
        rules = understand(LineFile, read_toml(path), str(path), problems)
        for row in rules.line if rules is not None else ():
            source = ", ".join(filter(None, (rules.standard, rules.edition, row.clause)))  # type: ignore[union-attr]
            found[row.id] = DecisionLine(row.id, row.what, row.reading, row.most, source, row.known)
    if problems:
        raise FileProblems(problems)
    return found
