"""Symbols of IEC 60617, and how much room each takes."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from typing import Any, NamedTuple

import schemdraw
import schemdraw.elements
from schemdraw.segments import Segment, SegmentCircle

symbols: Any = schemdraw.elements
# Its constructors carry no types.

XY = tuple[float, float]
_GAP = (math.nan, 0.0)
LETTER = 0.46
"""Room of a letter beside a symbol."""


class Box(NamedTuple):
    """A rectangle."""

    x0: float
    y0: float
    x1: float
    y1: float

    def meets(self, other: Box, least: float = 0.0) -> bool:
        """Whether two rectangles share more than a strip of some width."""
        return (
            self.x0 < other.x1 - least
            and other.x0 < self.x1 - least
            and self.y0 < other.y1 - least
            and other.y0 < self.y1 - least
        )

    def grown(self, by: float) -> Box:
        """The rectangle with a margin."""
        return Box(self.x0 - by, self.y0 - by, self.x1 + by, self.y1 + by)


class Extent(NamedTuple):
    """How far something reaches to the left, right, below and above its axis."""

    left: float
    right: float
    below: float
    above: float


@dataclass(frozen=True)
class Shape:
    """A symbol between two ends: how it is made, half the length of its body, a letter beside it."""

    make: Callable[[], Sequence[Any]]
    half_length: float = 0.5
    letter: str = ""

    def elements(self, a: XY, b: XY) -> list[Any]:
        """Elements from one end to the other; several in a row share the way."""
        pieces = list(self.make())
        length, half = math.dist(a, b), self.half_length
        stops = [0.0, 1.0]
        if len(pieces) > 1:
            # Bodies beside each other in the middle, the rest of the way is leads.
            outer = max(0.0, length / 2 - half) / length
            between = [outer + (1 - 2 * outer) * n / len(pieces) for n in range(len(pieces) + 1)]
            pieces = [symbols.Line(), *pieces, symbols.Line()] if outer else pieces
            stops = [0.0, *between, 1.0] if outer else between
        ends = [(a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1])) for share in stops]
        placed = [piece.at(p).to(q) for piece, (p, q) in zip(pieces, pairwise(ends), strict=True)]
        # Light leaves to the right or upwards, where the words are not written over it.
        turned = b[1] > a[1] or b[0] < a[0]
        return [piece.flip() if turned and isinstance(piece, symbols.LED) else piece for piece in placed]

    def extent(self, a: XY, b: XY) -> Extent:
        """Room across its axis, its letter included."""
        bare = _bare(self, a[0] == b[0], b[1] > a[1] or b[0] < a[0])
        more = LETTER if self.letter else 0.0
        if a[0] == b[0]:
            return bare._replace(left=bare.left + more)
        return bare._replace(below=bare.below + more, above=bare.above + more)

    def body(self, a: XY, b: XY) -> Box:
        """Rectangle around its body."""
        x, y = (a[0] + b[0]) / 2, (a[1] + b[1]) / 2
        bare = _bare(self, a[0] == b[0], b[1] > a[1] or b[0] < a[0])
        half = min(self.half_length, math.dist(a, b) / 2)
        if a[0] == b[0]:
            return Box(x - bare.left, y - half, x + bare.right, y + half)
        return Box(x - half, y - bare.below, x + half, y + bare.above)

    def letter_at(self, a: XY, b: XY, up: int) -> XY:
        """Where its letter stands: left of an upright symbol, else opposite to the side of its words."""
        box = self.body(a, b)
        if a[0] == b[0]:
            return box.x0 - LETTER / 2, (box.y0 + box.y1) / 2
        y = box.y0 - LETTER / 2 if up > 0 else box.y1 + LETTER / 2
        return (box.x0 + box.x1) / 2, y


@lru_cache(maxsize=256)
def _bare(of: Shape, upright: bool, turned: bool) -> Extent:
    """Room of a symbol across its axis, measured on the symbol itself."""
    along = 4.0 if turned == upright else -4.0
    drawing = schemdraw.Drawing(show=False)
    boxes = []
    for piece in of.elements((0.0, 0.0), (0.0, along) if upright else (along, 0.0)):
        drawing.add(piece)
        boxes.append(piece.get_bbox(transform=True, includetext=False))
    if upright:
        return Extent(-min(b.xmin for b in boxes), max(b.xmax for b in boxes), 0.0, 0.0)
    return Extent(0.0, 0.0, -min(b.ymin for b in boxes), max(b.ymax for b in boxes))


def _body(*pieces: Any) -> Any:
    """A symbol of our own, one long, between leads."""
    element = symbols.Element2Term()
    element.segments.append(Segment([(0.0, 0.0), (0.0, 0.0), _GAP, (1.0, 0.0), (1.0, 0.0)]))
    element.segments.extend(pieces)
    return element


def _slanted(*path: XY) -> Any:
    """A resistor with a line across it, as one that depends on something."""
    element = symbols.ResistorIEC()
    element.segments.append(Segment(list(path)))
    return element


def _polar() -> Any:
    """A capacitor with a plus sign at its first plate, made of lines so that it has a place to measure."""
    element = symbols.Capacitor()
    element.segments.append(Segment([(-0.28, 0.3), (-0.08, 0.3), _GAP, (-0.18, 0.2), (-0.18, 0.4)]))
    return element


_FOOT = ((0.1, -0.5), (0.28, -0.5), (0.85, 0.45))

SHAPES = {
    "resistor": Shape(lambda: [symbols.ResistorIEC()]),
    "varistor": Shape(lambda: [_slanted(*_FOOT)], letter="U"),
    "ntc": Shape(lambda: [_slanted(*_FOOT)], letter="ϑ"),
    "fuse": Shape(lambda: [symbols.FuseIEC()]),
    "capacitor": Shape(lambda: [symbols.Capacitor()], 0.3),
    "electrolytic": Shape(lambda: [_polar()], 0.3),
    "diode": Shape(lambda: [symbols.Diode()], 0.3),
    "tvs": Shape(lambda: [symbols.DiodeTVS()]),
    "string": Shape(lambda: [symbols.LED()], 0.4),
    "choke": Shape(lambda: [symbols.Inductor2()]),
    "sinks": Shape(lambda: [_body(SegmentCircle((0.5, 0.0), 0.5), Segment([(0.5, -0.5), (0.5, 0.5)]))]),
    "gap": Shape(
        lambda: [
            _body(
                SegmentCircle((0.5, 0.0), 0.5),
                Segment([(0.0, 0.0), (0.38, 0.0), _GAP, (0.38, -0.22), (0.38, 0.22)]),
                Segment([(1.0, 0.0), (0.62, 0.0), _GAP, (0.62, -0.22), (0.62, 0.22)]),
                SegmentCircle((0.5, -0.34), 0.05, fill=True),
            )
        ]
    ),
    "cutout": Shape(
        lambda: [
            _body(
                Segment([(0.0, 0.0), (0.15, 0.0), (0.9, 0.26)]),
                Segment([(1.0, 0.0), (0.8, 0.0), (0.8, 0.32)]),
            )
        ],
        letter="ϑ",
    ),
    "rc": Shape(lambda: [symbols.ResistorIEC(), symbols.Capacitor()], 1.05),
    "mains": Shape(lambda: [symbols.SourceSin()]),
}


def shape(name: str) -> Shape:
    """Symbol of a name; a plain box for one that is not known, so that a new kind is drawn at once."""
    return SHAPES.get(name, SHAPES["resistor"])
