"""Linear sinks: separate constant-current regulators on a common drain, each with its sense resistor.

    di/dt = 2π · bandwidth · (reference - v_sense),    gate between 0 and its rail, drive limited to some 0.1
    mA

A power MOSFET over a sense resistor, its gate driven by an error amplifier of limited current: it saturates
while the bus is too low, but does not wind up. The drain breaks down at its avalanche voltage.

Where a lamp file gives them: above a drain voltage the reference falls as one over what a low-pass shows of
it (power foldback); the chips take a current of their own; and too hot they hold their gates down.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from coldiron.lamp.parts import SUPPLY_FULL_V, THERMAL_VOLTAGE_25C_V
from coldiron.lamp.parts import Sinks as LinearSinkValues
from coldiron.parts.part import Array, Part, Rating, TestConditions, Waveforms, between_v
from coldiron.quantities import AMPERE, OHM
from coldiron.readings import sampling

CLAMP_SATURATION_A = 1e-14
"""Of the diodes that hold a gate between zero and its rail."""
FOLDBACK_OHM = 10e3
"""Of the low-pass through which a power foldback sees the drain; any will do, the delay is the lamp's."""


@dataclass(frozen=True)
class SinkValues:
    """One of the separate sinks."""

    number: int
    reference_v: float
    sense_ohm: float
    foldback_v: float | None


@dataclass(frozen=True)
class SinksValues:
    """All sinks and the model they share."""

    count: int
    each: tuple[SinkValues, ...]
    rail_v: float
    clamp_a: float
    drive_a: float
    gain_per_v: float
    threshold_v: float
    kp: float
    on_ohm: float
    gate_f: float
    reverse_f: float
    output_f: float
    breakdown_v: float
    foldback_ohm: float
    foldback_f: float | None
    supply_a: float | None
    supply_full_v: float


class LinearSink(Part):
    """All separate sinks between a drain and a low end."""

    values: LinearSinkValues
    kind: ClassVar[str] = "linear sink"
    symbol: ClassVar[str] = "sinks"
    known_by: ClassVar[str] = "count"

    def deck(self, conditions: TestConditions) -> Mapping[str, object]:
        """Values of every sink and the models they share."""
        return {
            "x": regulators(self.values, conditions.temperature_c(self.thermal_seat), shut=conditions.shut),
            "s": self.suffix,
            "low": "" if self.n("b") == "0" else f",{self.n('b')}",
        }

    @property
    def suffix(self) -> str:
        """What ends the names of a further group of sinks."""
        return "" if self.name == "sinks" else f"_{self.tag}"

    @property
    def thermal_seat(self) -> str:
        """The dies."""
        return "die"

    def inner_nodes(self) -> tuple[str, ...]:
        """Rail, gates and sense resistors, and the drain as a power foldback sees it."""
        numbers = range(1, self.values.count + 1)
        folds = ("follow", "foldback") if self.values.foldback_power_w is not None else ()
        shared = (f"{x}{self.suffix}" for x in ("rail", *folds))
        return (*shared, *(f"{x}{k}{self.suffix}" for k in numbers for x in ("gate", "sense")))

    def kept(self) -> tuple[str, ...]:
        """Voltages of the sense resistors."""
        return tuple(f"v(sense{k}{self.suffix})".lower() for k in range(1, self.values.count + 1))

    def each_a(self, w: Waveforms) -> list[Array]:
        """Current into the drain of each [A]: over its sense resistor, and what the chip itself takes."""
        numbers, low, v = range(1, self.values.count + 1), self.n("b"), self.values
        own_a = 0.0 if v.supply_current_a is None else v.supply_a(self.across_v(w))
        return [
            np.asarray(between_v(w, f"sense{k}{self.suffix}", low) / v.sense_resistor_ohm + own_a)
            for k in numbers
        ]

    def current_a(self, w: Waveforms) -> Array:
        """Current of all [A]."""
        return np.asarray(np.sum(self.each_a(w), axis=0))

    def each_w(self, w: Waveforms) -> list[float]:
        """Mean power into each, its sense resistor included [W]."""
        volt = self.across_v(w)
        return [sampling.mean_of_product(w.time_s, volt, row) for row in self.each_a(w)]

    def dissipated_w(self, w: Waveforms) -> float:
        """Mean power into all [W]."""
        return float(sum(self.each_w(w)))

    @property
    def set_current_a(self) -> float:
        """Current of all, cold [A]."""
        return self.values.set_current_a

    def ratings(self) -> Iterator[Rating]:
        """Drain voltage, watts, die; avalanche energy and peak current of one."""
        v = self.values
        yield Rating("drain voltage", "highest_V", v.drain_voltage_v, "drain_voltage")
        yield Rating("watts of one", "worst_W", v.power_w, "power")
        yield Rating("die temperature", "worst_C", v.maximum_die_c, "maximum_die")
        yield Rating("drain voltage", "peak_V", v.drain_voltage_v, "drain_voltage", pulse=True)
        yield Rating("pulse energy of one", "excess_J", v.avalanche_energy_j, "avalanche_energy", pulse=True)
        yield Rating("peak current of one", "peak_A", v.peak_current_a, "peak_current", pulse=True)

    def text(self) -> tuple[str, ...]:
        """How many, what each holds, and by which resistor."""
        v = self.values
        return f"{v.count} × {AMPERE.format(v.each_a, 3)}", f"{OHM.format(v.sense_resistor_ohm)} each"


def sink_references_v(sinks: LinearSinkValues, die_c: float) -> list[float]:
    """Sense voltages of the separate sinks at a die temperature, fanned evenly over the spread [V].

    Examples
    --------
    >>> from coldiron.lamp.parts import Sinks
    >>> [round(v, 4) for v in sink_references_v(Sinks(count=3, sense_resistor_ohm=10.0), 25.0)]
    [0.582, 0.6, 0.618]
    """
    held = sinks.sense_voltage_v * sinks.foldback_ratio(die_c)
    if sinks.count == 1:
        return [held]
    fan = np.linspace(-sinks.spread_ratio, sinks.spread_ratio, sinks.count)
    return [held * (1.0 + float(share)) for share in fan]


def _each_sink(sinks: LinearSinkValues, die_c: float, *, shut: bool) -> Iterator[SinkValues]:
    for number, reference_v in enumerate(sink_references_v(sinks, die_c), start=1):
        foldback_v = None
        if sinks.foldback_power_w is not None and not shut:
            # Each sink holds the same power, from the drain voltage at which its own set current makes it.
            foldback_v = sinks.foldback_power_w * sinks.sense_resistor_ohm / reference_v
        # A shut sink's amplifier pulls its gate down as hard as it can.
        held_v = -sinks.sense_voltage_v if shut else reference_v
        yield SinkValues(number, held_v, sinks.sense_resistor_ohm, foldback_v)


def regulators(sinks: LinearSinkValues, die_c: float, *, shut: bool = False) -> SinksValues:
    """Values of every regulator at a die temperature [°C]; `shut` holds them off."""
    gate_f = sinks.gate_capacitance_f + sinks.reverse_capacitance_f
    return SinksValues(
        count=sinks.count,
        each=tuple(_each_sink(sinks, die_c, shut=shut)),
        # The clamp lets the gate pass the rail by its forward voltage, so the rail is set lower by that.
        rail_v=sinks.gate_rail_v
        - THERMAL_VOLTAGE_25C_V * math.log1p(sinks.gate_drive_a / CLAMP_SATURATION_A),
        clamp_a=CLAMP_SATURATION_A,
        drive_a=sinks.gate_drive_a,
        gain_per_v=2 * math.pi * sinks.bandwidth_hz * gate_f / sinks.gate_drive_a,
        threshold_v=sinks.gate_threshold_v,
        kp=sinks.gain_a_per_v2,
        on_ohm=sinks.on_resistance_ohm,
        gate_f=sinks.gate_capacitance_f,
        reverse_f=sinks.reverse_capacitance_f,
        output_f=sinks.output_capacitance_f,
        breakdown_v=sinks.breakdown_v,
        foldback_ohm=FOLDBACK_OHM,
        foldback_f=None if sinks.foldback_lag_s is None else sinks.foldback_lag_s / FOLDBACK_OHM,
        supply_a=None if sinks.supply_current_a is None else sinks.count * sinks.supply_current_a,
        supply_full_v=SUPPLY_FULL_V,
    )
