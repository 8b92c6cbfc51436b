"""What a study combines: every value of a [grid] with every other, the values of a [zip] step by step."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Final

from coldiron.errors import Problem
from coldiron.wording import as_written, printable

GRID: Final = "grid"
ZIP: Final = "zip"

Axes = Mapping[str, list[Any]]


@dataclass(frozen=True)
class Combinations:
    """Axes of a grid, and keys that step in lockstep; each step of these meets every point of the grid."""

    grid: Axes
    steps: Axes

    @property
    def count(self) -> int:
        """How many there are; none without any axis."""
        if not self.grid and not self.steps:
            return 0
        return math.prod(len(options) for options in self.grid.values()) * self._steps

    @property
    def inside(self) -> str:
        """Table of the file that describes them."""
        return GRID if self.grid or not self.steps else ZIP

    @property
    def _steps(self) -> int:
        return len(next(iter(self.steps.values()), [None]))

    def __iter__(self) -> Iterator[dict[str, Any]]:
        """Changes of each combination by dotted key, the last key of the grid running fastest."""
        if not self.count:
            return
        for step in range(self._steps):
            own = {key: options[step] for key, options in self.steps.items()}
            for options in itertools.product(*self.grid.values()):
                yield {**own, **dict(zip(self.grid, options, strict=True))}


def combinations(
    grid: Mapping[str, Any], steps: Mapping[str, Any], file: str, problems: list[Problem]
) -> Combinations:
    """Read the [grid] and the [zip] of a study file.

    Parameters
    ----------
    grid, steps : mapping
        Dotted key to a list of what it becomes, as written.
    file : str
        Name of the study file, for its problems.
    problems : list of Problem
        Extended with what is no list, with lists of a [zip] that differ in length, and with keys in both.
    """
    axes, stepped = (
        dict(_axes(written, file, problems, table)) for written, table in ((grid, GRID), (steps, ZIP))
    )
    first = next(iter(stepped), "")
    for key, options in list(stepped.items()):
        path = f"{ZIP}.{printable(key)}"
        if len(options) != len(stepped[first]):
            expected = f"{len(stepped[first])}, as many as {ZIP}.{printable(first)} has"
            problems.append(Problem(file, path, f"a list of {len(options)}", expected))
            del stepped[key]
        elif key in axes:
            problems.append(
                Problem(file, path, "in the grid too", f"a key of {GRID} or of {ZIP}, not of both")
            )
            del stepped[key]
    return Combinations(axes, stepped)


def _axes(
    written: Mapping[str, Any], file: str, problems: list[Problem], table: str, inside: str = ""
) -> Iterator[tuple[str, list[Any]]]:
    """Dotted keys and options; a key without quotes has become a table of tables, which is taken back."""
    for key, options in written.items():
        path = f"{inside}.{key}".lstrip(".")
        if isinstance(options, dict) and not inside:
            yield from _axes(options, file, problems, table, path)
        elif isinstance(options, list) and options:
            yield path, options
        else:
            expected = "a list of at least one value"
            problems.append(Problem(file, f"{table}.{printable(path)}", as_written(options), expected))
