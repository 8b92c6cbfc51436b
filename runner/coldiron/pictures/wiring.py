"""What a schematic shows of a lamp: each part with its value, the deck's elements it stands for, its change.

Read from the same parts as the deck. Nothing is drawn here.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Literal

from coldiron.deck.body import part_text
from coldiron.lamp.describe import key_label, value_text
from coldiron.lamp.lamp import Lamp
from coldiron.lamp.model import Part as PartValues
from coldiron.lamp.model import written_key
from coldiron.lamp.parts import Mains
from coldiron.parts.circuit import SUPPLY, Circuit
from coldiron.parts.part import Part, PartConditions, Seat
from coldiron.quantities import HERTZ, VOLT

Mark = Literal["", "changed", "fitted", "removed", "wired across", "open", "short"]

NOT_DRAWN = ("Vinput", "Vrail", "Cstray")
"""Elements of a deck that are no parts: an ammeter, the amplifiers' supply, the tracks' stray capacitance."""
_MOST_CHANGES = 2
"""More changes of one part than this are counted."""


@dataclass(frozen=True)
class Drawn:
    """One part of the drawing: `value` in a person's units, `devices` its elements in the deck.

    A part that is not there any more stands where it was, without elements in the deck.
    """

    key: str
    value: tuple[str, ...]
    devices: tuple[str, ...]
    at: tuple[str, ...] = ()
    symbol: str = "resistor"
    seat: Seat = "shunt"
    mark: Mark = ""

    @property
    def name(self) -> str:
        """Its name for people."""
        return self.key.replace("_", " ")

    @property
    def lines(self) -> tuple[str, ...]:
        """What is written beside it."""
        return (self.name, *self.value, *((self.mark,) if self.mark else ()))

    @property
    def ghost(self) -> bool:
        """Whether it is not there any more, so that it joins nothing."""
        return self.mark in ("removed", "wired across")

    @property
    def said(self) -> str:
        """The part in one line."""
        return f"{self.name} {', '.join(self.value)}{f' ({self.mark})' if self.mark else ''}"


def drawn_parts(lamp: Lamp, found: Lamp | None = None) -> dict[str, Drawn]:
    """Parts of a lamp by name in the order of the ladder, marked where they differ from the lamp as found.

    Parts that are gone are there too, with the value they had and without elements in the deck.
    """
    circuit = lamp.circuit
    before = circuit if found is None else found.circuit
    parts = {"mains": _mains(lamp.mains, lamp.mains if found is None else found.mains)}
    now = [_drawn(part, before) for part in _joined(circuit) if part.shown]
    gone = [part for part in _joined(before) if part.name not in circuit and part.shown]
    for old in gone:
        now = _with_gone(now, replace(_drawn(old, before), devices=()), before)
    return parts | {part.key: part for part in now}


def aliases(circuit: Circuit) -> dict[str, str]:
    """Points that are one with another by a wire: name to the one it is drawn as."""
    same: dict[str, str] = {}
    for wire in (part for part in circuit if part.symbol == "wire" and part.works):
        kept, other = (same.get(point, point) for point in wire.at)
        same = {point: kept if to == other else to for point, to in same.items()} | {other: kept}
    return same


def _joined(circuit: Circuit) -> list[Part]:
    """Parts with the two names of one point made one."""
    same = aliases(circuit)
    return [
        replace(part, at=tuple(same.get(point, point) for point in part.at))
        for part in circuit
        if part.symbol != "wire"
    ]


def _with_gone(now: list[Drawn], old: Drawn, before: Circuit) -> list[Drawn]:
    """Parts and one that is gone, where it was.

    Was it wired across, one of its points is gone with it. In a rail, those that sat on that point sit there
    again, and a wire is drawn in its place.
    """
    points = {point for part in now for point in part.at}
    mark: Mark = "wired across" if len(points & set(old.at)) == 1 else "removed"
    if mark == "wired across" and old.key in _in_rails(before):
        was = {part.name: part.at for part in _joined(before)}
        ends = set(old.at)
        now = [
            replace(part, at=tuple(_back(here, there, ends) for here, there in zip(part.at, at, strict=True)))
            if len(at := was.get(part.key, part.at)) == len(part.at)
            else part
            for part in now
        ]
    names = [part.name for part in before]
    earlier = set(names[: names.index(old.key)])
    place = max((n + 1 for n, part in enumerate(now) if part.key in earlier), default=0)
    return [*now[:place], replace(old, mark=mark), *now[place:]]


def _in_rails(circuit: Circuit) -> set[str]:
    """Names of the parts in the rails from the mains, and from the rectifier on."""
    starts = [*SUPPLY, *(part.at[2] for part in circuit if len(part.at) == 4)]
    return {part.name for start in starts for part, _ in circuit.chain(start)}


def _back(here: str, there: str, ends: set[str]) -> str:
    return there if here in ends and there in ends else here


def _mains(now: Mains, old: Mains) -> Drawn:
    text = [(VOLT.format(mains.voltage_v, 3), HERTZ.format(mains.frequency_hz, 3)) for mains in (now, old)]
    value, changed = _compared(now, old, text[0], text[1])
    devices = ("Vmains", "Rmains", "Lmains", "Rwiring")
    return Drawn("mains", value, devices, ("neutral", "line"), "mains", mark="changed" if changed else "")


def _drawn(part: Part, before: Circuit) -> Drawn:
    """A part as it stands in a circuit, against the one of its name before."""
    value, mark = part.text(), _broken(part)
    if part.name not in before:
        mark = mark or "fitted"
    else:
        old = before[part.name]
        if old.kind != part.kind:
            value, changed = (*value, f"was {old.kind}"), True
        else:
            value, changed = _compared(part.values, old.values, value, old.text())
        if part.broken_within:
            value, changed = (*value, part.broken_within), True
        mark = mark or ("changed" if changed or old.state != part.state else "")
    return Drawn(part.name, value, tuple(_devices(part)), part.at, part.symbol, part.seat, mark)


def _broken(part: Part) -> Mark:
    return "" if part.state == "fitted" else part.state


def _devices(part: Part) -> Iterator[str]:
    """Names of its elements in a deck."""
    for line in part_text(part, PartConditions()).splitlines():
        name = line.partition(" ")[0]
        if name[:1].isalpha() and name not in NOT_DRAWN:
            yield name


def _compared(
    now: PartValues, before: PartValues, text: tuple[str, ...], was: tuple[str, ...]
) -> tuple[tuple[str, ...], bool]:
    """Lines of a part with what they were, and whether anything changed.

    What changed without a line of its own gets one: "ESR was 9 Ω".
    """
    if len(text) == len(was):
        lines = [
            new if new == old_line else f"{new} was {old_line}"
            for new, old_line in zip(text, was, strict=True)
        ]
    else:
        lines = [*text, *(f"was {line}" for line in was if line not in text)]
    fields = [name for name, value in now if name != "provenances" and value != getattr(before, name, None)]
    if fields and tuple(lines) == text:
        keys = [written_key(name) for name in fields]
        lines += [
            f"{key_label(key)} was {_value(before, name, key)}"
            for name, key in list(zip(fields, keys, strict=True))[:_MOST_CHANGES]
        ]
        if len(fields) > _MOST_CHANGES:
            lines.append(f"and {len(fields) - _MOST_CHANGES} more")
    return tuple(lines), bool(fields)


def _value(old: PartValues, name: str, key: str) -> str:
    value = getattr(old, name, None)
    return (
        value_text(type(old), key, value)
        if value is None or isinstance(value, int | float | str)
        else "other"
    )
