"""LED string: LEDs in series and parallel as one junction, scaled, behind a series resistance.

    v = N · (n kT/q · ln(1 + i/(P·Is)) + Rs · i/P + drift · (T - 25 °C))

Valid from microamperes to about three times the test current of an LED. The source in series carries the
drift (and what a saturation current too small for the engine would have added) and is at the same time the
ammeter.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import ClassVar

import numpy as np

from coldiron.lamp.model import Part as PartValues
from coldiron.lamp.parts import THERMAL_VOLTAGE_25C_V
from coldiron.lamp.parts import LedString as LedStringValues
from coldiron.parts.part import MINUS, Array, Duty, FailureMode, PartConditions, PartWaveforms, Rating
from coldiron.parts.roles import Lights
from coldiron.parts.tolerance import PRACTICE, Assumption, Tolerance
from coldiron.quantities import VOLT

RATED_PULSE_S = 1e-4
"""Pulse length behind a catalogue's LED pulse current: 0.1 ms, one tenth of the time."""
SHORT_PULSE_RATIO = 3.0
STRING_LEAKAGE_OHM = 1e10
SMALLEST_SATURATION_A = 1e-26
"""The engine takes any saturation current below 1e-28 A for 1e-28 A and says nothing (measured)."""


@dataclass(frozen=True)
class StringValues:
    """One scaled junction, and what stands in series with it.

    `offset_v` is the drift of the forward voltage with temperature, and what a saturation current too small
    for the engine would have added.
    """

    series: float
    parallel: int
    temperature_c: float
    saturation_a: float
    emission: float
    series_ohm: float
    offset_v: float
    leakage_ohm: float
    breakdown_v: float | None = None


@dataclass(frozen=True)
class Row:
    """A row of LEDs unlike the others beside it: how many it has, and an arc in it [V, Ω]."""

    series: int
    gap_v: float = 0.0
    gap_ohm: float = 0.0


CHIP_V, CHIP_REVERSE_V = 3.0, 30.0
ARC_V, ARC_OHM = 20.0, 30.0
"""An arc across a gap of less than a millimetre while a current flows: 15 to 30 V and a little with the
current (from memory; the shortest arc between metals holds 10 to 15 V)."""


@dataclass(frozen=True, eq=False)
class LedString(Lights):
    """LEDs; the first terminal is the anode. `row` is one that is broken; the others are whole."""

    values: LedStringValues
    row: Row | None = None

    kind: ClassVar[str] = "LED string"
    model: ClassVar[type[PartValues]] = LedStringValues
    symbol: ClassVar[str] = "string"
    known_by: ClassVar[str] = "series"

    def deck(self, conditions: PartConditions) -> Mapping[str, object]:
        """Values of the scaled junction; `s` ends the names of a further string."""
        at_c, v, row = conditions.temperature_c(self.thermal_seat), self.values, self.row
        if row is None:
            return {"x": junctions(v, at_c), "s": self.suffix, "row": None}
        alone = junctions(v.model_copy(update={"series": row.series, "parallel": 1}), at_c)
        alone = replace(alone, offset_v=alone.offset_v + row.gap_v, series_ohm=alone.series_ohm + row.gap_ohm)
        if v.parallel == 1:
            return {"x": alone, "s": self.suffix, "row": None}
        whole = junctions(v.model_copy(update={"parallel": v.parallel - 1}), at_c)
        return {"x": whole, "s": self.suffix, "row": alone}

    @property
    def broken_within(self) -> str:
        """The row unlike the others."""
        if self.row is None:
            return ""
        if self.row.gap_v:
            return "an arc in a row"
        return f"{self.values.series - self.row.series} short in a row"

    def failures(self) -> Iterator[FailureMode]:
        """LEDs short, which bridge themselves; one open, whose row is dark or arcs; the whole string."""
        v = self.values
        for number, many in ((1, "one LED"), (3, "three LEDs")):
            if v.series > number:
                yield FailureMode(f"{many} short", replace(self, row=Row(v.series - number)))
        if v.parallel > 1:
            says = "the row that it is in is dark"
            yield self.drifted("one LED open", says, parallel=v.parallel - 1)
        arcing = replace(self, row=Row(v.series - 1, ARC_V, ARC_OHM))
        yield FailureMode("one LED arcing", arcing, f"an arc of {ARC_V:g} V in place of it")
        yield self.broken("open")
        yield self.broken("short")

    def tester_v(self, current_a: float) -> float:
        """The row that begins to conduct first takes the current of a tester; no arc burns on it [V]."""
        whole_v = self.voltage_v(current_a) if self.row is None or self._has_second else math.inf
        if self.row is None or self.row.gap_v:
            return whole_v
        v = self.values.model_copy(update={"series": self.row.series, "parallel": 1})
        return min(v.voltage_v(current_a), whole_v)

    @property
    def _has_second(self) -> bool:
        return self.row is not None and self.values.parallel > 1

    @property
    def suffix(self) -> str:
        """What ends names that are not made from its own."""
        return "" if self.name == "string" else f"_{self.tag}"

    @property
    def thermal_seat(self) -> str:
        """The node of LEDs."""
        return "string"

    def inner_nodes(self) -> tuple[str, ...]:
        """Behind the junction, and behind the resistance."""
        second = (self.inner("row_j"), self.inner("row_k")) if self._has_second else ()
        return self.inner("j"), self.inner("k"), *second

    def kept(self) -> tuple[str, ...]:
        """Its ammeter, and that of the row unlike the others."""
        second = (f"i(v{self.inner('row').lower()})",) if self._has_second else ()
        return (f"i(v{self.tag.lower()})", *second)

    def _rows_a(self, w: PartWaveforms) -> tuple[Array, Array]:
        """Current of the rows alike, and of the one that is not [A]."""
        alike_a = w.i(f"v{self.tag.lower()}")
        return alike_a, w.i(f"v{self.inner('row').lower()}") if self._has_second else 0.0 * alike_a

    def current_a(self, w: PartWaveforms) -> Array:
        """Current of all LEDs in parallel [A]."""
        alike_a, other_a = self._rows_a(w)
        return np.asarray(alike_a + other_a)

    def shining_a(self, w: PartWaveforms) -> Array:
        """The row that lacks LEDs counts by those that it has [A]."""
        alike_a, other_a = self._rows_a(w)
        if self.row is None:
            return alike_a
        share = self.row.series / self.values.series
        return np.asarray(alike_a + share * other_a if self._has_second else share * alike_a)

    def row_a(self, w: PartWaveforms) -> Array:
        """Current of the LED that carries most at each moment [A]."""
        alike_a, other_a = self._rows_a(w)
        rows = self.values.parallel - self._has_second
        return np.maximum(alike_a / rows, other_a)

    @property
    def leds(self) -> int:
        """LEDs in series."""
        return self.values.series

    @property
    def parallel(self) -> int:
        """LEDs in parallel."""
        return self.values.parallel

    @property
    def light_tempco_per_k(self) -> float:
        """Change of light with temperature [1/K]."""
        return self.values.light_tempco_per_k

    @property
    def radiant_ratio(self) -> float:
        """Share of its watts that leave as light."""
        return self.values.radiant_ratio

    @property
    def maximum_junction_c(self) -> float:
        """Hottest its junctions may be [°C]."""
        return self.values.maximum_junction_c

    def voltage_v(self, current_a: float, temperature_c: float = 25.0) -> float:
        """Voltage of the whole string [V]."""
        return self.values.voltage_v(current_a, temperature_c)

    def guess(self, points_v: Mapping[str, float], string_c: float) -> dict[str, float]:
        """Below the junction: a steep one that begins with all of its voltage does not converge."""
        gap_v = self.row.gap_v if self.row else 0.0
        below_v = points_v.get(self.at[1], 0.0) + junctions(self.values, string_c).offset_v + gap_v
        return dict.fromkeys(self.inner_nodes(), below_v)

    def ratings(self, duty: Duty) -> Iterator[Rating]:
        """Continuous and pulse current, junction temperature."""
        v = self.values
        if not duty.pulse:
            of = "" if v.parallel == 1 else f"{v.parallel} LEDs side by side"
            unset = "" if v.continuous_current_a else "1.2 times the test current, common of catalogues"
            note = "; ".join(text for text in (of, unset) if text)
            # Half a mains cycle outlasts every pulse of a catalogue: what is held counts, not the mean.
            yield Rating(
                "continuous current", "led_held_A", v.continuous_limit_a, "continuous_current", note,
                v.continuous_current_a is None,
            )  # fmt: skip
            yield Rating("junction temperature", "string_C", v.maximum_junction_c, "maximum_junction")
            return
        ratio = duty.longer_ratio(f"{self.name}_pulse_us", RATED_PULSE_S, SHORT_PULSE_RATIO)
        note = f"given for 0.1 ms; {ratio:.2g} times that for this pulse (common practice, no source)"
        most_a, reading = ratio * v.pulse_limit_a, duty.id(f"{self.name}_peak_A")
        yield Rating("pulse current", reading, most_a, "pulse_current", note, v.pulse_current_a is None)

    def tolerances(self) -> Iterator[Tolerance]:
        """That of its forward voltage: LEDs of one lamp are of one bin, and off together."""
        source = f"bins of ±1.7 % within ±5 %; one lamp is of one bin ({PRACTICE})"
        yield Tolerance("forward_voltage", 0.05, source)

    def assumptions(self) -> Iterator[Assumption]:
        """What only a curve tracer, or a lamp at two currents, tells."""
        yield Assumption("forward_voltage", 0.95, 1.05, "the string's voltage at the crest of the mains")
        yield Assumption("slope", 0.6, 1.6, "the string's voltage at two currents")
        yield Assumption("tempco", 0.5, 2.0, "the string's voltage cold and hot at one current")
        yield Assumption("radiant", 0.5, 1.5, "the housing's temperature, and input power")

    def text(self) -> tuple[str, ...]:
        """How many, and the voltage of each."""
        v = self.values
        many = f"{v.series} × {v.parallel}" if v.parallel > 1 else f"{v.series}"
        return f"{many} LEDs", f"{VOLT.format(v.forward_voltage_v)} each"


@dataclass(frozen=True, eq=False)
class StringSection(LedString):
    """A share of a string, for decks in which the place along it matters.

    Shares of one string in series do together what the whole does: the law has every voltage in proportion to
    the LEDs in series. `begins_ratio` is how much of the string stands above it.
    """

    whole_tag: str = ""
    whole_at: tuple[str, str] = ("bus", MINUS)
    share_ratio: float = 1.0
    begins_ratio: float = 0.0

    kind: ClassVar[str] = "section of an LED string"
    placeable: ClassVar[bool] = False
    hidden: ClassVar[bool] = True

    def deck(self, conditions: PartConditions) -> Mapping[str, object]:
        """Values of its share of the junction."""
        whole = junctions(self.values, conditions.temperature_c(self.thermal_seat))
        share = replace(
            whole,
            series=float(f"{whole.series * self.share_ratio:.6g}"),
            emission=whole.emission * self.share_ratio,
            series_ohm=whole.series_ohm * self.share_ratio,
            offset_v=whole.offset_v * self.share_ratio,
            leakage_ohm=whole.leakage_ohm * self.share_ratio,
            breakdown_v=self.breakdown_v,
        )
        return {"x": share, "s": self.suffix, "row": None}

    @property
    def leds(self) -> int:
        """LEDs in series, at least one."""
        return max(1, round(float(self.values.series) * self.share_ratio))

    def voltage_v(self, current_a: float, temperature_c: float = 25.0) -> float:
        """Voltage of its share [V]."""
        return self.share_ratio * super().voltage_v(current_a, temperature_c)

    @property
    def breakdown_v(self) -> float:
        """Reverse voltage at which it conducts [V]: 30 V a chip of 3 V forward (from memory)."""
        chips = max(1, round(float(self.values.forward_voltage_v) / CHIP_V))
        return CHIP_REVERSE_V * chips * float(self.values.series) * self.share_ratio

    def begins(self, nodes_v: Mapping[str, float]) -> dict[str, float]:
        """Voltages of its upper end and inner nodes in a run of the whole string [V], by its nodes.

        What flows through the whole divides its voltages by the shares.
        """
        high, low = (nodes_v.get(point.lower(), 0.0) for point in self.whole_at)
        at_v = high + self.begins_ratio * (low - high)
        inner = {
            self.inner(end): at_v
            + self.share_ratio * (nodes_v.get(f"{self.whole_tag}_{end}".lower(), high) - high)
            for end in ("j", "k")
        }
        return {self.n("a").lower(): at_v, **{node.lower(): volt for node, volt in inner.items()}}

    def ratings(self, duty: Duty) -> Iterator[Rating]:
        """None: the whole string has them."""
        yield from ()

    def text(self) -> tuple[str, ...]:
        """Where in the string it is."""
        return (f"from {100 * self.begins_ratio:.3g} %", f"{100 * self.share_ratio:.3g} % of the string")


def junctions(string: LedStringValues, temperature_c: float) -> StringValues:
    """Scaled junction of a string at a temperature [°C]."""
    saturation_a = string.led_saturation_a * string.parallel
    emission = string.emission * string.series
    # n·Vt·ln(I/Is) is the same law for any Is once n·Vt·ln(Is'/Is) stands in series.
    engine_saturation_a = max(saturation_a, SMALLEST_SATURATION_A)
    raised_v = emission * THERMAL_VOLTAGE_25C_V * math.log(engine_saturation_a / saturation_a)
    return StringValues(
        series=string.series,
        parallel=string.parallel,
        temperature_c=temperature_c,
        saturation_a=engine_saturation_a,
        emission=emission,
        series_ohm=string.led_series_ohm * string.series / string.parallel,
        offset_v=raised_v + string.series * string.tempco_v_per_k * (temperature_c - 25.0),
        leakage_ohm=STRING_LEAKAGE_OHM,
    )
