"""Schematic of a lamp in IEC 60617 symbols, with values, and with changed parts framed and named as such.

Every part is one group of the SVG; its attributes name the part and its elements in the deck. Changes are
told by a frame, its dashes and a word, never by colour alone.
"""

from __future__ import annotations

from collections.abc import Sequence

from schemdraw.elements import Element
from schemdraw.segments import Segment

from coldiron.lamp.lamp import Lamp
from coldiron.lamp.topologies.linear_sinks import LinearSinksLamp
from coldiron.pictures.ink import Picture
from coldiron.pictures.sheet import Sheet, symbols
from coldiron.pictures.wiring import Drawn, drawn_parts

BUS, LINE, NEUTRAL, MINUS, DRAIN = 6.0, 4.2, 2.0, 0.0, 3.2
"""Heights of the rails, in units of the drawing."""
_PITCH, _BUS_PITCH, _SINK_PITCH = 2.0, 2.9, 4.0
_SHOWN_SINKS = 3
"""More sinks than this are drawn as the first, the last, and a word for those between."""


def schematic(lamp: Lamp, found: Lamp | None = None, *, name: str = "schematic", title: str = "") -> Picture:
    """Draw a lamp; with `found` given, what differs from it is framed and named.

    Parameters
    ----------
    lamp : Lamp
        The variant to draw.
    found : Lamp, optional
        The lamp as found.
    name, title : str
        File name and heading of the picture.
    """
    assert isinstance(lamp, LinearSinksLamp)
    assert found is None or isinstance(found, LinearSinksLamp)
    parts = drawn_parts(lamp, found)
    sheet = Sheet()
    place = (found if lamp.varistor is None and found else lamp).varistor
    x = _supply(sheet, parts["mains"])
    x = _input(sheet, parts, x, place.place if place else "")
    x = _bridge(sheet, parts["bridge"], x)
    x = _bus(sheet, parts, x)
    _string_and_sinks(sheet, parts, x)
    listed = "; ".join(
        f"{part.name} {', '.join(part.value)}{f' ({part.mark})' if part.mark else ''}"
        for part in parts.values()
    )
    alt = f"Schematic: {listed}."
    return Picture(name, title or "Schematic", alt, sheet.finished(BUS))


def _supply(sheet: Sheet, drawn: Drawn) -> float:
    sheet.part(drawn)
    sheet.put(symbols.SourceSin().at((0, NEUTRAL)).to((0, LINE)))
    sheet.text(-1.95, 3.3, drawn.value)
    sheet.frame(drawn, -2.05, NEUTRAL + 0.1, 0.6, LINE - 0.5)
    sheet.wires()
    sheet.text(0.05, LINE + 0.25, ["L"])
    sheet.text(0.05, NEUTRAL - 0.5, ["N"])
    sheet.wire((0, LINE), (0.8, LINE))
    sheet.wire((0, NEUTRAL), (0.8, NEUTRAL))
    return 0.8


def _input(sheet: Sheet, parts: dict[str, Drawn], x: float, place: str) -> float:
    """Fusing resistors and varistor, in the order in which the current meets them."""
    if place == "mains terminals":
        x = _varistor(sheet, parts["varistor"], x)
    x = _fusing(sheet, parts.get("line_fusing"), x, LINE, NEUTRAL)
    if place == "behind line fusing":
        x = _varistor(sheet, parts["varistor"], x)
    x = _fusing(sheet, parts.get("neutral_fusing"), x, NEUTRAL, LINE)
    if place == "behind both fusing":
        x = _varistor(sheet, parts["varistor"], x)
    return x


def _fusing(sheet: Sheet, drawn: Drawn | None, x: float, leg: float, other: float) -> float:
    if drawn is None:
        return x
    sheet.part(drawn)
    sheet.put(symbols.ResistorIEC().at((x, leg)).to((x + _PITCH, leg)))
    sheet.text(x + _PITCH / 2, leg + 1.2, [drawn.name, " ".join(drawn.value)], "middle")
    sheet.frame(drawn, x - 0.05, leg - 0.4, x + _PITCH + 0.05, leg + 1.65)
    sheet.wires()
    sheet.wire((x, other), (x + _PITCH, other))
    if drawn.mark == "removed":
        _bypass(sheet, x, leg)
    return x + _PITCH


def _bypass(sheet: Sheet, x: float, leg: float) -> None:
    """A wire in place of a removed part of a leg."""
    low = leg - 0.65
    sheet.wire((x, leg), (x, low), (x + _PITCH, low), (x + _PITCH, leg))


def _varistor(sheet: Sheet, drawn: Drawn, x: float) -> float:
    centre = x + 0.7
    sheet.wires()
    dots = () if drawn.mark == "removed" else ((centre, LINE), (centre, NEUTRAL))
    sheet.wire((x, LINE), (x + _PITCH + 0.5, LINE), dots=dots)
    sheet.wire((x, NEUTRAL), (x + _PITCH + 0.5, NEUTRAL))
    sheet.part(drawn)
    voltage_dependent = symbols.ResistorIEC().at((centre, LINE)).to((centre, NEUTRAL))
    # IEC 60617 marks a resistor that depends on voltage by a slanting line with a foot, and the letter U.
    voltage_dependent.segments.append(Segment([(0.1, -0.55), (0.1, -0.4), (0.9, 0.45)]))
    sheet.put(voltage_dependent)
    sheet.text(centre - 0.62, 3.55, ["U"])
    sheet.text(centre + 0.42, 3.35, [drawn.name, *drawn.value])
    sheet.frame(drawn, x - 0.1, NEUTRAL + 0.1, x + 2.45, LINE - 0.5)
    return x + _PITCH + 0.5


def _bridge(sheet: Sheet, drawn: Drawn, x: float) -> float:
    """Two legs of two diodes; line enters between the diodes of the first, neutral of the second."""
    first, second = x + 0.3, x + 2.3
    sheet.wires()
    sheet.wire((x, LINE), (first, LINE), dots=[(first, LINE)])
    sheet.wire((x, NEUTRAL), (second, NEUTRAL), dots=[(second, NEUTRAL)])
    sheet.part(drawn)
    for at in (first, second):
        sheet.put(symbols.Diode().at((at, LINE)).to((at, BUS)))
        sheet.put(symbols.Diode().at((at, MINUS)).to((at, NEUTRAL - 0.2)))
        sheet.wire((at, NEUTRAL - 0.2), (at, LINE))
    sheet.text((first + second) / 2, 3.3, [drawn.name, *drawn.value], "middle")
    sheet.frame(drawn, first - 0.4, MINUS + 0.1, second + 0.4, BUS - 0.5)
    sheet.wires()
    sheet.wire((first, BUS), (second, BUS), dots=[(second, BUS)])
    sheet.wire((first, MINUS), (second, MINUS), dots=[(second, MINUS)])
    return second


def _bus(sheet: Sheet, parts: dict[str, Drawn], x: float) -> float:
    kinds = {
        "film": symbols.Capacitor,
        "bleed": symbols.ResistorIEC,
        "reservoir": lambda: symbols.Capacitor(polar=True),
    }
    for key, symbol in kinds.items():
        if key not in parts:
            continue
        drawn, at = parts[key], x + 1.2
        sheet.wires()
        dots = [] if drawn.mark == "removed" else [(at, BUS), (at, MINUS)]
        sheet.wire((x, BUS), (x + _BUS_PITCH, BUS))
        sheet.wire((x, MINUS), (x + _BUS_PITCH, MINUS), dots=dots)
        sheet.part(drawn)
        sheet.put(symbol().at((at, BUS)).to((at, MINUS)))
        sheet.text(at + 0.35, 4.6, [drawn.name, *drawn.value])
        sheet.frame(drawn, at - 0.45, 1.9, at + 2.25, BUS - 0.5)
        x += _BUS_PITCH
    return x


def _string_and_sinks(sheet: Sheet, parts: dict[str, Drawn], x: float) -> None:
    string = parts["string"]
    # The drain capacitor writes its value to its left.
    at = x + (2.3 if "drain_capacitor" in parts else 1.2)
    sheet.wires()
    sheet.wire((x, BUS), (at, BUS))
    sheet.part(string)
    sheet.put(symbols.LED().at((at, BUS)).to((at, DRAIN)))
    sheet.text(at + 0.85, 4.9, [string.name, *string.value])
    sheet.frame(string, at - 0.5, DRAIN + 0.4, at + 3.4, BUS - 0.5)
    end = at
    drain = parts.get("drain_capacitor")
    if drain:
        sheet.part(drain)
        sheet.put(symbols.Capacitor().at((at, DRAIN)).to((at, MINUS)))
        sheet.text(at - 0.45, 2.5, [drain.name, *drain.value], "end")
        sheet.frame(drain, at - 1.75, 0.6, at + 0.4, DRAIN - 0.05)
    for row in _sink_rows([part for key, part in parts.items() if key.startswith("sink")]):
        place = end + (2.3 if end == at else _SINK_PITCH)
        end = _sinks(sheet, row, place)
    sheet.wires()
    sheet.wire((x, MINUS), (end, MINUS))
    sheet.wire((at, DRAIN), (end, DRAIN), dots=[(at, DRAIN)])
    sheet.right = max(end + 2.0, at + 3.4)


def _sink_rows(sinks: Sequence[Drawn]) -> list[list[Drawn]]:
    """Sinks as they are drawn: each for itself, or first, between and last."""
    ordered = sorted(sinks, key=lambda part: int(part.key.removeprefix("sink")))
    kept = [part for part in ordered if part.mark != "removed"]
    gone = [part for part in ordered if part.mark == "removed"]
    rows = [[part] for part in kept]
    if len(kept) > _SHOWN_SINKS:
        # A sink that is new stays to be seen.
        new = [part for part in kept[1:] if part.mark == "fitted"]
        between = [part for part in kept[1:] if part.mark != "fitted"]
        if not new:
            new, between = between[-1:], between[:-1]
        rows = [row for row in ([kept[0]], between, new) if row]
    return [*rows, gone] if gone else rows


def _sinks(sheet: Sheet, row: Sequence[Drawn], x: float) -> float:
    """One sink, or one that stands for several alike; returns where it is."""
    for part in row[1:]:
        sheet.part(part)
    first = row[0]
    sheet.part(first)
    sheet.put(symbols.NMos().at((x, DRAIN)).anchor("drain"))
    sheet.put(symbols.ResistorIEC().at((x, 1.53)).to((x, MINUS)))
    sheet.put(_amplifier(x))
    said = first.name if len(row) == 1 else f"sinks {first.key[4:]}–{row[-1].key[4:]}"
    sheet.text(x + 0.25, 2.45, [said])
    sheet.text(x + 0.35, 0.75, first.value)
    sheet.frame(first, x - 1.7, 0.15, x + 1.75, DRAIN - 0.4)
    return x


def _amplifier(x: float) -> Element:
    """The error amplifier: from the sense resistor to the gate, against its reference."""
    box = Element()
    left, right, low, high = x - 1.55, x - 1.0, 1.75, 2.3
    box.segments.extend(
        [
            Segment([(left, low), (right, low), (right, high), (left, high), (left, low)]),
            Segment(
                [
                    (left + 0.15, low + 0.1),
                    (left + 0.42, 2.03),
                    (left + 0.15, high - 0.1),
                    (left + 0.15, low + 0.1),
                ]
            ),
            Segment([(right, 2.03), (x - 0.83, 2.03)]),
            Segment([(x, 1.45), (left + 0.28, 1.45), (left + 0.28, low)]),
        ]
    )
    return box.at((0, 0)).theta(0)
