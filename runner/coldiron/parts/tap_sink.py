"""Tap sink: one of several regulators over one shared sense resistor, each at a tap of the string.

A tap further down has a higher reference: once it carries current, the shared resistor holds the taps above
it shut. The regulator itself is that of `coldiron.parts.linear_sink`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from coldiron.lamp.model import Part as PartValues
from coldiron.lamp.parts import Sinks as LinearSinkValues
from coldiron.parts.linear_sink import limit_of, regulators, sink_assumptions, sink_tolerances
from coldiron.parts.part import Array, Duty, PartConditions, PartWaveforms, Rating, between_v
from coldiron.parts.roles import Regulates
from coldiron.parts.tolerance import Assumption, Tolerance
from coldiron.preferred import E24, Bought
from coldiron.quantities import AMPERE


@dataclass(frozen=True, eq=False)
class TapSink(Regulates):
    """A regulator between a tap and the shared resistor; `reference_ratio` scales its reference."""

    values: LinearSinkValues
    reference_ratio: float = 1.0

    kind: ClassVar[str] = "tap sink"
    placeable: ClassVar[bool] = False
    model: ClassVar[type[PartValues]] = LinearSinkValues
    symbol: ClassVar[str] = "sinks"
    shares_readings: ClassVar[bool] = True
    known_by: ClassVar[str] = "sense_resistor"
    bought: ClassVar[Mapping[str, Bought]] = {"sense_resistor": Bought(series=E24)}
    terminals: ClassVar[tuple[str, ...]] = ("a", "b")

    def deck(self, conditions: PartConditions) -> Mapping[str, object]:
        """Values of the regulator and its reference."""
        x = regulators(self.values.model_copy(update={"count": 1}), conditions.temperature_c("die"))
        return {"x": x, "reference_v": x.each[0].reference_v * self.reference_ratio}

    @property
    def thermal_seat(self) -> str:
        """The dies."""
        return "die"

    def inner_nodes(self) -> tuple[str, ...]:
        """Rail, gate, and behind its ammeter."""
        return self.inner("rail"), self.inner("gate"), self.inner("drain")

    def kept(self) -> tuple[str, ...]:
        """Its ammeter."""
        return (f"i(v{self.tag.lower()})",)

    def current_a(self, w: PartWaveforms) -> Array:
        """Current of its transistor [A]."""
        return w.i(f"v{self.tag.lower()}")

    def each_a(self, w: PartWaveforms) -> list[Array]:
        """Its one current [A]."""
        return [self.current_a(w)]

    def each_w(self, w: PartWaveforms) -> list[float]:
        """Its mean power [W]."""
        return [self.dissipated_w(w)]

    @property
    def set_current_a(self) -> float:
        """Current it holds, cold, while it is the last one lit [A]."""
        return self.reference_ratio * self.values.each_a

    @property
    def count(self) -> int:
        """One."""
        return 1

    @property
    def held_a(self) -> float:
        """The current it holds, cold [A]."""
        return self.set_current_a

    def allowed_a(self, w: PartWaveforms, die_c: float) -> Array:
        """Current that all of them together let through at each moment [A]: less where they fold back."""
        folded = np.maximum(1.0, self.across_v(w) / self.values.foldback_drain_v(die_c))
        return np.asarray(self.set_current_a * self.foldback_ratio(die_c) / folded)

    @property
    def shut_off_c(self) -> float | None:
        """Die temperature at which they switch off [°C]; None where they never do."""
        return self.values.shut_off_c

    @property
    def restarts_c(self) -> float | None:
        """Die temperature at which they come back [°C]."""
        return self.values.restarts_c

    @property
    def breakdown_v(self) -> float:
        """Voltage at which one breaks down [V]."""
        return self.values.breakdown_v

    def headroom_v(self, w: PartWaveforms) -> Array:
        """Voltage across its transistor [V]."""
        return between_v(w, self.inner("drain"), self.n("b"))

    @property
    def drain_rating_v(self) -> float:
        """Voltage it is rated for [V]."""
        return self.values.drain_voltage_v

    @property
    def on_ohm(self) -> float:
        """Resistance of all of them side by side while they are fully on [Ω]."""
        return (self.values.on_resistance_ohm + self.values.sense_resistor_ohm) / self.count

    def limited_by(self, w: PartWaveforms) -> str:
        """What set its largest current in a disturbance."""
        return limit_of(self.values, self.each_a(w), self.across_v(w))

    def foldback_ratio(self, die_c: float) -> float:
        """Share of the cold current that is left at a die temperature."""
        return self.values.foldback_ratio(die_c)

    @property
    def foldback_floor_ratio(self) -> float:
        """Share that is left at any die temperature; all of it where nothing folds back."""
        return self.values.foldback_floor_ratio if self.values.foldback_slope_per_k > 0.0 else 1.0

    @property
    def maximum_die_c(self) -> float:
        """Hottest its dies may be [°C]."""
        return self.values.maximum_die_c

    @property
    def each_power_w(self) -> float:
        """Watts one of them may take [W]."""
        return self.values.power_w

    def ratings(self, duty: Duty) -> Iterator[Rating]:
        """Drain voltage, watts, die; avalanche energy and peak current of one."""
        v = self.values
        if not duty.pulse:
            yield Rating("drain voltage", "drain_highest_V", v.drain_voltage_v, "drain_voltage")
            yield Rating("watts of one", "sink_worst_W", v.power_w, "power")
            yield Rating("die temperature", "sink_die_worst_C", v.maximum_die_c, "maximum_die")
            return
        note = f"above it the drain avalanches, at {v.breakdown_v:.0f} V"
        yield Rating("drain voltage", duty.id("drain_peak_V"), v.drain_voltage_v, "drain_voltage", note)
        note, most_mj = "energy of the current above the set current", 1e3 * v.avalanche_energy_j
        yield Rating("pulse energy of one", duty.id("sink_excess_mJ"), most_mj, "avalanche_energy", note)
        yield Rating("peak current of one", duty.id("sink_peak_A"), v.peak_current_a, "peak_current")

    def tolerances(self) -> Iterator[Tolerance]:
        """Those of such a chip."""
        yield from sink_tolerances(self.values.model_copy(update={"count": 1}))

    def assumptions(self) -> Iterator[Assumption]:
        """What is assumed of such a chip."""
        yield from sink_assumptions(self.values)

    def text(self) -> tuple[str, ...]:
        """The current it holds."""
        return (AMPERE.format(self.set_current_a, 3),)


def reference_ratios(taps: int, step_ratio: float) -> tuple[float, ...]:
    """Shares of the last tap's reference, rising by a step to 1.

    Examples
    --------
    >>> [round(r, 3) for r in reference_ratios(3, 0.05)]
    [0.9, 0.95, 1.0]
    """
    return tuple(float(r) for r in 1.0 - step_ratio * np.arange(taps - 1, -1, -1))
