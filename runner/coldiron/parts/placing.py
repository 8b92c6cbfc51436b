"""Where a further part sits: behind or before another one, in its leg, or across two points.

| key | meaning | what moves |
| --- | --- | --- |
| `after = "X"`, `before = "X"` | in the rail, behind or before X | X's point is split |
| `in_series_with = "X"` | in X's own leg, at its first terminal | only X |
| `across = "X"` | over the two ends of X | nothing |
| `across = ["p", "q"]` | between two points; the name of a part stands for its far end | nothing |

The new point is named after the point that was split and the part: `line_f_NTC1`. Which half keeps the name
is told by the circuit's anchors.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from coldiron.parts.circuit import SUPPLY, Circuit
from coldiron.parts.part import EARTHED, MINUS, Part, Seat

WAYS = ("after", "before", "in_series_with", "across")
EVERYWHERE = (*SUPPLY, *EARTHED, MINUS)
"""Points that every lamp has."""

Where = str | Sequence[str]


class Misplaced(ValueError):
    """A part that cannot sit where it was put.

    `key` is the placing key that says so, `known` what it could have named, `part` the misplaced one.
    """

    def __init__(self, key: str, expected: str, value: str = "", known: Sequence[str] = ()) -> None:
        super().__init__(expected)
        self.key, self.expected, self.value, self.known = key, expected, value, known
        self.part = ""


def placed(circuit: Circuit, part: Part, way: str, where: Where) -> Circuit:
    """Circuit with one more part.

    Parameters
    ----------
    circuit : Circuit
    part : Part
        Its points do not matter yet.
    way : str
        One of `WAYS`.
    where : str or two str
        What the key says.

    Raises
    ------
    Misplaced
        If a part or a point does not exist, or nothing would be behind the part.
    """
    if way == "across":
        return _across(circuit, part, where)
    if not isinstance(where, str):
        raise Misplaced(way, "the name of one part", repr(where))
    beside = _known_part(circuit, way, where)
    if way == "in_series_with":
        return _in_leg(circuit, part, beside)
    return _in_rail(circuit, part, beside, behind=way == "after")


def _known_part(circuit: Circuit, way: str, name: str) -> Part:
    if name not in circuit:
        names = [part.name for part in circuit if not part.hidden]
        raise Misplaced(way, "a part of this lamp", name, names)
    return circuit[name]


def _fresh(circuit: Circuit, wanted: str) -> str:
    """Point of a name that no other has."""
    taken = {node.lower() for node in circuit.nodes()}
    number, name = 2, wanted
    while name.lower() in taken:
        name, number = f"{wanted}_{number}", number + 1
    return name


def _in_rail(circuit: Circuit, part: Part, beside: Part, *, behind: bool) -> Circuit:
    """In series on a rail: split the point there."""
    parts = list(circuit.parts)
    place = parts.index(beside)
    here = beside.at[1] if behind and beside.seat == "series" else beside.at[0]
    if behind and len(beside.at) > 2:
        here = beside.at[2]  # behind a rectifier is its plus
    cut = place + 1 if behind else place
    way = "after" if behind else "before"
    earlier = [one for one in parts[:cut] if here in one.at]
    later = [one for one in parts[cut:] if here in one.at]
    if not later:
        raise Misplaced(way, f"a part with something behind it ({here} ends at {beside.name})", beside.name)
    if not earlier and here not in SUPPLY:
        raise Misplaced(way, f"a part with something before it ({here} begins at {beside.name})", beside.name)
    anchor = circuit.anchors.get(here)
    keeps_name_later = here not in SUPPLY and anchor is not None and any(one.name == anchor for one in later)
    fresh = _fresh(circuit, f"{here}_{part.name}")
    moved = earlier if keeps_name_later else later
    for one in moved:
        parts[parts.index(one)] = replace(
            one, at=tuple(fresh if point == here else point for point in one.at)
        )
    ends = (fresh, here) if keeps_name_later else (here, fresh)
    parts.insert(cut, replace(part, at=ends, seat="series"))
    return replace(circuit, parts=tuple(parts))


def _in_leg(circuit: Circuit, part: Part, beside: Part) -> Circuit:
    """In series with one part only."""
    if len(beside.at) != 2:
        raise Misplaced("in_series_with", "a part with two ends", beside.name)
    fresh = _fresh(circuit, f"{beside.name}_{part.name}")
    parts = list(circuit.parts)
    place = parts.index(beside)
    parts[place] = replace(beside, at=(fresh, *beside.at[1:]))
    seat: Seat = "leg" if beside.seat == "shunt" else beside.seat
    parts.insert(place, replace(part, at=(beside.at[0], fresh), seat=seat))
    return replace(circuit, parts=tuple(parts))


def _across(circuit: Circuit, part: Part, where: Where) -> Circuit:
    """Between two points."""
    parts = list(circuit.parts)
    if isinstance(where, str):
        beside = _known_part(circuit, "across", where)
        ends: tuple[str, ...] = (beside.at[0], beside.at[1])
        place = parts.index(beside) + 1
    else:
        if len(where) != 2:
            raise Misplaced("across", "the name of a part, or two points", repr(list(where)))
        ends = tuple(_point(circuit, point) for point in where)
        first = dict.fromkeys(EVERYWHERE, 0)
        for number, one in enumerate(parts, start=1):
            for point in one.at:
                first.setdefault(point, number)
        place = max(first[point] for point in ends)
    if ends[0] == ends[1]:
        raise Misplaced(
            "across", f"two different points (both are {ends[0]}: it would do nothing)", str(where)
        )
    parts.insert(place, replace(part, at=ends, seat="shunt"))
    return replace(circuit, parts=tuple(parts))


def _point(circuit: Circuit, name: str) -> str:
    """Point of a name; that of a part is its far end."""
    known = {point.lower(): point for point in (*EVERYWHERE, *circuit.points)}
    if str(name).lower() in known:
        return known[str(name).lower()]
    if name in circuit:
        return circuit[name].at[1]
    parts = [part.name for part in circuit if not part.hidden]
    raise Misplaced("across", "a point or a part of this lamp", str(name), [*known.values(), *parts])


def in_order(wanted: Mapping[str, Sequence[str]]) -> list[str]:
    """Names in an order in which each refers to earlier ones only; [] where they refer in a circle.

    Parameters
    ----------
    wanted : mapping
        Name to the names it refers to; those that are no key are there already.

    Examples
    --------
    >>> in_order({"R9": ["D9"], "D9": ["C7"], "C7": ["bus"]})
    ['C7', 'D9', 'R9']
    >>> in_order({"A": ["B"], "B": ["A"]})
    []
    """
    left = {name: {other.lower() for other in others} for name, others in wanted.items()}
    names: list[str] = []
    while left:
        waiting = {name.lower() for name in left}
        ready = [name for name, others in left.items() if not others & (waiting - {name.lower()})]
        if not ready:
            return []
        names.append(ready[0])
        del left[ready[0]]
    return names
