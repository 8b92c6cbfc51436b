"""What is wrong with a circuit, one line each: it would do nothing, hang in the air, or short the mains."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import NamedTuple

from coldiron.parts.circuit import SUPPLY, Circuit
from coldiron.parts.part import EARTHED, MINUS, NAME

RESERVED = (
    "mains", "wiring", "feed", "supply", "switch", "input", "surge", "earth", "housing", "bond", "origin",
    "ground", "pole", "pole_l", "pole_n", "switch_l", "switch_n", "conductor", "room", "pierced", "skin",
    "body", "weight", "weighted", "meter", "cold", "coupled", "coupling", "decouple_l", "decouple_n",
)  # fmt: skip
"""Words of supplies and generators, which no part may have for its name."""


class Unsound(NamedTuple):
    """What is wrong, and the part (or the point) to look at."""

    where: str
    why: str


class _Joined:
    """Points, and which of them hang together; the library that has this takes half a second to load."""

    def __init__(self, points: Iterable[str]) -> None:
        self._island = {point: {point} for point in points}

    def merge(self, one: str, other: str) -> None:
        """Join two points and all that hang on them."""
        whole = self._island[one] | self._island[other]
        self._island |= dict.fromkeys(whole, whole)

    def connected(self, one: str, other: str) -> bool:
        """Whether there is a way between two points."""
        return other in self._island[one]

    def islands(self) -> list[set[str]]:
        """Sets of points that hang together, in the order of their first points."""
        return list({id(island): island for island in self._island.values()}.values())


def unsound(circuit: Circuit) -> Iterator[Unsound]:
    """Yield everything that is wrong with a circuit."""
    yield from _names(circuit)
    yield from _ends(circuit)
    yield from _islands(circuit)
    yield from _shorts(circuit)


def _names(circuit: Circuit) -> Iterator[Unsound]:
    seen: set[str] = set()
    owners: dict[str, str] = {}
    for part in circuit:
        if part.name.lower() in seen:
            yield Unsound(part.name, "two parts of one name (capitals do not count)")
        seen.add(part.name.lower())
        if not NAME.match(part.name) or part.name.lower() in RESERVED:
            yield Unsound(part.name, "a name of up to 16 letters, digits and _, no word of the supply")
        for node in part.inner_nodes():
            owner = owners.setdefault(node.lower(), part.name)
            if owner != part.name or node.lower() in {point.lower() for point in circuit.points}:
                yield Unsound(part.name, f"a name whose inner node {node} no other part or point has")


def _ends(circuit: Circuit) -> Iterator[Unsound]:
    ends: dict[str, list[str]] = {}
    for part in circuit:
        if len(part.at) == 2 and part.at[0] == part.at[1]:
            yield Unsound(
                part.name, f"two different points: both ends are on {part.at[0]}, it would do nothing"
            )
        if part.ends_on and part.works and part.at[-1] != part.ends_on:
            yield Unsound(
                part.name,
                f"its second end on {part.ends_on}, which it holds its current to; it is on {part.at[-1]}",
            )
        for point in part.at:
            ends.setdefault(point, []).append(part.name)
    for point, names in ends.items():
        if len(names) == 1 and point not in (*SUPPLY, *EARTHED):
            yield Unsound(names[0], f"something else on {point}: nothing is there but {names[0]}")


def _islands(circuit: Circuit) -> Iterator[Unsound]:
    joined = _Joined((*circuit.points, *SUPPLY, MINUS))
    joined.merge(*SUPPLY)
    for part in circuit:
        for point in part.at[1:]:
            joined.merge(part.at[0], point)
    for island in joined.islands():
        if "line" not in island and not island <= {MINUS}:
            names = [part.name for part in circuit if set(part.at) & island]
            points = ", ".join(sorted(island))
            yield Unsound(names[0], f"a way to the mains: {points} hang together but on nothing else")


def _shorts(circuit: Circuit) -> Iterator[Unsound]:
    joined = _Joined((*circuit.points, *SUPPLY))
    for part in circuit:
        if part.state == "short" or part.symbol == "wire":
            for point in part.at[1:]:
                joined.merge(part.at[0], point)
    if joined.connected(*SUPPLY):
        shorted = [part.name for part in circuit if part.state == "short"]
        yield Unsound(
            shorted[0] if shorted else "line", "anything between line and neutral: they are joined by shorts"
        )
