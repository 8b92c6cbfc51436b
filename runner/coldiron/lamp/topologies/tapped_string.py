"""Tapped string: segments that are switched on one after the other as the sine rises, without a reservoir.

    line --[line fusing]-- line_f --bridge-- bus --+-- film --+
                                                string1       |
                                                   tap1 -- sink1 --+
                                                string2            |
                                                   tap2 -- sink2 --+-- sense -- sense resistor -- minus
                                                  ...              |
                                                   tapN -- sinkN --+

All sinks share one sense resistor, and a tap further down has a higher reference: once it carries current,
the shared resistor holds the taps above it shut. With a resistor each, they would not switch off.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Annotated, ClassVar, Literal

from pydantic import Field

from coldiron.lamp import parts as values
from coldiron.lamp.lamp import Lamp
from coldiron.lamp.model import Fact, Inconsistency
from coldiron.lamp.topologies.linear_sinks import short
from coldiron.lamp.varistor import Varistor as VaristorValues
from coldiron.parts.bleed_resistor import BleedResistor
from coldiron.parts.bridge import Bridge
from coldiron.parts.circuit import Circuit
from coldiron.parts.film_capacitor import FilmCapacitor
from coldiron.parts.fusing_resistor import FusingResistor
from coldiron.parts.led_string import LedString
from coldiron.parts.part import Part
from coldiron.parts.resistor import Resistor, ResistorValues
from coldiron.parts.stray_capacitance import StrayCapacitance, StrayValues
from coldiron.parts.tap_sink import TapSink, reference_ratios
from coldiron.parts.varistor import Varistor
from coldiron.quantities import AMPERE, RATIO, VOLT, Ratio


class TappedString(values.LedString):
    """LEDs of one segment, and how many segments there are, each with a tap at its end.

    `series` counts the LEDs of one segment.
    """

    segments: Annotated[int, Field(ge=2, le=8)]


class TapSinks(values.Sinks):
    """The sinks at the taps, one each, over one shared resistor; the last tap has the whole reference.

    `step_ratio` is by how much less each tap above has of it.
    """

    count: Annotated[int, Field(ge=1, le=1)] = 1
    step_ratio: Annotated[Ratio, Field(ge=0.005, le=0.5)] = 0.05


class TappedStringLamp(Lamp):
    """A lamp with a tapped string. A part that the lamp does not have is None."""

    topology_word: ClassVar[str] = "tapped string"
    anchors: ClassVar[Mapping[str, str]] = {"bus": "string1"}
    settled_absent: ClassVar[Mapping[str, tuple[str, ...]]] = {
        "line_fusing": ("line_fusing_W",),
        "varistor": ("varistor_W",),
        "bleed": ("bleed_W",),
    }
    pulse_absent: ClassVar[Mapping[str, tuple[str, ...]]] = {
        "varistor": ("varistor_peak_A", "varistor_energy_J"),
    }

    topology: Literal["tapped string"]
    line_fusing: values.FusingResistor | None = None
    varistor: VaristorValues | None = None
    bridge: values.Bridge = values.Bridge()
    film: values.FilmCapacitor | None = None
    bleed: values.BleedResistor | None = None
    string: TappedString
    sinks: TapSinks

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
        yield Bridge("bridge", (line_f, "neutral", "bus", "minus"), self.bridge)
        if self.film:
            yield FilmCapacitor("film", ("bus", "minus"), self.film)
        if self.bleed:
            yield BleedResistor("bleed", ("bus", "minus"), self.bleed)
        stray = StrayValues(capacitance_f=self.bridge.stray_capacitance_f)
        yield StrayCapacitance("stray", ("bus", "minus"), stray)
        above = "bus"
        taps = range(1, self.string.segments + 1)
        for tap in taps:
            yield LedString(f"string{tap}", (above, f"tap{tap}"), self.string)
            above = f"tap{tap}"
        ratios = reference_ratios(self.string.segments, self.sinks.step_ratio)
        for tap, ratio in zip(taps, ratios, strict=True):
            yield TapSink(f"sink{tap}", (f"tap{tap}", "sense"), self.sinks, reference_ratio=ratio)
        sense = ResistorValues(resistance_ohm=self.sinks.sense_resistor_ohm, power_w=self.sinks.sense_power_w)
        yield Resistor("sense_resistor", ("sense", "minus"), sense)

    @property
    def lit_a(self) -> float:
        """Current while all segments are lit, cold [A]."""
        return self.sinks.each_a

    def facts(self) -> Iterator[Fact]:
        """Yield what follows from the values and helps to see a slip of the pen."""
        lit_a, peak_v = self.lit_a, self.mains.peak_v
        taps = [self.string.voltage_v(lit_a) * tap for tap in range(1, self.string.segments + 1)]
        yield Fact(
            "current with all segments lit",
            f"{short(AMPERE, lit_a)}, {short(AMPERE, lit_a / self.string.parallel)} in each LED of "
            f"{short(AMPERE, self.string.forward_current_a)}",
        )
        shares = ", ".join(short(RATIO, volt / peak_v) for volt in taps)
        yield Fact("taps at that current", f"{', '.join(short(VOLT, volt) for volt in taps)}")
        yield Fact("of the mains peak", f"{shares} of {short(VOLT, peak_v)}")

    def inconsistencies(self) -> Iterator[Inconsistency]:
        """The first segment must be able to light, and every tap keep a reference."""
        if self.string.voltage_v(1e-4) > self.mains.peak_v:
            yield Inconsistency(
                "string.series", f"fewer LEDs: the mains peak is {VOLT.format(self.mains.peak_v, 4)}"
            )
        if self.sinks.step_ratio * (self.string.segments - 1) > 0.9:
            most = 0.9 / (self.string.segments - 1)
            yield Inconsistency(
                "sinks.step", f"at most {RATIO.format(most, 3)}, or the first tap has no reference left"
            )
