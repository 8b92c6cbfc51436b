"""Half wave: one diode in the line in place of a bridge, linear sinks behind it; neutral is the minus.

line --[line fusing]-- line_f --|>|rectifier-- bus --+-- film, bleed, reservoir --+
                                                   string                        |
neutral == minus ------------------------------------ sinks ---------------------+
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import ClassVar, Literal

from coldiron.lamp import parts as values
from coldiron.lamp.lamp import Lamp
from coldiron.lamp.model import Fact
from coldiron.lamp.topologies.linear_sinks import short
from coldiron.lamp.varistor import Varistor as VaristorValues
from coldiron.parts.bleed_resistor import BleedResistor
from coldiron.parts.circuit import Circuit
from coldiron.parts.diode import Diode, DiodeValues
from coldiron.parts.electrolytic import Electrolytic
from coldiron.parts.film_capacitor import FilmCapacitor
from coldiron.parts.fusing_resistor import FusingResistor
from coldiron.parts.led_string import LedString
from coldiron.parts.linear_sink import LinearSink
from coldiron.parts.part import Part
from coldiron.parts.stray_capacitance import StrayCapacitance, StrayValues
from coldiron.parts.varistor import Varistor
from coldiron.parts.wire import Wire, WireValues
from coldiron.quantities import AMPERE, RATIO, VOLT

STRAY_F = 20e-12
"""Tracks and leads across the bus (typical)."""


class HalfWaveLamp(Lamp):
    """A lamp with one rectifier diode and linear sinks. A part that the lamp does not have is None."""

    topology_word: ClassVar[str] = "half wave"
    anchors: ClassVar[Mapping[str, str]] = {"bus": "string", "drain": "sinks"}
    settles_slowly: ClassVar[bool] = True
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

    topology: Literal["half wave"]
    line_fusing: values.FusingResistor | None = None
    varistor: VaristorValues | None = None
    rectifier: DiodeValues = DiodeValues()
    film: values.FilmCapacitor | None = None
    bleed: values.BleedResistor | None = None
    reservoir: values.ReservoirCapacitor | None = None
    string: values.LedString
    sinks: values.Sinks

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
        yield Wire("return", ("neutral", "minus"), WireValues())
        yield Diode("rectifier", (line_f, "bus"), self.rectifier, seat="series")
        if self.film:
            yield FilmCapacitor("film", ("bus", "minus"), self.film)
        if self.bleed:
            yield BleedResistor("bleed", ("bus", "minus"), self.bleed)
        if self.reservoir:
            yield Electrolytic("reservoir", ("bus", "minus"), self.reservoir)
        yield StrayCapacitance("stray", ("bus", "minus"), StrayValues(capacitance_f=STRAY_F))
        yield LedString("string", ("bus", "drain"), self.string)
        yield LinearSink("sinks", ("drain", "minus"), self.sinks)

    def facts(self) -> Iterator[Fact]:
        """Yield what follows from the values and helps to see a slip of the pen."""
        string_v, peak_v = self.string.voltage_v(self.lit_a), self.mains.peak_v
        yield Fact("set current, cold", short(AMPERE, self.lit_a))
        share = short(RATIO, string_v / peak_v)
        yield Fact("string at that current", f"{short(VOLT, string_v)}, {share} of the mains peak")
