"""Resistor: a plain resistor anywhere.

v = R · i
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Annotated, ClassVar

from pydantic import Field

from coldiron.lamp.model import Part as PartValues
from coldiron.parts.element import Element
from coldiron.parts.part import Array, Duty, FailureMode, Part, PartConditions, PartWaveforms, Rating
from coldiron.parts.roles import Resists
from coldiron.parts.tolerance import PRACTICE, Tolerance
from coldiron.preferred import E12, Bought
from coldiron.quantities import OHM, WATT, Ohm, Watt


class ResistorValues(PartValues):
    """Resistance and rated watts."""

    resistance_ohm: Annotated[Ohm, Field(ge=1e-3, le=100e6)]
    power_w: Annotated[Watt, Field(ge=0.05, le=50)] = 1.0


class Resistor(Resists):
    """A resistor that is no safety part."""

    values: ResistorValues
    kind: ClassVar[str] = "resistor"
    model: ClassVar[type[PartValues]] = ResistorValues
    known_by: ClassVar[str] = "resistance"
    bought: ClassVar[Mapping[str, Bought]] = {
        "resistance": Bought(series=E12),
        "power": Bought(values=(0.25, 0.5, 1.0, 2.0, 3.0, 5.0)),
    }

    def deck(self, conditions: PartConditions) -> Mapping[str, object]:
        """Its resistance."""
        return {"ohm": self.cold_ohm}

    def current_a(self, w: PartWaveforms) -> Array:
        """Voltage over resistance [A]."""
        return self.across_v(w) / self.cold_ohm

    @property
    def cold_ohm(self) -> float:
        """Resistance [Ω]."""
        return self.values.resistance_ohm

    def ratings(self, duty: Duty) -> Iterator[Rating]:
        """Watts."""
        if not duty.pulse:
            yield Rating("watts", f"{self.name}_W", self.values.power_w, "power")

    def tolerances(self) -> Iterator[Tolerance]:
        """That of its resistance."""
        yield Tolerance("resistance", 0.05, f"±5 % ({PRACTICE})", of_a_reel=True)

    def elements(self) -> Iterator[Element]:
        """All of it."""

        def scaled(times: float) -> Part:
            return self.drifted("", resistance_ohm=times * self.cold_ohm).becomes

        v = self.values
        yield Element(self, self.name, self.cold_ohm, v.power_w, self.dissipated_w, self.current_a, scaled)

    def failures(self) -> Iterator[FailureMode]:
        """Open, or drifted up: a resistor hardly ever fails short (failure-mode tables, from memory)."""
        yield self.broken("open")
        yield self.drifted("drifted +50 %", resistance_ohm=1.5 * self.cold_ohm)

    def text(self) -> tuple[str, ...]:
        """Ohms."""
        return (OHM.format(self.cold_ohm), WATT.format(self.values.power_w))
