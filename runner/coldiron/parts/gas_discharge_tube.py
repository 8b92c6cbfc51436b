"""Gas discharge tube: an open gap that sparks over and then burns at a low voltage until its current fails.

    open below the spark voltage; then v = arc voltage + R · i, until |i| falls below the holding current

Whether it burns is a node of the deck between 0 and 1 that follows within a tenth of a microsecond, so that a
run can start from any state. On the mains it keeps burning after a surge with whatever current the circuit
lets through (follow current), to the next zero of the current: in series with a varistor it does not.

References
----------
Spark voltage, arc voltage 15 to 25 V and holding current 0.2 to 1 A: typical of 8 mm tubes, from memory. The
spark voltage rises with the steepness of the front; give the one that belongs to the surge.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Annotated, ClassVar

from pydantic import Field

from coldiron.lamp.model import Part as PartValues
from coldiron.parts.part import Array, Duty, PartConditions, PartWaveforms, Rating
from coldiron.parts.roles import Clamps
from coldiron.parts.tolerance import PRACTICE, Tolerance
from coldiron.quantities import VOLT, Ampere, Farad, Ohm, Second, Volt


class GasDischargeTubeValues(PartValues):
    """Spark, arc and holding point."""

    spark_voltage_v: Annotated[Volt, Field(ge=60, le=6000)] = 600.0
    arc_voltage_v: Annotated[Volt, Field(ge=5, le=60)] = 20.0
    arc_resistance_ohm: Annotated[Ohm, Field(ge=0.01, le=10)] = 0.1
    holding_current_a: Annotated[Ampere, Field(ge=1e-3, le=10)] = 0.5
    ignition_s: Annotated[Second, Field(ge=1e-8, le=1e-5)] = 1e-7
    capacitance_f: Annotated[Farad, Field(ge=1e-13, le=1e-10)] = 1e-12
    peak_current_a: Annotated[Ampere, Field(ge=10, le=1e5)] = 5000.0


class GasDischargeTube(Clamps):
    """A tube between two points."""

    values: GasDischargeTubeValues
    kind: ClassVar[str] = "gas discharge tube"
    model: ClassVar[type[PartValues]] = GasDischargeTubeValues
    symbol: ClassVar[str] = "gap"
    guards: ClassVar[str] = "surge protection"
    known_by: ClassVar[str] = "spark_voltage"

    def deck(self, conditions: PartConditions) -> Mapping[str, object]:
        """Its points, and how fast it ignites and dies."""
        v = self.values
        return {
            "spark_v": v.spark_voltage_v,
            "arc_v": v.arc_voltage_v,
            "ohm": v.arc_resistance_ohm,
            "hold_v": v.holding_current_a * v.arc_resistance_ohm + v.arc_voltage_v,
            "per_s": 1e-9 / v.ignition_s,
            "dies_per_s": 1e-9 / (20 * v.ignition_s),
            "farad": v.capacitance_f,
        }

    def inner_nodes(self) -> tuple[str, ...]:
        """Behind its ammeter, and whether it burns."""
        return self.inner("g"), self.inner("burns")

    def kept(self) -> tuple[str, ...]:
        """Its ammeter."""
        return (f"i(v{self.tag.lower()})",)

    def current_a(self, w: PartWaveforms) -> Array:
        """Current through the gap [A]."""
        return w.i(f"v{self.tag.lower()}")

    @property
    def clamps_from_v(self) -> float:
        """Spark voltage [V]."""
        return self.values.spark_voltage_v

    def ratings(self, duty: Duty) -> Iterator[Rating]:
        """Current of one pulse."""
        if duty.pulse:
            reading = duty.id(f"{self.name}_peak_A")
            yield Rating("peak current", reading, self.values.peak_current_a, "peak_current")

    def tolerances(self) -> Iterator[Tolerance]:
        """That of its spark-over."""
        yield Tolerance("spark_voltage", 0.2, f"±20 % ({PRACTICE})")

    def text(self) -> tuple[str, ...]:
        """Its spark voltage."""
        return (f"sparks at {VOLT.format(self.values.spark_voltage_v)}",)
