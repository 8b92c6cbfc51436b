"""Paper for a schematic: symbols at absolute points, each part in a group of its own, changed ones framed."""

from __future__ import annotations

import warnings
from collections.abc import Sequence
from typing import Any
from xml.etree import ElementTree

import schemdraw

from coldiron.pictures.ink import FAINT, FONTS, INK, LIMIT, PAPER
from coldiron.pictures.layout.plan import EM, POINT_EM, Symbol, Wire, Word
from coldiron.pictures.layout.shapes import XY, Box, shape
from coldiron.pictures.wiring import Drawn

UNIT_PT = 30.0
_MARGIN = 0.35
_DASHES = {"fitted": "7 3", "removed": "2 3", "wired across": "2 3", "open": "10 3 2 3", "short": "10 3 2 3"}

LIVE_LETTERS = "OLNUP·"
"""Of the states in which a point is live: on, off in the line, in the neutral, unplugged, a part open."""


class Sheet:
    """Paper to draw on: gathers each part in a group."""

    def __init__(self, title: str, description: str) -> None:
        self.svg = ElementTree.Element("svg", {"xmlns": "http://www.w3.org/2000/svg"})
        ElementTree.SubElement(self.svg, "title").text = title
        ElementTree.SubElement(self.svg, "desc").text = description
        self._group = self.svg
        self._colour = INK
        self._dashes: Any = "-"

    def part(self, drawn: Drawn) -> None:
        """Begin the group of a part."""
        about = {"data-part": drawn.key, "data-deck": " ".join(drawn.devices)}
        kind = f"part {drawn.mark}".strip()
        self._group = ElementTree.SubElement(self.svg, "g", {"class": kind, **about})
        # What a pointer shows; also, schemdraw takes an element without children for no canvas at all.
        ElementTree.SubElement(self._group, "title").text = drawn.said
        self._colour, self._dashes = (FAINT, ":") if drawn.ghost else (INK, "-")

    def wires(self, wires: Sequence[Wire], dots: Sequence[XY]) -> None:
        """Draw what belongs to no part, and the dots that join it."""
        group = ElementTree.SubElement(self.svg, "g", {"class": "wires"})
        self._lines(group, wires, INK)
        for x, y in dots:
            place = {"cx": f"{x * UNIT_PT:.1f}", "cy": f"{-y * UNIT_PT:.1f}", "r": "2.4", "fill": INK}
            ElementTree.SubElement(group, "circle", place)

    def own_wires(self, wires: Sequence[Wire]) -> None:
        """Draw the longer leads of the part."""
        self._lines(self._group, wires, self._colour, "2 3" if self._dashes == ":" else "")

    def symbol(self, symbol: Symbol) -> None:
        """Draw a symbol."""
        # An element that is made inside of the block would be added to the drawing before it has its place.
        pieces = shape(symbol.shape).elements(symbol.a, symbol.b)
        with schemdraw.Drawing(canvas=self._group, show=False, inches_per_unit=UNIT_PT / 72) as drawing:
            for piece in pieces:
                drawing.add(piece.color(self._colour).linewidth(1.5).linestyle(self._dashes))
            with warnings.catch_warnings():
                # From Python 3.12 on schemdraw is warned for asking whether a canvas is true; ours always is.
                warnings.filterwarnings("ignore", "Testing an element's truth value", DeprecationWarning)
                drawing.draw(show=False).getsvg()

    def word(self, word: Word) -> None:
        """Write a line of text."""
        em = POINT_EM if word.style == "point" else EM
        place = {
            "x": f"{word.x * UNIT_PT:.1f}",
            "y": f"{(-word.y + 0.36 * em) * UNIT_PT:.1f}",
            "text-anchor": word.anchor,
        }
        if word.style == "mark":
            place |= {"fill": LIMIT, "font-weight": "bold"}
        if word.style == "point":
            place |= {"fill": FAINT, "font-size": f"{em * UNIT_PT:.1f}"}
        text = ElementTree.SubElement(self._group, "text", place)
        name, _, letters = word.text.rpartition(" ")
        if word.style != "point" or set(letters) - set(LIVE_LETTERS):
            text.text = word.text
            return
        # A letter for each state in which the point is live; a dot is no letter, whatever the ink.
        text.text = f"{name} "
        for letter in letters:
            look = {} if letter == "·" else {"fill": LIMIT, "font-weight": "bold"}
            ElementTree.SubElement(text, "tspan", look).text = letter

    def points(self, words: Sequence[Word]) -> None:
        """Write the names of points."""
        self._group = ElementTree.SubElement(self.svg, "g", {"class": "points"})
        for word in words:
            self.word(word)

    def frame(self, drawn: Drawn, box: Box) -> None:
        """Frame a part that is not as found; what happened to it is among its words."""
        place = {
            "x": f"{box.x0 * UNIT_PT:.1f}", "y": f"{-box.y1 * UNIT_PT:.1f}", "rx": "5",
            "width": f"{(box.x1 - box.x0) * UNIT_PT:.1f}", "height": f"{(box.y1 - box.y0) * UNIT_PT:.1f}",
            "fill": "none", "stroke": LIMIT, "stroke-width": "1.6",
            "stroke-dasharray": _DASHES.get(drawn.mark, ""),
        }  # fmt: skip
        ElementTree.SubElement(self._group, "rect", place)

    @staticmethod
    def _lines(group: ElementTree.Element, wires: Sequence[Wire], colour: str, dashes: str = "") -> None:
        if not wires:
            return
        way = "".join(
            f"M{a[0] * UNIT_PT:.1f} {-a[1] * UNIT_PT:.1f}L{b[0] * UNIT_PT:.1f} {-b[1] * UNIT_PT:.1f}"
            for a, b in ((wire.a, wire.b) for wire in wires)
        )
        look = {"d": way, "stroke": colour, "stroke-width": "1.5", "stroke-linecap": "round", "fill": "none"}
        ElementTree.SubElement(group, "path", look | ({"stroke-dasharray": dashes} if dashes else {}))

    def finished(self, box: Box) -> str:
        """SVG text of the whole sheet."""
        left, top, right, bottom = (
            (box.x0 - _MARGIN) * UNIT_PT,
            -(box.y1 + _MARGIN) * UNIT_PT,
            (box.x1 + _MARGIN) * UNIT_PT,
            -(box.y0 - _MARGIN) * UNIT_PT,
        )
        self.svg.set("viewBox", f"{left:.0f} {top:.0f} {right - left:.0f} {bottom - top:.0f}")
        self.svg.set("width", f"{right - left:.0f}pt")
        self.svg.set("height", f"{bottom - top:.0f}pt")
        # A page may make it narrower, never larger than its letters want to be read.
        self.svg.set(
            "style",
            f"max-width:{right - left:.0f}pt;background:{PAPER};font:{EM * UNIT_PT:.0f}px {FONTS};fill:{INK}",
        )
        for piece in self.svg.iter():
            if piece is not self.svg:
                _without_style(piece)
        return ElementTree.tostring(self.svg, encoding="unicode")


def _without_style(piece: ElementTree.Element) -> None:
    """Turn the style of an element into attributes: a page with a strict content policy shows no other.

    What schemdraw writes for a solid line, "-", is no value of `stroke-dasharray`.
    """
    for entry in piece.attrib.pop("style", "").split(";"):
        name, _, value = (word.strip() for word in entry.partition(":"))
        if name and value != "-":
            piece.set(name, value)
