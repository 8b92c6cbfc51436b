"""From the [[variant]] entries and the [grid] of a study file to its variants, "as found" first."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Any, Final, NamedTuple

from coldiron.errors import Problem
from coldiron.lamp.lamp import Lamp
from coldiron.lamp.model import Closed, Name, Note
from coldiron.study.apply import Workshop
from coldiron.study.model import AS_FOUND, Variant
from coldiron.wording import as_written, printable

MOST_VARIANTS: Final = 20_000
"""A study of more is refused by its count, before any variant is built."""

_GRID = "grid"


class VariantEntry(Closed):
    """One [[variant]] of a study file; without a name it is named by its changes."""

    name: Name | None = None
    note: Note = ""
    change: dict[str, Any]


class _Wanted(NamedTuple):
    """A variant before it is built; `inside` is where the file describes it."""

    name: str | None
    note: str
    change: Mapping[str, Any]
    inside: str


def build_variants(
    lamp: Lamp, entries: Sequence[VariantEntry], grid: Mapping[str, Any], file: str, problems: list[Problem]
) -> tuple[Variant, ...]:
    """Build every variant of a study.

    Parameters
    ----------
    lamp : Lamp
        As found.
    entries : sequence of VariantEntry
        Variants one by one.
    grid : mapping
        Dotted key to a list of what it becomes; each combination is a variant.
    file : str
        Name of the study file, for its problems.
    problems : list of Problem
        Extended with what is wrong, each thing once.

    Returns
    -------
    tuple of Variant
        "As found", then the entries, then the grid with its last key running fastest.
    """
    file = printable(file)
    axes = dict(_axes(grid, file, problems))
    count = 1 + len(entries) + (math.prod(len(options) for options in axes.values()) if axes else 0)
    if count > MOST_VARIANTS:
        where = _GRID if axes else "variant"
        problems.append(Problem(file, where, f"{_count(count)} variants", f"at most {_count(MOST_VARIANTS)}"))
        return ()
    workshop = Workshop(lamp, file)
    wrong: dict[Problem, None] = {}
    built = [Variant(name=AS_FOUND, changes=(), lamp=lamp)]
    taken = {AS_FOUND: ""}
    for wanted in (*_listed(entries), *_combined(axes)):
        own: list[Problem] = []
        changed, changes = workshop.apply(wanted.change, wanted.inside, own)
        wrong.update(dict.fromkeys(own))
        if own:
            continue
        if not wanted.change:
            wrong[Problem(file, f"{wanted.inside}.change", "empty", "at least one change")] = None
        if not changes and wanted.inside == _GRID:
            continue  # it is the lamp as found, which is there already
        name = wanted.name or ", ".join(change.label for change in changes)
        if name in taken or not name:
            where = _GRID if wanted.inside == _GRID else f"{wanted.inside}.name"
            wrong[Problem(file, where, as_written(name), "a name that no other variant has")] = None
        taken[name] = wanted.inside
        built.append(Variant(name=name, changes=changes, lamp=changed, note=wanted.note))
    problems.extend(wrong)
    return tuple(built)


def _listed(entries: Sequence[VariantEntry]) -> Iterator[_Wanted]:
    for number, entry in enumerate(entries, 1):
        yield _Wanted(entry.name, entry.note, entry.change, f"variant[{number}]")


def _combined(axes: Mapping[str, Sequence[Any]]) -> Iterator[_Wanted]:
    if axes:
        for options in itertools.product(*axes.values()):
            yield _Wanted(None, "", dict(zip(axes, options, strict=True)), _GRID)


def _axes(
    grid: Mapping[str, Any], file: str, problems: list[Problem], inside: str = ""
) -> Iterator[tuple[str, list[Any]]]:
    """Dotted keys and options; a key without quotes has become a table of tables, which is taken back."""
    for key, options in grid.items():
        path = f"{inside}.{key}".lstrip(".")
        if isinstance(options, dict) and not inside:
            yield from _axes(options, file, problems, path)
        elif isinstance(options, list) and options:
            yield path, options
        else:
            expected = "a list of at least one value"
            problems.append(Problem(file, f"grid.{printable(path)}", as_written(options), expected))


def _count(number: int) -> str:
    return f"{number:,}".replace(",", " ") if number < 10**15 else f"about 10^{len(str(number)) - 1}"
