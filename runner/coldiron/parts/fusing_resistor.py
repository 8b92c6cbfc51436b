"""Fusing resistor: a flameproof resistor in one leg of the mains that is also the fuse.

    v = R · i

Valid up to its rated watts; above them it heats and opens, which the fault bench follows.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import ClassVar

from coldiron.lamp.parts import FusingResistor as FusingResistorValues
from coldiron.parts.part import Array, Part, Rating, TestConditions, Waveforms
from coldiron.quantities import OHM, WATT


class FusingResistor(Part):
    """A resistor that is a safety part."""

    values: FusingResistorValues
    kind: ClassVar[str] = "fusing resistor"
    known_by: ClassVar[str] = "resistance"

    def deck(self, conditions: TestConditions) -> Mapping[str, object]:
        """Its resistance."""
        return {"ohm": self.cold_ohm}

    def current_a(self, w: Waveforms) -> Array:
        """Voltage over resistance [A]."""
        return self.across_v(w) / self.cold_ohm

    @property
    def cold_ohm(self) -> float:
        """Resistance [Ω]."""
        return self.values.resistance_ohm

    def opens_by(self) -> Iterator[str]:
        """What it opens by."""
        yield "heat"

    def ratings(self) -> Iterator[Rating]:
        """Watts, and the energy of one pulse."""
        yield Rating("watts", "W", self.values.power_w, "power")
        yield Rating("pulse energy", "J", self.values.pulse_limit_j, "pulse_energy", pulse=True)

    def text(self) -> tuple[str, ...]:
        """Ohms and watts."""
        return OHM.format(self.cold_ohm), WATT.format(self.values.power_w)
