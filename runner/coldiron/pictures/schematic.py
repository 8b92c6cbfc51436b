"""Schematic of any lamp in IEC 60617 symbols, with values, and with changed parts framed and named as such.

Every part is one group of the SVG; its attributes name the part and its elements in the deck. Changes are
told by a frame, its dashes and a word, never by colour alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from coldiron.lamp.lamp import Lamp
from coldiron.pictures.ink import Picture
from coldiron.pictures.layout.plan import Plan, Word
from coldiron.pictures.layout.whole import laid_out
from coldiron.pictures.sheet import Sheet
from coldiron.pictures.wiring import aliases, drawn_parts

LIVE_STATES = {
    "O": "on",
    "L": "off in the line",
    "N": "off in the neutral",
    "U": "unplugged",
    "P": "a part open",
}
LIVE_KEY = ", ".join(f"{letter} {said}" for letter, said in LIVE_STATES.items())


def schematic(
    lamp: Lamp,
    found: Lamp | None = None,
    *,
    name: str = "schematic",
    title: str = "",
    in_one_row: bool = False,
    live: Mapping[str, str] | None = None,
    live_key: str = LIVE_KEY,
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
    live : mapping, optional
        Point to the letters of the states in which it is live, a dot for each of the others; they stand
        behind the names of the points.
    live_key : str
        What the letters mean.
    """
    parts = drawn_parts(lamp, found)
    plan = laid_out(tuple(parts.values()), aliases(lamp.circuit), in_one_row=in_one_row, beside=live or {})
    alt = f"Schematic: {'; '.join(part.said for part in parts.values())}."
    if live:
        box = plan.box
        plan.words.append(Word(box.x0, box.y0 - 0.6, f"live: {live_key}", "start", "point"))
        told = (f"{point} {letters}" for point, letters in live.items())
        alt = f"{alt} Live points ({live_key}): {'; '.join(told)}."
    heading = title or "Schematic"
    return Picture(name, heading, alt, drawn(plan, heading, alt))


def live_letters(points: Iterable[str], readings: Mapping[str, float | str]) -> dict[str, str]:
    """Letters of the states in which each point is live, from the readings of bench live.

    Examples
    --------
    >>> live_letters(("line", "bus"), {"live_on": "line, bus", "live_off_l": "none", "live_off_n": "bus"})
    {'line': 'O····', 'bus': 'O·N··'}
    """
    states = zip("OLNUP", ("on", "off_l", "off_n", "unplugged", "part_open"), strict=True)
    live = {letter: set(str(readings.get(f"live_{state}", "")).split(", ")) for letter, state in states}
    return {point: "".join(letter if point in live[letter] else "·" for letter in live) for point in points}


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
