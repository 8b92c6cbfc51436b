"""The whole drawing: mains, section, rectifier, section, earth, and what stands between flags."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from coldiron.parts.part import EARTHED
from coldiron.pictures.layout.fold import folded
from coldiron.pictures.layout.plan import (
    LEADING,
    POINT_EM,
    Plan,
    Symbol,
    Wire,
    Word,
    block_height,
    block_width,
    text_width,
)
from coldiron.pictures.layout.rails import Heights, Section
from coldiron.pictures.layout.shapes import shape
from coldiron.pictures.layout.sides import Chain, chain, of_the_mains
from coldiron.pictures.layout.sweep import Sweep
from coldiron.pictures.wiring import Drawn

_MOST_ROUNDS = 6
_STUB = 0.3
"""What is left of a rail behind its name where nothing follows."""
_START = 0.9
_BRIDGE_LEGS = 2.4


def laid_out(
    parts: Sequence[Drawn],
    aliases: Mapping[str, str] | None = None,
    *,
    in_one_row: bool = False,
    beside: Mapping[str, str] | None = None,
) -> Plan:
    """Give every part of a lamp its place.

    Parameters
    ----------
    parts : sequence of Drawn
        In the order of the ladder; the first is the mains.
    aliases : mapping, optional
        Other names of points: name to the point that it is one with.
    in_one_row : bool
        Whether a wide lamp does not go on in a second row.
    beside : mapping, optional
        Point to what stands behind its name.

    Returns
    -------
    Plan
    """
    heights = Heights()
    labels: dict[str, str] = {}
    for other, point in (aliases or {}).items():
        labels[point] = f"{labels.get(point, point)} = {other}"
    for point, text in (beside or {}).items():
        labels[point] = f"{labels.get(point, point)} {text}"
    for _ in range(_MOST_ROUNDS):
        layout = _Layout(parts, labels, heights)
        layout.run()
        better = layout.wanted()
        if better == heights:
            break
        heights = better
    _trim(layout.plan)
    return layout.plan if in_one_row else folded(layout.plan)


class _Layout:
    """One attempt with given heights."""

    def __init__(self, parts: Sequence[Drawn], labels: Mapping[str, str], heights: Heights) -> None:
        self.mains, self.parts = parts[0], list(parts[1:])
        self.labels, self.heights = labels, heights
        self.plan = Plan()
        touched = {point for part in self.parts for point in part.at}
        self.ground = next((point for point in EARTHED if point in touched), EARTHED[0])
        self.bridge = next((part for part in self.parts if len(part.at) == 4), None)
        self.short = {"mains": 0.0, "bus": 0.0, "earth": 0.0}
        self.lowest = 0.0
        self.loose = [part for part in self.parts if len(part.at) != 2 and part is not self.bridge]
        # Of two kinds of earth the second has no rail of its own.
        other = set(EARTHED) - {self.ground}
        self.loose += [part for part in self.parts if len(part.at) == 2 and other & set(part.at)]
        self.parts = [part for part in self.parts if part is not self.bridge and part not in self.loose]

    def run(self) -> None:
        """Draw everything."""
        h = self.heights
        high, low = (h.bus, h.minus) if self.bridge is None else (h.line, h.neutral)
        earthed: list[float] = []
        line_end, neutral_end = self.bridge.at[:2] if self.bridge else ("", "")
        tops = chain(self.parts, "line", line_end, ["neutral"])
        others = [part for part in self.parts if part not in tops.parts]
        bottoms = chain(others, "neutral", neutral_end, tops.points)
        if self.bridge is None:
            earthed += self._section("bus", _START, high, low, self.parts, tops, bottoms)
        else:
            others = [part for part in others if part not in bottoms.parts]
            plus = chain(others, self.bridge.at[2], "", [*tops.points, *bottoms.points, self.bridge.at[3]])
            minus = Chain((self.bridge.at[3],), ())
            others = [part for part in others if part not in plus.parts]
            on_mains, on_bus, over = of_the_mains(
                others, {*tops.points, *bottoms.points}, {*plus.points, *minus.points}, self.ground
            )
            self.loose += over
            earthed += self._section("mains", _START, high, low, on_mains, tops, bottoms)
            x = self._bridge(self.bridge, self.end, (tops.points[-1], bottoms.points[-1]))
            earthed += self._section("bus", x, h.bus, h.minus, on_bus, plus, minus)
        self._supply(high, low)
        if earthed:
            self._earth(min(earthed), max(earthed))
        self._flags()

    def _section(
        self, name: str, x: float, high: float, low: float, parts: Sequence[Drawn], top: Chain, bottom: Chain
    ) -> list[float]:
        self.plan.rails |= {high, low}
        section = Section(
            self.plan, name, {"top": x, "bottom": x}, {"top": high, "bottom": low}, self.heights, self.labels
        )
        own = {*parts, *top.parts, *bottom.parts}
        sweep = Sweep(section, [part for part in self.parts if part in own], top, bottom, self.ground)
        self.loose += sweep.run()
        self.short[name] = sweep.short
        self.end = section.level()
        return section.earthed

    def _supply(self, high: float, low: float) -> None:
        plan = self.plan
        plan.symbol("mains", (0.0, low), (0.0, high), self.mains)
        plan.wire((0.0, high), (_START, high))
        plan.wire((0.0, low), (_START, low))
        plan.write(-0.7, (high + low) / 2, self.mains, "end")

    def _bridge(self, part: Drawn, x: float, rails: tuple[str, str]) -> float:
        """Two legs of two diodes; line enters between the diodes of the first, neutral of the second.

        A leg that hangs on another point than the rail has come to bears the name of its point.
        """
        plan, h = self.plan, self.heights
        first, second = x + 0.5, x + 0.5 + max(_BRIDGE_LEGS, block_width(part) + 0.7)
        for at, y, point, rail in zip((first, second), (h.line, h.neutral), part.at, rails, strict=False):
            if point == rail:
                plan.wire((x, y), (at, y))
                plan.dot(at, y, part)
            else:
                said = self.labels.get(point, point)
                plan.name(point, said, (at, y), (at + 0.14, y + 0.6))
            plan.symbol("diode", (at, h.line), (at, h.bus), part)
            plan.symbol("diode", (at, h.minus), (at, h.neutral - 0.3), part)
            plan.wire((at, h.neutral - 0.3), (at, h.line), owner=part)
        plan.write((first + second) / 2, (h.line + h.neutral) / 2, part, "middle")
        for y in (h.bus, h.minus):
            plan.wire((first, y), (second + 0.2, y), owner=None)
            plan.dot(second, y)
        return second + 0.2

    def _earth(self, first: float, last: float) -> None:
        plan, y = self.plan, self.heights.earth
        plan.rails.add(y)
        plan.wire((first, y), (last + 0.6, y))
        plan.name(self.ground, self.ground, (first, y), (first - 0.1, y - 0.27), "end")
        for half, drop in ((0.28, 0.3), (0.18, 0.39), (0.08, 0.48)):
            x = last + 0.6
            plan.wire((x - half, y - drop), (x, y - drop), (x + half, y - drop))
        plan.wire((last + 0.6, y), (last + 0.6, y - 0.3))

    def _flags(self) -> None:
        """What no rule covers, in columns at the right, between the names of its points."""
        if not self.loose:
            return
        plan, h = self.plan, self.heights
        start = plan.box.x1 + 0.6
        plan.cuts.append(start - 0.3)
        y, widest = h.bus, start
        for part in dict.fromkeys(self.loose):
            said = [self.labels.get(point, point) for point in part.at]
            height = block_height(part)
            if y - height - 1.0 < h.minus and y < h.bus:
                y, start = h.bus, widest + 0.5
                plan.cuts.append(start - 0.25)
            a = start + text_width(said[0], POINT_EM) + 0.3
            b = a + max(2.2, block_width(part) + 0.3)
            room = shape(part.symbol).extent((a, 0.0), (b, 0.0))
            axis = y - height - 0.2 - room.above
            plan.symbol(part.symbol, (a, axis), (b, axis), part)
            plan.write((a + b) / 2, y - height / 2, part, "middle")
            plan.name(part.at[0], said[0], (a, axis), (a - 0.14, axis), "end", part)
            plan.name(part.at[1], said[1], (b, axis), (b + 0.14, axis), "start", part)
            widest = max(widest, b + text_width(said[1], POINT_EM) + 0.4)
            y = axis - room.below - 0.55

    def wanted(self) -> Heights:
        """Heights in which everything has room."""
        h, short = self.heights, self.short
        line = h.line + short["mains"] + (0.02 if short["mains"] else 0.0)
        bus = h.bus + short["bus"] + (0.02 if short["bus"] else 0.0)
        if self.bridge is not None:
            bus = max(bus, line + 2.2)
        to_earth = [part for part in self.parts if self.ground in part.at]
        if not to_earth:
            return replace(h, line=line, bus=bus)
        deep = max(block_height(part) for part in to_earth) + LEADING
        placed: list[Symbol | Word] = [*self.plan.symbols, *self.plan.words]
        hanging = [
            one.box.y0
            for one in placed
            if one.owner is not None and self.ground not in one.owner.at and one.owner not in self.loose
        ]
        earth = min(h.earth, h.minus - 0.4 - deep, min(hanging, default=0.0) - 0.3)
        return replace(h, line=line, bus=bus, earth=earth)


def _trim(plan: Plan) -> None:
    """Take away what is left of rails behind the last thing on them."""
    for y in plan.rails:
        used = [x for x, at in plan.dots if at == y]
        used += [end[0] for symbol in plan.symbols for end in (symbol.a, symbol.b) if end[1] == y]
        used += [end[0] for wire in plan.wires if not wire.level for end in (wire.a, wire.b) if end[1] == y]
        used += [one.x + _STUB for one in plan.named if one.y == y]
        right = max(used, default=0.0)
        kept = []
        for wire in plan.wires:
            if wire.level and wire.a[1] == y:
                a, b = min(wire.a[0], wire.b[0]), max(wire.a[0], wire.b[0])
                if a >= right:
                    continue
                wire = Wire((a, y), (min(b, right), y), wire.owner)
            kept.append(wire)
        plan.wires = kept
