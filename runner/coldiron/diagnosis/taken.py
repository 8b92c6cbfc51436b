"""What one run of a lamp comes to: values of its measurements, and what is to be seen of it."""

from __future__ import annotations

import math
from collections.abc import Mapping

from coldiron.diagnosis.endstates import BREAKER_A, EndState
from coldiron.diagnosis.look import Look
from coldiron.diagnosis.measurable import SENSE, STRING_TEST_A, Measurable
from coldiron.diagnosis.ohmmeter import ohms
from coldiron.lamp.lamp import Lamp
from coldiron.parts.circuit import Circuit
from coldiron.parts.part import OPEN_OHM
from coldiron.parts.roles import Lights, OpensHot, Regulates, Stores

Reads = Mapping[str, float | str]
HOT = 2.0
"""A part counts as hot at so many times its watts, and those of the same part in the healthy lamp: the second
keeps a lamp that runs all its parts hot from being on fire (IEC 62368-1 holds single parts to 15 W
besides)."""
_ARCS = ("loose", "one LED arcing")


def value_on(one: Measurable, lamp: Lamp, readings: Reads) -> float:
    """Plain value of a measurement on a lamp that was run; nan where it cannot be told."""
    kind, circuit = one.kind, lamp.circuit
    if kind.what == "resistance":
        ohm = _odd_sense_ohm(circuit, one) if one.is_sense else ohms(circuit, *one.where)
        return kind.most if ohm >= OPEN_OHM else ohm
    if kind.what == "diode test":
        # By its number: a loose joint gives the points before a part other names.
        return min(kind.most, list(circuit[one.parts[0]].junction_tests())[one.number][2])
    if kind.what in ("capacitance", "string test"):
        part = circuit[one.where[0]]
        short = kind.most if kind.what == "capacitance" else 0.0
        if not part.works:
            return short if part.state == "short" else kind.most - short
        if isinstance(part, Lights):
            return min(kind.most, part.tester_v(STRING_TEST_A))
        return part.stored_f if isinstance(part, Stores) else math.nan
    return float(readings.get(_READING.get(kind.what) or f"{one.where[0]}_mean_V", math.nan))


def _odd_sense_ohm(circuit: Circuit, one: Measurable) -> float:
    part = circuit[one.parts[0].removesuffix(SENSE)]
    ohm = part.odd_sense_ohm if isinstance(part, Regulates) and part.works else None
    return math.nan if ohm is None else ohm


_READING = {
    "input power": "input_power_W",
    "input current": "input_current_A",
    "mains voltage": "input_voltage_V",
}


def look_of(state: EndState, whole: Lamp, lamp: Lamp, readings: Reads, healthy: Reads) -> Look:
    """What is to be seen of one severity."""

    def number(reads: Reads, name: str) -> float:
        value = float(reads.get(name, 0.0))
        return value if math.isfinite(value) else 0.0

    watts = {name: number(readings, name) for name in readings if name.endswith("_W")}
    rated = {part.name: getattr(part.values, "power_w", None) for part in whole.circuit}
    hot = tuple(
        name
        for name, most in rated.items()
        if most
        and watts.get(f"{name}_W", 0.0) >= HOT * most
        and watts.get(f"{name}_W", 0.0) >= HOT * number(healthy, f"{name}_W")
    )
    lit = {part.name: part.leds * part.parallel for part in lamp.circuit.lights}
    leds = sum(part.leds * part.parallel for part in whole.circuit.lights)
    dark = 1.0 - sum(lit.values()) / leds if leds else 0.0
    light = number(readings, "light_A") / max(number(healthy, "light_A"), 1e-9)
    current_a = number(readings, "input_current_A")
    return Look(
        light_ratio=light,
        mains_flicker_pct=number(readings, "flicker_mains_pct"),
        dark_ratio=dark if dark < 1.0 else 0.0,
        input_a=current_a,
        hot=hot,
        opened=state.opened,
        arcs=any(one.way in _ARCS for one in state.severities[0]),
        blinks=bool(lamp.circuit.having(OpensHot)) and light > 1.2,
        banged=bool(state.opened) or current_a >= BREAKER_A,
    )
