"""Parts joined by points between two rails: every such point is a level of its own.

Which of two points is the higher one: the potentials of a net of equal resistors between the rails. By the
maximum principle every point then has a neighbour above and one below, so every way leads down.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from coldiron.pictures.layout.plan import LEADING, POINT_EM, block_height, text_width
from coldiron.pictures.layout.rails import Section, column, left_room
from coldiron.pictures.layout.shapes import shape
from coldiron.pictures.wiring import Drawn

_BESIDE = ("capacitor", "electrolytic", "tvs", "varistor", "rc", "ntc", "gap")
"""Symbols of parts that seldom carry the direct current; the others stand in one column."""
_LEAST_LEVEL = 1.9
_ROUND_BODY = 0.7
"""Above and below a symbol, the names of the points beside it included."""


@dataclass(frozen=True)
class Tower:
    """Parts that hang together between a point of the upper and one of the lower rail."""

    top: str
    low: str
    parts: tuple[Drawn, ...]

    @property
    def inner(self) -> list[str]:
        """Points between, as the parts bring them."""
        return [
            point
            for point in dict.fromkeys(point for part in self.parts for point in part.at)
            if point not in (self.top, self.low)
        ]


def build(section: Section, tower: Tower) -> float:
    """Draw a tower at the end of a section; returns by how much it is higher than the rails are apart."""
    plan, high, low = section.plan, section.y["top"], section.y["bottom"]
    x = section.level() + 0.3
    depth = _depths(tower)
    ends = {part: sorted(part.at, key=lambda point: depth[point]) for part in tower.parts}
    heights, short = _levels(tower, depth, ends, high, low)
    reached: dict[str, list[float]] = {}
    right = x

    def put(part: Drawn, x0: float) -> float:
        upper, lower = ends[part]
        first, last = heights[depth[upper]], heights[depth[lower]]
        band = (first, heights[depth[upper] + 1]) if depth[lower] > depth[upper] + 1 else None
        a, b = (first, last) if part.at[0] == upper else (last, first)
        axis, x1 = column(plan, part, x0, a, b, band)
        for point in part.at:
            if part.ghost:
                reached.setdefault(point, [])
            else:
                reached.setdefault(point, []).append(axis)
        return x1

    main = _main_chain(tower, depth, ends)
    rest = [part for part in tower.parts if part not in main]
    spans = {part: depth[ends[part][1]] - depth[ends[part][0]] for part in rest}
    left = [part for part in rest if depth[ends[part][0]] == 0 and spans[part] >= 2]
    for part in sorted(left, key=lambda part: -spans[part]):
        x = right = put(part, x)
    axis = x + max(left_room(part, part.at[0] != ends[part][0]) for part in main)
    # How far each level is taken; a wire that spans levels must not run into the words of what lies between.
    taken = [x] * (len(heights) - 1)
    for part in main:
        x1 = put(part, axis - left_room(part, part.at[0] != ends[part][0]))
        upper, lower = (depth[point] for point in ends[part])
        taken[upper:lower] = [max(one, x1) for one in taken[upper:lower]]
    for part in sorted((part for part in rest if part not in left), key=lambda part: spans[part]):
        upper, lower = (depth[point] for point in ends[part])
        taken[upper:lower] = [put(part, max(taken[upper:lower]))] * (lower - upper)
    right = max([right, *taken])
    for point in tower.inner:
        right = max(right, _level(section, point, heights[depth[point]], reached[point]))
    for rail, point in (("top", tower.top), ("bottom", tower.low)):
        for at in reached.get(point, []):
            plan.dot(at, section.y[rail])  # type: ignore[index]
    section.advance(right)
    return short


def _level(section: Section, point: str, y: float, axes: Sequence[float]) -> float:
    """Wire of a point between the rails, with its name where no lead runs; returns where the name ends."""
    plan = section.plan
    if not axes:
        return 0.0
    plan.wire((min(axes), y), (max(axes), y))
    for axis in dict.fromkeys(axes):
        if len(set(axes)) > 1:
            plan.dot(axis, y)
    said = section.labels.get(point, point)
    width = text_width(said, POINT_EM)
    crossing = [
        wire.a[0]
        for wire in (*plan.wires, *(lead for symbol in plan.symbols for lead in symbol.leads))
        if wire.a[0] == wire.b[0]
        and min(wire.a[1], wire.b[1]) - 0.25 < y < max(wire.a[1], wire.b[1]) + 0.25
        and wire.a[0] > max(axes)
    ]
    end = max(axes)
    for x in sorted(crossing):
        # Behind the last lead that leaves no room; the level goes on as a wire up to its name.
        if end + 0.05 < x < end + width + 0.3:
            end = x + 0.06
    plan.wire((max(axes), y), (end, y))
    plan.name(point, said, (end, y), (end + 0.14, y))
    return end + width + 0.4


def _depths(tower: Tower) -> dict[str, int]:
    """Level of each point, 0 at the top."""
    inner = tower.inner
    names = [tower.top, *inner, tower.low]
    number = {name: n for n, name in enumerate(names)}
    net = np.zeros((len(names), len(names)))
    for part in tower.parts:
        i, j = (number[point] for point in part.at)
        net[i, i] += 1
        net[j, j] += 1
        net[i, j] -= 1
        net[j, i] -= 1
    free = slice(1, len(names) - 1)
    height = np.linalg.solve(net[free, free], -net[free, 0])
    order = sorted(inner, key=lambda point: (-round(float(height[number[point] - 1]), 9), number[point]))
    return {tower.top: 0, tower.low: len(order) + 1} | {point: n + 1 for n, point in enumerate(order)}


def _levels(
    tower: Tower, depth: dict[str, int], ends: dict[Drawn, list[str]], high: float, low: float
) -> tuple[list[float], float]:
    """Heights of the levels, and what they need beyond the distance of the rails."""
    need = [_LEAST_LEVEL] * (len(tower.inner) + 1)
    for part in tower.parts:
        upper = depth[ends[part][0]]
        body = 2 * shape(part.symbol).half_length
        need[upper] = max(need[upper], body + _ROUND_BODY, block_height(part) + 0.4 + LEADING / 2)
    short = max(0.0, sum(need) - (high - low))
    scale = max(1.0, (high - low) / sum(need))
    heights = [high, *(high - scale * sum(need[: n + 1]) for n in range(len(need)))]
    if short <= 1e-9:
        heights[-1] = low
    return heights, short if short > 1e-9 else 0.0


def _main_chain(tower: Tower, depth: dict[str, int], ends: dict[Drawn, list[str]]) -> list[Drawn]:
    """One way from the top to the low end, along what carries the direct current."""
    chain: list[Drawn] = []
    here = tower.top
    leads_down = {tower.low}
    for _ in tower.parts:
        leads_down |= {ends[part][0] for part in tower.parts if ends[part][1] in leads_down}
    while here != tower.low:
        down = [part for part in tower.parts if ends[part][0] == here and ends[part][1] in leads_down]
        chain.append(
            max(
                down,
                key=lambda part: (
                    part.symbol not in _BESIDE,
                    tower.low not in part.at,
                    depth[ends[part][1]] == depth[here] + 1,
                    -tower.parts.index(part),
                ),
            )
        )
        here = ends[chain[-1]][1]
    return chain
