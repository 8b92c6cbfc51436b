"""Schematic of any lamp in IEC 60617 symbols, with values, and with changed parts framed and named as such.

Every part is one group of the SVG; its attributes name the part and its elements in the deck. Changes are
told by a frame, its dashes and a word, never by colour alone.
"""

from __future__ import annotations

from coldiron.lamp.lamp import Lamp
from coldiron.pictures.ink import Picture
from coldiron.pictures.layout.plan import Plan
from coldiron.pictures.layout.whole import laid_out
from coldiron.pictures.sheet import Sheet
from coldiron.pictures.wiring import aliases, drawn_parts


def schematic(
    lamp: Lamp,
    found: Lamp | None = None,
    *,
    name: str = "schematic",
    title: str = "",
    in_one_row: bool = False,
) -> Picture:
    """Draw a lamp; with `found` given, what differs from it is framed and named.

    Parameters
    ----------
    lamp : Lamp
        The variant to draw.
    found : Lamp, optional
        The lamp as found.
    name, title : str
        File name and heading of the picture.
    in_one_row : bool
        Whether a wide lamp stays in one row, for a place that is low and wide.
    """
    parts = drawn_parts(lamp, found)
    plan = laid_out(tuple(parts.values()), aliases(lamp.circuit), in_one_row=in_one_row)
    alt = f"Schematic: {'; '.join(part.said for part in parts.values())}."
    heading = title or "Schematic"
    return Picture(name, heading, alt, drawn(plan, heading, alt))


def drawn(plan: Plan, title: str, description: str) -> str:
    """SVG text of a drawing."""
    sheet = Sheet(title, description)
    frames = plan.frames()
    sheet.wires([wire for wire in plan.wires if wire.owner is None], plan.dots)
    for owner in dict.fromkeys(symbol.owner for symbol in plan.symbols):
        if owner is None:
            continue
        sheet.part(owner)
        sheet.own_wires([wire for wire in plan.wires if wire.owner == owner])
        for symbol in plan.symbols:
            if symbol.owner == owner:
                sheet.symbol(symbol)
        for word in plan.words:
            if word.owner == owner:
                sheet.word(word)
        if owner in frames:
            sheet.frame(owner, frames[owner])
    sheet.points([word for word in plan.words if word.owner is None])
    return sheet.finished(plan.box)
