"""Linear sinks: a bridge, a bus, and a string whose low end hangs on constant-current regulators.

line --[line fusing]-- line_f --+--bridge-- bus --+-- film, bleed, reservoir --+
varistor             string                       |
neutral --[neutral fusing]------+                 drain -- sinks -- minus -----+
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import ClassVar, Literal

from coldiron.lamp import parts as values
from coldiron.lamp.lamp import Lamp
from coldiron.lamp.model import Fact, Inconsistency
from coldiron.lamp.varistor import Varistor as VaristorValues
from coldiron.parts.bleed_resistor import BleedResistor
from coldiron.parts.bridge import Bridge
from coldiron.parts.circuit import Circuit
from coldiron.parts.electrolytic import Electrolytic
from coldiron.parts.film_capacitor import FilmCapacitor
from coldiron.parts.fusing_resistor import FusingResistor
from coldiron.parts.led_string import LedString
from coldiron.parts.linear_sink import LinearSink
from coldiron.parts.part import Part, PartConditions
from coldiron.parts.roles import Resists
from coldiron.parts.stray_capacitance import DrainCapacitor, StrayCapacitance, StrayValues
from coldiron.parts.varistor import Varistor
from coldiron.quantities import AMPERE, JOULE, RATIO, VOLT, Unit

TRACKS_F = 1e-12
"""Least that a bus has to earth and to itself (typical)."""
DARK_A = 1e-6
"""What a string carries whose sinks are held off, for a first guess of its voltage."""


class LinearSinksLamp(Lamp):
    """A lamp with linear sinks. A part that the lamp does not have is None."""

    topology_word: ClassVar[str] = "linear sinks"
    anchors: ClassVar[Mapping[str, str]] = {"bus": "string", "drain": "sinks"}
    settled_absent: ClassVar[Mapping[str, tuple[str, ...]]] = {
        "line_fusing": ("line_fusing_W",),
        "neutral_fusing": ("neutral_fusing_W",),
        "varistor": ("varistor_W",),
        "bleed": ("bleed_W",),
        "reservoir": ("reservoir_W", "reservoir_highest_V", "reservoir_ripple_A"),
    }
    pulse_absent: ClassVar[Mapping[str, tuple[str, ...]]] = {
        "varistor": ("varistor_peak_A", "varistor_energy_J"),
        "reservoir": ("reservoir_peak_V",),
    }

    topology: Literal["linear sinks"] = "linear sinks"
    line_fusing: values.FusingResistor | None = None
    neutral_fusing: values.FusingResistor | None = None
    varistor: VaristorValues | None = None
    bridge: values.Bridge
    film: values.FilmCapacitor | None = None
    bleed: values.BleedResistor | None = None
    reservoir: values.ReservoirCapacitor | None = None
    string: values.LedString
    sinks: values.Sinks

    def expanded(self) -> Circuit:
        """Circuit that its short keys stand for."""
        return Circuit(tuple(self._parts()), self.anchors)

    @property
    def lit_a(self) -> float:
        """Set current of all sinks, cold [A]."""
        return self.sinks.set_current_a

    def first_state(self, peak_v: float, cycle_s: float, conditions: PartConditions) -> dict[str, float]:
        """Bus of an ideal capacitor-input rectifier, [V] by node.

        A sine behind two diodes and the resistance of the legs charges the bus capacitors; the sinks draw
        their set current while the bus is above the string. Good enough to begin with; the engine does the
        rest.
        """
        circuit, string_c = self.circuit, conditions.temperature_c("string")
        resistance_ohm = self.mains.resistance_ohm + 0.5
        if self.reservoir:
            resistance_ohm += self.reservoir.electrolyte_ohm(conditions.temperature_c("electrolytic"))
        legs = circuit.carrying_mains()
        resistance_ohm += sum(part.cold_ohm for part in legs if isinstance(part, Resists))
        # Parts further on may have split all capacitors off the bus; its tracks are left.
        stored_f = sum(part.stored_f for part in circuit.bus_capacitors) or TRACKS_F
        folded = 0.0 if conditions.shut else circuit.foldback_ratio(conditions.temperature_c("die"))
        set_a = self.lit_a * folded
        string_v = circuit.light_v(max(set_a, DARK_A), string_c) + 1.0
        bus_v = settled_bus_v(peak_v, cycle_s, stored_f, resistance_ohm, set_a, string_v)
        return circuit.charged_v(bus_v, string_v, string_c)

    def facts(self) -> Iterator[Fact]:
        """Yield what follows from the values and helps to see a slip of the pen."""
        sinks, string, mains = self.sinks, self.string, self.mains
        string_v = string.voltage_v(sinks.set_current_a)
        share = string_v / mains.peak_v
        each_led_a = sinks.set_current_a / string.parallel
        yield Fact(
            "set current, cold",
            f"{short(AMPERE, sinks.set_current_a)} ({sinks.count} × {short(AMPERE, sinks.each_a)}), "
            f"{short(AMPERE, each_led_a)} in each LED of {short(AMPERE, string.forward_current_a)}",
        )
        yield Fact(
            "string at that current",
            f"{short(VOLT, string_v)}, {short(RATIO, share)} of the mains peak ({short(VOLT, mains.peak_v)})",
        )
        if self.reservoir is None:
            # Closed form: the sine is above the string's voltage for this share of each half cycle.
            conducting = 1.0 - 2.0 / math.pi * math.asin(min(1.0, share))
            yield Fact("without a reservoir", f"lit for about {short(RATIO, conducting)} of each half cycle")
        else:
            stored_j = 0.5 * self.reservoir.capacitance_f * mains.peak_v**2
            yield Fact("reservoir at the mains peak", f"{short(JOULE, stored_j)} stored")
        if self.varistor is not None:
            yield Fact(
                "varistor exponent",
                f"{self.varistor.exponent('nominal'):.1f}, of the high disc "
                f"{self.varistor.exponent('high'):.1f}, between {short(AMPERE, 1e-3)} and "
                f"{short(AMPERE, self.varistor.clamping_current_a)}",
            )

    def inconsistencies(self) -> Iterator[Inconsistency]:
        """The string must be able to light on this mains, and to carry what the sinks let through."""
        # A current that gives first light; at the set current a steep string may hold more than the mains.
        first_light_a = 0.01 * self.sinks.set_current_a
        highest_v = 1.1 * self.mains.peak_v
        if self.string.voltage_v(first_light_a) > highest_v:
            most = math.floor(highest_v * self.string.series / self.string.voltage_v(first_light_a))
            yield Inconsistency(
                "string.series",
                f"at most {most} LEDs of {VOLT.format(self.string.forward_voltage_v)}, or the lamp never "
                f"lights: the mains peak is {VOLT.format(self.mains.peak_v, 4)}",
            )
        most_a = 20 * self.string.forward_current_a * self.string.parallel
        if self.sinks.set_current_a > most_a:
            yield Inconsistency(
                "sinks.sense_resistor",
                f"a set current of at most {AMPERE.format(most_a, 4)}, 20 times the string's test current "
                f"({self.sinks.count} sinks set {AMPERE.format(self.sinks.set_current_a, 4)})",
            )

    def _parts(self) -> Iterator[Part]:
        line_f = "line_f" if self.line_fusing else "line"
        neutral_f = "neutral_f" if self.neutral_fusing else "neutral"
        if self.line_fusing:
            yield FusingResistor("line_fusing", ("line", "line_f"), self.line_fusing, "line", seat="series")
        if self.neutral_fusing:
            at = ("neutral", "neutral_f")
            yield FusingResistor("neutral_fusing", at, self.neutral_fusing, "neutral", seat="series")
        if self.varistor:
            at = {
                "mains terminals": ("line", "neutral"),
                "behind line fusing": (line_f, "neutral"),
                "behind both fusing": (line_f, neutral_f),
            }[self.varistor.place]
            yield Varistor("varistor", at, self.varistor)
        yield Bridge("bridge", (line_f, neutral_f, "bus", "minus"), self.bridge)
        if self.film:
            yield FilmCapacitor("film", ("bus", "minus"), self.film)
        if self.bleed:
            yield BleedResistor("bleed", ("bus", "minus"), self.bleed)
        if self.reservoir:
            yield Electrolytic("reservoir", ("bus", "minus"), self.reservoir)
        yield StrayCapacitance(
            "stray", ("bus", "minus"), StrayValues(capacitance_f=self.bridge.stray_capacitance_f)
        )
        yield LedString("string", ("bus", "drain"), self.string)
        if self.sinks.drain_capacitor_f is not None:
            stray = StrayValues(capacitance_f=self.sinks.drain_capacitor_f)
            yield DrainCapacitor("drain_capacitor", ("drain", "minus"), stray, "drain")
        yield LinearSink("sinks", ("drain", "minus"), self.sinks)


def settled_bus_v(
    peak_v: float, cycle_s: float, capacitance_f: float, resistance_ohm: float, set_a: float, string_v: float
) -> float:
    """Bus voltage at a zero crossing of an ideal capacitor-input rectifier behind a resistance [V]."""
    steps = 100
    step_s = cycle_s / 2 / steps
    share = -math.expm1(-step_s / (resistance_ohm * capacitance_f))
    sines = [peak_v * math.sin(math.pi * n / steps) - 1.8 for n in range(steps)]

    def change_v(bus_v: float) -> float:
        """Change of the bus over a half wave that it begins at a voltage."""
        before_v = bus_v
        for sine_v in sines:
            # Just below the string voltage the current fades out instead of switching off.
            drawn_a = set_a * min(1.0, max(0.0, (bus_v - 0.93 * string_v) / (0.07 * string_v)))
            target_v = sine_v - resistance_ohm * drawn_a
            if target_v > bus_v:
                bus_v += (target_v - bus_v) * share
            else:
                bus_v = max(0.0, bus_v - drawn_a * step_s / capacitance_f)
            bus_v = max(bus_v, 0.0)
        return bus_v - before_v

    # An empty bus rises and one at the peak falls; to get there may take a reservoir seconds.
    if change_v(0.0) <= 0.0:
        return 0.0
    from scipy.optimize import brentq  # here: a command that only looks at a lamp needs no solver

    return float(brentq(change_v, 0.0, peak_v, xtol=1e-4 * peak_v))


def short(unit: Unit, value: float) -> str:
    """Three digits of a quantity."""
    return unit.format(value, 3)
