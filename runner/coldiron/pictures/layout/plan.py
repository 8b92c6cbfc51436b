"""What is drawn and where, before it becomes ink: wires, dots, symbols, words, names of points."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from functools import lru_cache
from itertools import pairwise
from typing import Literal

from matplotlib.font_manager import FontProperties
from matplotlib.textpath import TextPath

from coldiron.pictures.layout.shapes import XY, Box, shape
from coldiron.pictures.wiring import Drawn

Anchor = Literal["start", "middle", "end"]
Style = Literal["value", "mark", "point"]

EM = 0.4
"""Height of the letters of a value."""
POINT_EM = 0.34
"""The same of the name of a point."""
LEADING = 0.45
"""From line to line."""
_SPARE_RATIO = 1.05
"""Measured is DejaVu Sans, which is wider than the fonts a page asks for first."""


def around(boxes: Iterable[Box]) -> Box:
    """Smallest rectangle around some."""
    each = list(boxes)
    return Box(
        min(b.x0 for b in each), min(b.y0 for b in each), max(b.x1 for b in each), max(b.y1 for b in each)
    )


@lru_cache(maxsize=4096)
def text_width(text: str, em: float = EM, weight: str = "normal") -> float:
    """Width of a line of text."""
    if not text.strip():
        return 0.0
    path = TextPath((0, 0), text, size=10.0, prop=FontProperties(family="DejaVu Sans", weight=weight))
    return float(path.get_extents().width) / 10.0 * em * _SPARE_RATIO


def block_width(part: Drawn) -> float:
    """Width of what is written about a part."""
    return max(text_width(line, EM, "bold" if line == part.mark else "normal") for line in part.lines)


def block_height(part: Drawn) -> float:
    """Height of what is written about a part."""
    return LEADING * len(part.lines)


@dataclass(frozen=True)
class Wire:
    """A straight piece of wire; one with an owner belongs to that part alone."""

    a: XY
    b: XY
    owner: Drawn | None = None

    @property
    def level(self) -> bool:
        """Whether it runs from left to right."""
        return self.a[1] == self.b[1]

    @property
    def box(self) -> Box:
        """Rectangle around it, as thin as its ink."""
        (x0, y0), (x1, y1) = self.a, self.b
        return Box(min(x0, x1), min(y0, y1), max(x0, x1), max(y0, y1)).grown(0.02)


@dataclass(frozen=True)
class Word:
    """A line of text, vertically centred on y."""

    x: float
    y: float
    text: str
    anchor: Anchor
    style: Style
    owner: Drawn | None = None

    @property
    def box(self) -> Box:
        """Rectangle around it."""
        em = POINT_EM if self.style == "point" else EM
        width = text_width(self.text, em, "bold" if self.style == "mark" else "normal")
        left = self.x - {"start": 0.0, "middle": 0.5, "end": 1.0}[self.anchor] * width
        return Box(left, self.y - em / 2, left + width, self.y + em / 2)


@dataclass(frozen=True)
class Symbol:
    """A symbol between two points, its body in the middle and leads to both ends."""

    shape: str
    a: XY
    b: XY
    owner: Drawn | None = None

    @property
    def box(self) -> Box:
        """Rectangle around its body."""
        return shape(self.shape).body(self.a, self.b)

    @property
    def leads(self) -> tuple[Wire, Wire]:
        """Its ends up to the body."""
        length, half = math.dist(self.a, self.b), shape(self.shape).half_length

        def towards(start: XY, end: XY) -> XY:
            share = max(0.0, (length / 2 - half) / length)
            return start[0] + share * (end[0] - start[0]), start[1] + share * (end[1] - start[1])

        return Wire(self.a, towards(self.a, self.b)), Wire(self.b, towards(self.b, self.a))


@dataclass(frozen=True)
class Named:
    """A place of a drawing that is said to be a point of the circuit, in these words."""

    point: str
    x: float
    y: float
    said: str


@dataclass
class Plan:
    """Everything of a drawing.

    `named` says which places bear the name of a point; two that bear the same name are joined by it. `cuts`
    are places where the drawing may go on in another row, `rails` the heights of what may be cut there.
    """

    wires: list[Wire] = field(default_factory=list)
    dots: list[XY] = field(default_factory=list)
    symbols: list[Symbol] = field(default_factory=list)
    words: list[Word] = field(default_factory=list)
    named: list[Named] = field(default_factory=list)
    cuts: list[float] = field(default_factory=list)
    rails: set[float] = field(default_factory=set)

    def wire(self, *points: XY, owner: Drawn | None = None) -> None:
        """Draw a wire through points."""
        self.wires += [Wire(a, b, owner) for a, b in pairwise(points) if a != b]

    def dot(self, x: float, y: float, owner: Drawn | None = None) -> None:
        """Join what meets at a place; a part that is not there joins nothing."""
        if owner is None or not owner.ghost:
            self.dots.append((x, y))

    def symbol(self, name: str, a: XY, b: XY, owner: Drawn | None = None, up: int = 1) -> None:
        """Draw a symbol, and the letter that belongs to it away from its words; `up` is where those are."""
        self.symbols.append(Symbol(name, a, b, owner))
        letter = shape(name).letter
        if letter:
            x, y = shape(name).letter_at(a, b, up)
            self.words.append(Word(x, y, letter, "middle", "value", owner))

    def write(self, x: float, y: float, part: Drawn, anchor: Anchor = "start") -> None:
        """Write what there is to say about a part, its lines centred on y."""
        top = y + LEADING * (len(part.lines) - 1) / 2
        for row, line in enumerate(part.lines):
            style: Style = "mark" if line == part.mark else "value"
            self.words.append(Word(x, top - LEADING * row, line, anchor, style, part))

    def name(
        self,
        point: str,
        said: str,
        at: XY,
        word_at: XY,
        anchor: Anchor = "start",
        owner: Drawn | None = None,
    ) -> None:
        """Name a place; what is written at a part that is not there joins nothing."""
        if owner is None or not owner.ghost:
            self.named.append(Named(point, *at, said))
        self.words.append(Word(*word_at, said, anchor, "point"))

    def boxes(self) -> Iterator[Box]:
        """Rectangles around everything."""
        yield from (one.box for one in self.wires)
        yield from (one.box for one in self.symbols)
        yield from (one.box for one in self.words)

    @property
    def box(self) -> Box:
        """Rectangle around the whole drawing, frames included."""
        return around([*self.boxes(), *self.frames().values()])

    def frames(self) -> dict[Drawn, Box]:
        """Rectangles around the parts that are not as found."""
        found: dict[Drawn, list[Box]] = {}
        owned: list[Symbol | Word] = [*self.symbols, *self.words]
        for one in owned:
            if one.owner is not None and one.owner.mark:
                found.setdefault(one.owner, []).append(one.box)
        return {part: around(boxes).grown(FRAME) for part, boxes in found.items()}


FRAME = 0.1
"""From what is in a frame to the frame."""
