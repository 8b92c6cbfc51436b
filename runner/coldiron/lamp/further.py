"""A part beyond the short keys of a topology: its kind, its values, and where it sits."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from pydantic import BaseModel, ConfigDict

from coldiron.errors import Problem
from coldiron.lamp.model import Part as PartValues
from coldiron.lamp.understand import understand
from coldiron.parts.part import KINDS, NAME, Part
from coldiron.parts.placing import WAYS, in_order
from coldiron.wording import as_key, as_written, one_nearest, one_of


class FurtherPart(BaseModel):
    """One `[part.NAME]` of a lamp file, or one that a change fits."""

    model_config = ConfigDict(frozen=True, arbitrary_types_allowed=True)

    name: str
    kind: str
    way: str
    where: str | tuple[str, str]
    values: Any

    def part(self) -> Part:
        """The part, not yet at its place."""
        return KINDS[self.kind](self.name, (), self.values)

    @property
    def refers_to(self) -> tuple[str, ...]:
        """Names of parts or points that it sits by."""
        return (self.where,) if isinstance(self.where, str) else self.where


def further_parts(
    tables: object, file: str, problems: list[Problem], inside: str = "part"
) -> tuple[FurtherPart, ...]:
    """Parts described by the `[part.*]` tables of a file, in an order in which each finds what it sits by.

    Parameters
    ----------
    tables : mapping
        Name to table.
    file : str
        Name of the file, for the problems.
    problems : list of Problem
        Extended with everything that is wrong.
    inside : str
        Dotted path of the tables within the file.
    """
    if not isinstance(tables, Mapping):
        problems.append(
            Problem(file, inside, as_written(tables), "tables [part.NAME], one for each further part")
        )
        return ()
    found: dict[str, FurtherPart] = {}
    for name, table in tables.items():
        part = further_part(str(name), table, file, problems, f"{inside}.{as_key(str(name))}")
        if part is not None:
            found[part.name] = part
    order = in_order({name: part.refers_to for name, part in found.items()})
    if found and not order:
        circle = ", ".join(found)
        problems.append(Problem(file, inside, circle, "parts that do not sit by each other in a circle"))
    return tuple(found[name] for name in order)


def further_part(
    name: str, table: object, file: str, problems: list[Problem], inside: str
) -> FurtherPart | None:
    """One further part; None, with `problems` extended, where something is wrong."""
    before = len(problems)
    if not NAME.match(name):
        problems.append(Problem(file, inside, as_written(name), "a name of up to 16 letters, digits and _"))
        return None
    if not isinstance(table, Mapping):
        problems.append(
            Problem(file, inside, as_written(table), "a table with a kind, a place and its values")
        )
        return None
    words = [word for word, kind in KINDS.items() if kind.placeable]
    kind = table.get("kind")
    if kind not in words:
        written = "missing" if kind is None else as_written(kind)
        problems.append(Problem(file, f"{inside}.kind", written, one_of(words), one_nearest(kind, words)))
    ways = [way for way in WAYS if way in table]
    if len(ways) != 1:
        written = "missing" if not ways else " and ".join(ways)
        problems.append(Problem(file, inside, written, f"one place: {one_of(WAYS)}"))
    where = table.get(ways[0]) if ways else ""
    if ways and not _is_place(where, ways[0]):
        expected = "the name of a part" + (", or two points [p, q]" if ways[0] == "across" else "")
        problems.append(Problem(file, f"{inside}.{ways[0]}", as_written(where), expected))
    if kind not in words:
        return None
    values = understand(
        KINDS[str(kind)].model,
        {key: value for key, value in table.items() if key not in ("kind", *WAYS)},
        file,
        problems,
        inside,
    )
    if values is None or len(problems) > before:
        return None
    assert isinstance(values, PartValues)
    place = where if isinstance(where, str) else tuple(where)  # type: ignore[arg-type]
    return FurtherPart(name=name, kind=str(kind), way=ways[0], where=place, values=values)


def _is_place(where: object, way: str) -> bool:
    if isinstance(where, str):
        return bool(where)
    return (
        way == "across"
        and isinstance(where, list)
        and len(where) == 2
        and all(isinstance(p, str) for p in where)
    )
