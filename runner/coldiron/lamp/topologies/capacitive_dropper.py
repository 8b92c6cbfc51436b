"""Capacitive dropper: a safety capacitor in the line limits the current, a bridge and a reservoir smooth it.

    line --[line fusing]-- line_f --[dropper, its bleed across]-- line_c --bridge-- bus --+-- reservoir --+
                                                                                          string          |
    neutral ---------------------------------------------------------bridge-- minus ------+---------------+

    I = 4 f C (Vpk - Vo)

Nothing regulates: the current follows the mains and its frequency. Its bus stands at the voltage of the
string, and at the peak of the mains when the string is open.

References
----------
The closed form: charge 2 C (Vpk - Vo) moves in each half cycle while the bridge conducts; circuit theory.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import ClassVar, Literal

from coldiron.lamp import parts as values
from coldiron.lamp.lamp import Lamp
from coldiron.lamp.model import Fact, Inconsistency
from coldiron.lamp.topologies.linear_sinks import short
from coldiron.lamp.varistor import Varistor as VaristorValues
from coldiron.parts.bleed_resistor import BleedResistor
from coldiron.parts.bridge import Bridge
from coldiron.parts.circuit import Circuit
from coldiron.parts.electrolytic import Electrolytic
from coldiron.parts.fusing_resistor import FusingResistor
from coldiron.parts.led_string import LedString
from coldiron.parts.part import Part, PartConditions
from coldiron.parts.stray_capacitance import StrayCapacitance, StrayValues
from coldiron.parts.varistor import Varistor
from coldiron.parts.x2_capacitor import X2Capacitor, X2CapacitorValues
from coldiron.quantities import AMPERE, VOLT

BRIDGE_DROP_V = 1.6
"""What two junctions of the bridge take at milliamperes (typical)."""
_ROUNDS = 40


class CapacitiveDropperLamp(Lamp):
    """A lamp fed through a capacitor. A part that the lamp does not have is None."""

    topology_word: ClassVar[str] = "capacitive dropper"
    settles_slowly: ClassVar[bool] = True
    bus_follows_mains: ClassVar[bool] = False
    settled_absent: ClassVar[Mapping[str, tuple[str, ...]]] = {
        "line_fusing": ("line_fusing_W",),
        "varistor": ("varistor_W",),
        "bleed": ("bleed_W",),
        "reservoir": ("reservoir_W", "reservoir_highest_V", "reservoir_ripple_A"),
    }
    pulse_absent: ClassVar[Mapping[str, tuple[str, ...]]] = {
        "varistor": ("varistor_peak_A", "varistor_energy_J"),
        "reservoir": ("reservoir_peak_V",),
    }

    topology: Literal["capacitive dropper"]
    line_fusing: values.FusingResistor | None = None
    varistor: VaristorValues | None = None
    dropper: X2CapacitorValues
    dropper_bleed: values.BleedResistor | None = None
    bridge: values.Bridge = values.Bridge()
    bleed: values.BleedResistor | None = None
    reservoir: values.ReservoirCapacitor | None = None
    string: values.LedString

    def expanded(self) -> Circuit:
        """Circuit that its short keys stand for."""
        return Circuit(tuple(self._parts()), self.anchors)

    def _parts(self) -> Iterator[Part]:
        line_f = "line_f" if self.line_fusing else "line"
        if self.line_fusing:
            yield FusingResistor("line_fusing", ("line", "line_f"), self.line_fusing, "line", seat="series")
        if self.varistor:
            plus = "line" if self.varistor.place == "mains terminals" else line_f
            yield Varistor("varistor", (plus, "neutral"), self.varistor)
        yield X2Capacitor("dropper", (line_f, "line_c"), self.dropper, seat="series")
        if self.dropper_bleed:
            yield BleedResistor("dropper_bleed", (line_f, "line_c"), self.dropper_bleed)
        yield Bridge("bridge", ("line_c", "neutral", "bus", "minus"), self.bridge)
        if self.bleed:
            yield BleedResistor("bleed", ("bus", "minus"), self.bleed)
        if self.reservoir:
            yield Electrolytic("reservoir", ("bus", "minus"), self.reservoir)
        stray = StrayValues(capacitance_f=self.bridge.stray_capacitance_f)
        yield StrayCapacitance("stray", ("bus", "minus"), stray)
        yield LedString("string", ("bus", "minus"), self.string)

    @property
    def lit_a(self) -> float:
        """Mean current of the LEDs, by the closed form on its own mains [A]."""
        mains, lit_a = self.mains, 0.0
        for _ in range(_ROUNDS):
            bus_v = self.string.voltage_v(max(lit_a, 1e-6)) + BRIDGE_DROP_V
            driven_a = 4 * mains.frequency_hz * self.dropper.capacitance_f * max(0.0, mains.peak_v - bus_v)
            lit_a = 0.5 * (lit_a + driven_a)
        return lit_a

    def first_state(self, peak_v: float, cycle_s: float, conditions: PartConditions) -> dict[str, float]:
        """Bus at the voltage of the string; a dropper that conducts as the sine falls through zero [V]."""
        bus_v = self.string.voltage_v(max(self.lit_a, 1e-6), conditions.temperature_c("string"))
        nodes_v = self.circuit.charged_v(bus_v, bus_v, conditions.temperature_c("string"))
        half_v = BRIDGE_DROP_V / 2
        if bus_v + BRIDGE_DROP_V < peak_v / 2:
            nodes_v |= dict.fromkeys(("line", "line_f", "neutral", "dropper_c"), bus_v + half_v)
            nodes_v |= {"line_c": -half_v}
        known = set(self.circuit.nodes())
        return {node: volt for node, volt in nodes_v.items() if node in known}

    def facts(self) -> Iterator[Fact]:
        """Yield what follows from the values and helps to see a slip of the pen."""
        lit_a = self.lit_a
        each_a = lit_a / self.string.parallel
        yield Fact(
            "current by 4 f C (Vpk - Vo)",
            f"{short(AMPERE, lit_a)}, {short(AMPERE, each_a)} in each LED of "
            f"{short(AMPERE, self.string.forward_current_a)}",
        )
        yield Fact("string at that current", short(VOLT, self.string.voltage_v(max(lit_a, 1e-6))))
        yield Fact("bus with the string open", f"{short(VOLT, self.mains.peak_v)}, the peak of the mains")

    def inconsistencies(self) -> Iterator[Inconsistency]:
        """The string must be able to light behind its bridge."""
        highest_v = self.mains.peak_v
        if self.string.voltage_v(1e-5) > 0.95 * highest_v:
            yield Inconsistency("string.series", f"fewer LEDs: the mains peak is {VOLT.format(highest_v, 4)}")
