"""Paper for a schematic: symbols at absolute points, each part in a group of its own, changed ones framed."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Any
from xml.etree import ElementTree

import schemdraw
import schemdraw.elements
from schemdraw.elements import Element

from coldiron.pictures.ink import FAINT, FONTS, INK, LIMIT, PAPER
from coldiron.pictures.wiring import Drawn

symbols: Any = schemdraw.elements
# Its constructors carry no types.

UNIT_PT = 30.0


class Sheet:
    """Paper to draw on: places symbols at absolute points and gathers each part in a group."""

    def __init__(self) -> None:
        self.svg = ElementTree.Element("svg", {"xmlns": "http://www.w3.org/2000/svg"})
        self.right = 0.0
        self._group = self.svg
        self._colour = INK
        self._dashes: Any = "-"

    def part(self, drawn: Drawn) -> None:
        """Begin the group of a part."""
        gone = drawn.mark == "removed"
        self._group = ElementTree.SubElement(
            self.svg,
            "g",
            {
                "class": f"part {drawn.mark}".strip(),
                "data-part": drawn.key,
                "data-deck": " ".join(drawn.devices),
            },
        )
        # What a pointer shows; also, schemdraw takes an element without children for no canvas at all.
        title = ElementTree.SubElement(self._group, "title")
        title.text = f"{drawn.name} {', '.join(drawn.value)}{f' ({drawn.mark})' if drawn.mark else ''}"
        self._colour, self._dashes = (FAINT, ":") if gone else (INK, "-")

    def wires(self) -> None:
        """Draw outside of any part from here on."""
        self._group, self._colour, self._dashes = self.svg, INK, "-"

    def put(self, *pieces: Element) -> None:
        """Draw symbols on the current group."""
        with schemdraw.Drawing(canvas=self._group, show=False, inches_per_unit=UNIT_PT / 72) as drawing:
            for piece in pieces:
                drawing.add(piece.color(self._colour).linewidth(1.5).linestyle(self._dashes))
            drawing.draw(show=False).getsvg()

    def wire(self, *points: tuple[float, float], dots: Sequence[tuple[float, float]] = ()) -> None:
        """Draw a wire through points, with dots where it joins others."""
        legs = [symbols.Line().at(a).to(b) for a, b in pairwise(points)]
        self.put(*legs, *(symbols.Dot(radius=0.07).at(dot) for dot in dots))

    def text(self, x: float, y: float, lines: Sequence[str], anchor: str = "start") -> None:
        """Write lines of text from a point downwards."""
        for row, line in enumerate(lines):
            place = {"x": f"{x * UNIT_PT:.1f}", "y": f"{-y * UNIT_PT + 13 * row:.1f}", "text-anchor": anchor}
            word = ElementTree.SubElement(self._group, "text", place)
            word.text = line

    def frame(self, drawn: Drawn, x0: float, y0: float, x1: float, y1: float) -> None:
        """Frame a part that is not as found, and say what happened to it."""
        if not drawn.mark:
            return
        dashes = {"changed": "", "fitted": "7 3", "removed": "2 3"}[drawn.mark]
        box = {
            "x": f"{x0 * UNIT_PT:.1f}", "y": f"{-y1 * UNIT_PT:.1f}", "rx": "5",
            "width": f"{(x1 - x0) * UNIT_PT:.1f}", "height": f"{(y1 - y0) * UNIT_PT:.1f}",
            "fill": "none", "stroke": LIMIT, "stroke-width": "1.6", "stroke-dasharray": dashes,
        }  # fmt: skip
        ElementTree.SubElement(self._group, "rect", box)
        word = ElementTree.SubElement(
            self._group,
            "text",
            {
                "x": f"{x0 * UNIT_PT + 2:.1f}",
                "y": f"{-y1 * UNIT_PT - 3:.1f}",
                "fill": LIMIT,
                "font-weight": "bold",
            },
        )
        word.text = drawn.mark

    def finished(self, top: float) -> str:
        """SVG text of the whole sheet, whose highest wire is at `top`."""
        left, high, height = -2.2 * UNIT_PT, -(top + 1.0) * UNIT_PT, (top + 1.9) * UNIT_PT
        width = self.right * UNIT_PT - left
        self.svg.set("viewBox", f"{left:.0f} {high:.0f} {width:.0f} {height:.0f}")
        self.svg.set("width", f"{width:.0f}pt")
        self.svg.set("height", f"{height:.0f}pt")
        self.svg.set("style", f"background:{PAPER};font:12px {FONTS};fill:{INK}")
        return ElementTree.tostring(self.svg, encoding="unicode")
