"""What a schematic shows of a lamp: each part with its value, the deck's elements it stands for, its change.

Read from the same model as the deck. Nothing is drawn here.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Literal

from coldiron.lamp.topologies.linear_sinks import LinearSinksLamp
from coldiron.quantities import AMPERE, FARAD, HERTZ, OHM, VOLT, WATT

Mark = Literal["", "changed", "fitted", "removed"]

NOT_DRAWN = ("Vinput", "Vrail", "Cstray")
"""Elements of a deck that are no parts: an ammeter, the amplifiers' supply, the tracks' stray capacitance."""


@dataclass(frozen=True)
class Drawn:
    """One part of the drawing: `value` in a person's units, `devices` its elements in the deck."""

    key: str
    name: str
    value: tuple[str, ...]
    devices: tuple[str, ...]
    mark: Mark = ""


def drawn_parts(lamp: LinearSinksLamp, found: LinearSinksLamp | None = None) -> dict[str, Drawn]:
    """Parts of a lamp by key, marked where they differ from the lamp as found.

    Removed parts are there too, with the value they had and without elements in the deck.
    """
    parts = {part.key: part for part in _parts(lamp)}
    before = {part.key: part for part in _parts(found)} if found else dict(parts)
    marked = {}
    for key in sorted({*parts, *before}, key=lambda key: (key.startswith("sink"), key)):
        part, old = parts.get(key), before.get(key)
        if part is None and old is not None:
            marked[key] = Drawn(key, old.name, old.value, (), "removed")
        elif part is not None:
            mark: Mark = "fitted" if old is None else "" if _same(key, lamp, found) else "changed"
            marked[key] = Drawn(key, part.name, part.value, part.devices, mark)
    return marked


def _same(key: str, lamp: LinearSinksLamp, found: LinearSinksLamp | None) -> bool:
    if found is None:
        return True
    field = "sinks" if key.startswith("sink") else key
    if field == "drain_capacitor":
        return lamp.sinks.drain_capacitor_f == found.sinks.drain_capacitor_f
    if field == "sinks":
        # The drain capacitor is drawn as a part of its own; one sink more or less changes no other.
        alike: dict[str, Any] = {"drain_capacitor_f": None, "count": 1, "provenances": {}}
        return lamp.sinks.model_copy(update=alike) == found.sinks.model_copy(update=alike)
    return bool(getattr(lamp, field) == getattr(found, field))


def _parts(lamp: LinearSinksLamp) -> Iterator[Drawn]:
    mains = lamp.mains
    yield Drawn(
        "mains",
        "mains",
        (VOLT.format(mains.voltage_v, 3), HERTZ.format(mains.frequency_hz, 3)),
        ("Vmains", "Rmains", "Lmains", "Rwiring"),
    )
    for key, leg in (("line_fusing", lamp.line_fusing), ("neutral_fusing", lamp.neutral_fusing)):
        if leg:
            text = (OHM.format(leg.resistance_ohm, 3), WATT.format(leg.power_w, 3))
            yield Drawn(key, "fusing", text, (f"R{key.removesuffix('_fusing')}",))
    if lamp.varistor:
        network = ("Bvaristor", "Rvaristor", "Vvaristor", "Cvaristor")
        yield Drawn("varistor", "varistor", (VOLT.format(lamp.varistor.ac_rating_v, 3),), network)
    bridge = lamp.bridge
    legs = [
        f"{kind}{leg}"
        for leg in ("line_plus", "neutral_plus", "line_minus", "neutral_minus")
        for kind in "DR"
    ]
    yield Drawn("bridge", "bridge", (AMPERE.format(bridge.average_current_a, 3),), (*legs, "Vbridge"))
    if lamp.film:
        yield Drawn("film", "film", (FARAD.format(lamp.film.capacitance_f, 3),), ("Cfilm",))
    if lamp.bleed:
        yield Drawn("bleed", "bleed", (OHM.format(lamp.bleed.resistance_ohm, 3),), ("Rbleed",))
    if lamp.reservoir:
        text = (
            FARAD.format(lamp.reservoir.capacitance_f, 3),
            f"ESR {OHM.format(lamp.reservoir.series_ohm, 2)}",
        )
        yield Drawn(
            "reservoir", "reservoir", text, ("Creservoir", "Rreservoir", "Rloss", "Closs", "Vreservoir")
        )
    string = lamp.string
    text = (f"{string.series} × {string.parallel} LEDs", VOLT.format(string.forward_voltage_v, 3) + " each")
    yield Drawn("string", "string", text, ("Dstring", "Rstring", "Vstring", "Rleakage"))
    sinks = lamp.sinks
    if sinks.drain_capacitor_f is not None:
        yield Drawn("drain_capacitor", "drain", (FARAD.format(sinks.drain_capacitor_f, 3),), ("Cdrain",))
    for n in range(1, sinks.count + 1):
        amplifier, transistor = ("Bamp", "Rgate", "Dlow", "Dhigh"), ("Msink", "Cgate", "Creverse", "Dbody")
        devices = tuple(f"{name}{n}" for name in (*amplifier, *transistor, "Rsense"))
        yield Drawn(f"sink{n}", f"sink {n}", (OHM.format(sinks.sense_resistor_ohm, 3),), devices)
