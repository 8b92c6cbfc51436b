"""RC snubber: a resistor and a capacitor in series, in one part.

z = R + 1/(jωC); it leaks ωC·V at mains frequency
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Annotated, ClassVar

import numpy as np
from pydantic import Field

from coldiron.lamp.model import Part as PartValues
from coldiron.parts.part import Array, Duty, PartConditions, PartWaveforms, Rating, between_v
from coldiron.parts.roles import Stores
from coldiron.parts.tolerance import PRACTICE, Tolerance
from coldiron.quantities import FARAD, OHM, Farad, Ohm, Volt, Watt


class RCSnubberValues(PartValues):
    """Its resistor and its capacitor."""

    resistance_ohm: Annotated[Ohm, Field(ge=0.1, le=1e5)] = 100.0
    capacitance_f: Annotated[Farad, Field(ge=1e-11, le=1e-5)]
    voltage_v: Annotated[Volt, Field(ge=50, le=1000)] = 275.0
    power_w: Annotated[Watt, Field(ge=0.05, le=20)] = 0.5


class RCSnubber(Stores):
    """A snubber, mostly from line to neutral."""

    values: RCSnubberValues
    kind: ClassVar[str] = "RC snubber"
    model: ClassVar[type[PartValues]] = RCSnubberValues
    symbol: ClassVar[str] = "rc"
    guards: ClassVar[str] = "damping"
    known_by: ClassVar[str] = "capacitance"

    def deck(self, conditions: PartConditions) -> Mapping[str, object]:
        """Both values."""
        return {"ohm": self.values.resistance_ohm, "farad": self.values.capacitance_f}

    def inner_nodes(self) -> tuple[str, ...]:
        """Between them."""
        return (self.inner("c"),)

    @property
    def stored_f(self) -> float:
        """Capacitance [F]."""
        return self.values.capacitance_f

    def dielectric_v(self, w: PartWaveforms) -> Array:
        """Voltage across its capacitor [V]."""
        return between_v(w, self.inner("c"), self.n("b"))

    def guess(self, points_v: Mapping[str, float], string_c: float) -> dict[str, float]:
        """Charged to its terminals."""
        return dict.fromkeys(self.inner_nodes(), points_v.get(self.at[0], 0.0))

    def current_a(self, w: PartWaveforms) -> Array:
        """Voltage across its resistor, over that [A]."""
        return between_v(w, self.n("a"), self.inner("c")) / self.values.resistance_ohm

    def energy_j(self, w: PartWaveforms) -> Array:
        """½ C v² [J]."""
        return np.asarray(0.5 * self.stored_f * self.dielectric_v(w) ** 2)

    def ratings(self, duty: Duty) -> Iterator[Rating]:
        """Watts and volts."""
        if not duty.pulse:
            yield Rating("watts", f"{self.name}_W", self.values.power_w, "power")
            yield Rating("voltage", f"{self.name}_rms_V", self.values.voltage_v, "voltage")

    def settled_readings(self, w: PartWaveforms) -> Mapping[str, float]:
        """Voltage across it, rms [V]."""
        return {"rms_V": self.rms(w, self.across_v(w))}

    @property
    def voltage_rating_v(self) -> float:
        """Voltage it is rated for [V]."""
        return self.values.voltage_v

    @property
    def rated_in_rms(self) -> bool:
        """Its rating is one of a sine."""
        return True

    def tolerances(self) -> Iterator[Tolerance]:
        """Those of its two halves."""
        yield Tolerance("resistance", 0.05, f"±5 % ({PRACTICE})")
        yield Tolerance("capacitance", 0.2, f"±20 % ({PRACTICE})")

    def text(self) -> tuple[str, ...]:
        """Both values."""
        return OHM.format(self.values.resistance_ohm), FARAD.format(self.values.capacitance_f)
