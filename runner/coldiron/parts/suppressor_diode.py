"""Suppressor diode: an avalanche diode that clamps, either way or only one.

    i grows from 1 mA at its breakdown voltage along a junction and a series resistance

Breakdown is taken 11 % above the stand-off voltage (middle of the usual 5 % types, from memory); the
resistance is what lies between breakdown and clamping voltage at the peak pulse current.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Annotated, ClassVar

from pydantic import Field

from coldiron.lamp.model import Part as PartValues
from coldiron.parts.part import Array, Duty, PartConditions, PartWaveforms, Rating, between_v
from coldiron.parts.roles import Clamps
from coldiron.parts.tolerance import PRACTICE, Tolerance
from coldiron.quantities import VOLT, WATT, Farad, Joule, Ohm, Volt, Watt

BREAKDOWN_RATIO = 1.11


class SuppressorDiodeValues(PartValues):
    """Stand-off voltage and what it survives; unset, the series resistance follows from the pulse power."""

    standoff_voltage_v: Annotated[Volt, Field(ge=5, le=1000)]
    pulse_power_w: Annotated[Watt, Field(ge=10, le=1e5)] = 600.0
    pulse_energy_j: Annotated[Joule, Field(ge=1e-3, le=1e3)] = 0.85
    series_resistance_ohm: Annotated[Ohm, Field(ge=1e-3, le=1e3)] | None = None
    capacitance_f: Annotated[Farad, Field(ge=1e-12, le=1e-7)] = 50e-12
    two_way: bool = True

    @property
    def breakdown_v(self) -> float:
        """Voltage at 1 mA [V]."""
        return BREAKDOWN_RATIO * self.standoff_voltage_v

    @property
    def ohm(self) -> float:
        """As given, else from a clamping voltage of 1.62 times the stand-off at its pulse power [Ω]."""
        if self.series_resistance_ohm is not None:
            return self.series_resistance_ohm
        clamping_v = 1.62 * self.standoff_voltage_v
        return (clamping_v - self.breakdown_v) * clamping_v / self.pulse_power_w


class SuppressorDiode(Clamps):
    """Clamps where its first terminal is positive; both ways when it is a two-way one."""

    values: SuppressorDiodeValues
    kind: ClassVar[str] = "suppressor diode"
    model: ClassVar[type[PartValues]] = SuppressorDiodeValues
    symbol: ClassVar[str] = "tvs"
    guards: ClassVar[str] = "surge protection"
    known_by: ClassVar[str] = "standoff_voltage"

    def deck(self, conditions: PartConditions) -> Mapping[str, object]:
        """Breakdown, resistance, capacitance."""
        v = self.values
        # Nose to nose, the forward drop of one junction stands above the breakdown of the other.
        return {
            "volt": v.breakdown_v - (0.6 if v.two_way else 0.0),
            "ohm": v.ohm,
            "farad": v.capacitance_f,
            "two_way": v.two_way,
        }

    @property
    def two_way(self) -> bool:
        """As it is made."""
        return self.values.two_way

    def inner_nodes(self) -> tuple[str, ...]:
        """Between the junctions where there are two, and before its resistance."""
        return (self.inner("m"), self.inner("r")) if self.values.two_way else (self.inner("r"),)

    def guess(self, points_v: Mapping[str, float], string_c: float) -> dict[str, float]:
        """At its second terminal: it does not clamp."""
        return dict.fromkeys(self.inner_nodes(), points_v.get(self.at[1], 0.0))

    def current_a(self, w: PartWaveforms) -> Array:
        """Voltage across its resistance, over that [A]."""
        return between_v(w, self.inner("r"), self.n("b")) / self.values.ohm

    @property
    def clamps_from_v(self) -> float:
        """Voltage at one milliampere [V]."""
        return self.values.breakdown_v

    def ratings(self, duty: Duty) -> Iterator[Rating]:
        """Power and energy of a pulse."""
        v = self.values
        if duty.pulse:
            yield Rating("pulse power", duty.id(f"{self.name}_peak_W"), v.pulse_power_w, "pulse_power")
            yield Rating("pulse energy", duty.id(f"{self.name}_energy_J"), v.pulse_energy_j, "pulse_energy")

    def pulse_readings(self, w: PartWaveforms) -> Mapping[str, float]:
        """Highest power [W]."""
        return {"peak_W": float(self.watts(w).max())}

    def tolerances(self) -> Iterator[Tolerance]:
        """That of its breakdown."""
        yield Tolerance("standoff_voltage", 0.05, f"±5 % ({PRACTICE})")

    def text(self) -> tuple[str, ...]:
        """Stand-off voltage and pulse power."""
        return f"{VOLT.format(self.values.standoff_voltage_v)} stand-off", WATT.format(
            self.values.pulse_power_w
        )
