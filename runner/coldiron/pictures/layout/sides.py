"""What belongs together: rails, towers, and which side of the rectifier a part is on."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import NamedTuple

from scipy.cluster.hierarchy import DisjointSet

from coldiron.pictures.layout.towers import Tower
from coldiron.pictures.wiring import Drawn


class Chain(NamedTuple):
    """A rail: its points, and the parts in series from each to the next."""

    points: tuple[str, ...]
    parts: tuple[Drawn, ...]


def chain(parts: Sequence[Drawn], start: str, until: str = "", foreign: Collection[str] = ()) -> Chain:
    """Rail from a point along its parts in series.

    Parameters
    ----------
    parts : sequence of Drawn
    start : str
        Point that it begins with.
    until : str, optional
        Point that ends it.
    foreign : collection of str
        Points that are another rail's.
    """
    points, here = [start], start
    found: list[Drawn] = []
    while here != until:
        onward = [
            part
            for part in parts
            if part.seat == "series"
            and len(part.at) == 2
            and here in part.at
            and part.at[1 - part.at.index(here)] not in (*points, *foreign)
        ]
        if not onward:
            break
        found.append(onward[0])
        here = onward[0].at[1 - onward[0].at.index(here)]
        points.append(here)
    return Chain(tuple(points), tuple(found))


def of_the_mains(
    parts: Sequence[Drawn], mains: set[str], bus: set[str], ground: str
) -> tuple[list[Drawn], list[Drawn], list[Drawn]]:
    """Parts on the mains side of the rectifier, on the bus side, and those that lie over it."""
    marks = dict.fromkeys(mains, "mains") | dict.fromkeys(bus, "bus")
    joined = DisjointSet({point for part in parts for point in part.at} | mains | bus)
    for part in parts:
        free = [point for point in part.at if point not in marks and point != ground]
        if len(free) == 2:
            joined.merge(*free)
    reached: dict[str, set[str]] = {}
    for part in parts:
        for point in part.at:
            if point not in marks and point != ground:
                found = {marks[other] for other in part.at if other in marks}
                reached.setdefault(joined[point], set()).update(found)

    def sides(point: str) -> set[str]:
        if point in marks:
            return {marks[point]}
        return set() if point == ground else reached.get(joined[point], set())

    on: dict[str, list[Drawn]] = {"mains": [], "bus": [], "over": []}
    for part in parts:
        touched = set().union(*(sides(point) for point in part.at))
        own = {marks[point] for point in part.at if point in marks}
        if touched == {"mains"}:
            on["mains"].append(part)
        elif "mains" in own or not touched:
            # Of a group that hangs on both sides, what touches the mains stands between flags.
            on["over"].append(part)
        else:
            on["bus"].append(part)
    return on["mains"], on["bus"], on["over"]


def towers(
    parts: Sequence[Drawn], top: Sequence[str], bottom: Sequence[str], ground: str
) -> tuple[list[Tower], list[Drawn]]:
    """Towers among some parts, and what of the same groups fits into none."""
    rails = {*top, *bottom}
    built: list[Tower] = []
    loose: list[Drawn] = []
    for group in _groups(parts, rails, ground):
        seed = next((part for part in group if part.symbol == "string"), group[0])
        tops = [point for part in (seed, *group) for point in part.at if point in top]
        lows = [point for part in group for point in part.at if point in bottom]
        own = _tower(group, tops[0], lows[-1], rails, ground) if tops and lows else None
        if own:
            built.append(own)
        loose += [part for part in group if own is None or part not in own.parts]
    return built, loose


def _groups(parts: Sequence[Drawn], rails: set[str], ground: str) -> list[list[Drawn]]:
    """Parts that hang together by points off the rails."""
    groups: list[list[Drawn]] = []
    inner = dict.fromkeys(point for part in parts for point in part.at if point not in rails | {ground})
    for point in inner:
        mine = [part for part in parts if point in part.at]
        for group in [group for group in groups if any(part in group for part in mine)]:
            mine = [*group, *(part for part in mine if part not in group)]
            groups.remove(group)
        groups.append(sorted(mine, key=parts.index))
    return groups


def _tower(group: Sequence[Drawn], top: str, low: str, rails: set[str], ground: str) -> Tower | None:
    """Parts of a group that stand between two points; a second point of a rail, or earth, does not."""
    foreign = (rails | {ground}) - {top, low}
    parts = [part for part in group if not foreign & set(part.at)]
    while True:
        # What hangs on one end only, now that others are left out, goes with them.
        ends = [point for part in parts for point in part.at]
        kept = [
            part for part in parts if all(point in (top, low) or ends.count(point) > 1 for point in part.at)
        ]
        if len(kept) == len(parts):
            break
        parts = kept
    joined = DisjointSet({top, low, *(point for part in parts for point in part.at)})
    for part in parts:
        joined.merge(*part.at)
    reach = joined.subset(top)
    parts = [part for part in parts if set(part.at) <= reach]
    through = _on_a_way(parts, top, low)
    return Tower(top, low, tuple(through)) if through else None


def _on_a_way(parts: Sequence[Drawn], top: str, low: str) -> list[Drawn]:
    """Parts whose points lead up to the top without passing the low end, and the reverse."""

    def reached(start: str, but: str) -> set[str]:
        seen, more = {start}, {start}
        while more:
            more = {point for part in parts if set(part.at) & (seen - {but}) for point in part.at} - seen
            seen |= more
        return seen

    both = reached(top, low) & reached(low, top)
    if not {top, low} <= both:
        return []
    return [part for part in parts if set(part.at) <= both]
