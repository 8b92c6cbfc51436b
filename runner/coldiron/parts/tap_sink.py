"""Tap sink: one of several regulators over one shared sense resistor, each at a tap of the string.

A tap further down has a higher reference: once it carries current, the shared resistor holds the taps above
it shut. The regulator itself is that of `coldiron.parts.linear_sink`.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from coldiron.lamp.parts import Sinks as LinearSinkValues
from coldiron.parts.linear_sink import regulators
from coldiron.parts.part import Array, Part, Rating, TestConditions, Waveforms
from coldiron.quantities import AMPERE


@dataclass(frozen=True, eq=False)
class TapSink(Part):
    """A regulator between a tap and the shared resistor; `reference_ratio` scales its reference."""

    values: LinearSinkValues
    reference_ratio: float = 1.0

    kind: ClassVar[str] = "tap sink"
    symbol: ClassVar[str] = "sinks"
    known_by: ClassVar[str] = "sense_resistor"
    terminals: ClassVar[tuple[str, ...]] = ("a", "b")

    def deck(self, conditions: TestConditions) -> Mapping[str, object]:
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

    def current_a(self, w: Waveforms) -> Array:
        """Current of its transistor [A]."""
        return w.i(f"v{self.tag.lower()}")

    def each_a(self, w: Waveforms) -> list[Array]:
        """Its one current [A]."""
        return [self.current_a(w)]

    def each_w(self, w: Waveforms) -> list[float]:
        """Its mean power [W]."""
        return [self.dissipated_w(w)]

    @property
    def set_current_a(self) -> float:
        """Current it holds, cold, while it is the last one lit [A]."""
        return self.reference_ratio * self.values.each_a

    def ratings(self) -> Iterator[Rating]:
        """Drain voltage, watts, die; avalanche energy and peak current."""
        v = self.values
        yield Rating("drain voltage", "highest_V", v.drain_voltage_v, "drain_voltage")
        yield Rating("watts of one", "W", v.power_w, "power")
        yield Rating("drain voltage", "peak_V", v.drain_voltage_v, "drain_voltage", pulse=True)
        yield Rating("peak current of one", "peak_A", v.peak_current_a, "peak_current", pulse=True)

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
