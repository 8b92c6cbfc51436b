"""Two rails and what sits in them and between them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

from coldiron.pictures.layout.plan import POINT_EM, Plan, block_height, block_width, text_width
from coldiron.pictures.layout.shapes import LETTER, shape
from coldiron.pictures.wiring import Drawn

Rail = Literal["top", "bottom"]
RAILS: tuple[Rail, Rail] = ("top", "bottom")

_LEAST_SERIES = 2.2
_MARGIN = 0.35
_TO_WORDS = 0.16
"""From a symbol to its words."""
_APART = 0.34
"""From the end of a column to the next, room for two frames."""
_IN_ARCH = 0.12


@dataclass
class Heights:
    """Heights of the rails; what needs more room raises them, and all is laid out again."""

    bus: float = 7.6
    line: float = 5.4
    neutral: float = 2.2
    minus: float = 0.0
    earth: float = -2.2


def column_width(part: Drawn, flipped: bool = False) -> float:
    """Room of an upright part with its words at its right."""
    room = shape(part.symbol).extent((0.0, 0.0), (0.0, 4.0 if flipped else -4.0))
    return room.left + room.right + _TO_WORDS + block_width(part) + _APART


def left_room(part: Drawn, flipped: bool = False) -> float:
    """Room of an upright part left of its axis."""
    return shape(part.symbol).extent((0.0, 0.0), (0.0, 4.0 if flipped else -4.0)).left + 0.1


def column(
    plan: Plan, part: Drawn, x0: float, from_y: float, to_y: float, band: tuple[float, float] | None = None
) -> tuple[float, float]:
    """Draw a part from one height to another.

    Parameters
    ----------
    plan : Plan
    part : Drawn
    x0 : float
        Where its room begins.
    from_y, to_y : float
        Heights of its first and its second end.
    band : tuple of float, optional
        Where it stands in between, upper height first; the rest of the way is wire.

    Returns
    -------
    axis, x1 : float
        Where its ends are, and where its room ends.
    """
    flipped = to_y > from_y
    axis = x0 + left_room(part, flipped)
    if band is not None:
        high, low = band[0], band[1] + 0.12
        first, second = (low, high) if flipped else (high, low)
        plan.wire((axis, from_y), (axis, first), owner=part)
        plan.wire((axis, second), (axis, to_y), owner=part)
        from_y, to_y = first, second
    plan.symbol(part.symbol, (axis, from_y), (axis, to_y), part)
    right = shape(part.symbol).extent((axis, from_y), (axis, to_y)).right
    plan.write(axis + right + _TO_WORDS, (from_y + to_y) / 2, part)
    return axis, x0 + 0.1 + column_width(part, flipped)


@dataclass
class Section:
    """Two rails; each grows to the right as far as it is drawn."""

    plan: Plan
    name: str
    x: dict[Rail, float]
    y: dict[Rail, float]
    heights: Heights
    labels: Mapping[str, str]
    earthed: list[float] = field(default_factory=list)

    def level(self) -> float:
        """Both rails as far as the longer one."""
        x = max(self.x.values())
        for rail in RAILS:
            self._reach(rail, x)
        return x

    def _reach(self, rail: Rail, x: float) -> None:
        self.plan.wire((self.x[rail], self.y[rail]), (x, self.y[rail]))
        self.x[rail] = max(x, self.x[rail])

    def advance(self, x: float) -> None:
        """Both rails up to a place."""
        for rail in RAILS:
            self._reach(rail, x)

    def label(self, rail: Rail, point: str) -> None:
        """Name of a point, in a cell of its own on the rail, behind which the drawing may be cut."""
        x, y = self.x[rail], self.y[rail]
        said = self.labels.get(point, point)
        away = 0.27 if rail == "top" else -0.27
        self.plan.name(point, said, (x, y), (x + 0.14, y + away))
        self._reach(rail, x + text_width(said, POINT_EM) + 0.3)
        self.plan.cuts.append(self.x[rail] - 0.04)

    def series(self, rail: Rail, part: Drawn, arches: Sequence[Drawn], here: str) -> None:
        """A part in a rail, with those that lie over it."""
        plan, x, y = self.plan, self.x[rail], self.y[rail]
        up = 1 if rail == "top" else -1
        width = max(
            _LEAST_SERIES,
            block_width(part) + _MARGIN,
            *(max(2.6, block_width(arch) + 2 * _MARGIN) for arch in arches),
        )
        left, right = (x + _IN_ARCH, x + width - _IN_ARCH) if arches else (x, x + width)
        plan.wire((x, y), (left, y))
        plan.wire((right, y), (x + width, y))
        away = self._cell(part, left, right, y, here, up)
        for arch in arches:
            ends = (left, y), (right, y)
            room = shape(arch.symbol).extent(*(ends if arch.at[0] == here else ends[::-1]))
            at = y + up * (away + 0.2 + (room.below if up > 0 else room.above))
            for end in (left, right):
                plan.wire((end, y), (end, at), owner=arch)
                plan.dot(end, y, arch)
            away = abs(at - y) + self._cell(arch, left, right, at, here, up)
            if any(not above.ghost for above in arches[arches.index(arch) + 1 :]):
                plan.dot(left, at, arch)
                plan.dot(right, at, arch)
        if part.mark == "wired across":
            # The wire in its place runs on the side that is free of words.
            low = y - up * (shape(part.symbol).extent((x, y), (x + width, y)).below + 0.25)
            inset = 0.06
            plan.wire((x + inset, y), (x + inset, low), (x + width - inset, low), (x + width - inset, y))
            plan.wire((x, y), (x + inset, y))
            plan.wire((x + width - inset, y), (x + width, y))
        self.x[rail] = x + width

    def _cell(self, part: Drawn, x0: float, x1: float, y: float, here: str, up: int) -> float:
        """A lying part with its words above (or below); returns how far it reaches there."""
        ends = (x0, y), (x1, y)
        a, b = ends if part.at[0] == here else ends[::-1]
        self.plan.symbol(part.symbol, a, b, part, up)
        room = shape(part.symbol).extent(a, b)
        letter = LETTER if shape(part.symbol).letter else 0.0
        away = (room.above if up > 0 else room.below) - letter + _TO_WORDS
        height = block_height(part)
        self.plan.write((x0 + x1) / 2, y + up * (away + height / 2), part, "middle")
        return away + height

    def shunt(self, part: Drawn, top: str) -> None:
        """A part from rail to rail."""
        x0 = self.level()
        high, low = self.y["top"], self.y["bottom"]
        axis, x1 = column(self.plan, part, x0, *((high, low) if part.at[0] == top else (low, high)))
        for rail in RAILS:
            self.plan.dot(axis, self.y[rail], part)
        self.advance(x1)

    def to_earth(self, part: Drawn, rail: Rail, ground: str) -> None:
        """A column below the lower rail; its lead crosses the rails without a dot."""
        x0 = self.level()
        low, earth = min(self.y["bottom"], self.heights.minus) - 0.4, self.heights.earth
        axis, x1 = column(self.plan, part, x0, *((low, earth) if part.at[1] == ground else (earth, low)))
        self.plan.wire((axis, self.y[rail]), (axis, low), owner=part)
        self.plan.dot(axis, self.y[rail], part)
        self.advance(x1)
        self.plan.dot(axis, earth, part)
        self.earthed.append(axis)
