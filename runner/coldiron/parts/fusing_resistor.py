"""Fusing resistor: a flameproof resistor in one leg of the mains that is also the fuse.

    v = R · i

Valid up to its rated watts; above them it heats and opens, which the fault bench follows.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import ClassVar

from coldiron.lamp.model import Part as PartValues
from coldiron.lamp.parts import FusingResistor as FusingResistorValues
from coldiron.parts.element import Element
from coldiron.parts.part import Array, Duty, FailureMode, Part, PartConditions, PartWaveforms, Rating
from coldiron.parts.roles import Opens, Resists
from coldiron.parts.tolerance import Tolerance
from coldiron.preferred import E12, Bought
from coldiron.quantities import OHM, WATT

CHARGING = ("inrush", "dip", "sag")
"""Disturbances whose pulse fills the reservoir: what it leaves in the fusing resistors goes with ½CV²."""


class FusingResistor(Opens, Resists):
    """A resistor that is a safety part."""

    values: FusingResistorValues
    kind: ClassVar[str] = "fusing resistor"
    model: ClassVar[type[PartValues]] = FusingResistorValues
    guards: ClassVar[str] = "fuse"
    known_by: ClassVar[str] = "resistance"
    bought: ClassVar[Mapping[str, Bought]] = {
        "resistance": Bought(series=E12),
        "power": Bought(values=(0.5, 1.0, 2.0, 3.0, 5.0)),
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
        """Watts, and the energy of one pulse, with what tolerances may add."""
        v = self.values
        if not duty.pulse:
            up = 1.0 + v.tolerance_ratio
            why = "the sinks set the current, so a resistor at the top of its tolerance burns more"
            yield Rating("watts", f"{self.name}_W", v.power_w / up, "power", _left(up, why))
            return
        up = 1.0 + duty.reservoir_tolerance_ratio if duty.pulse in CHARGING else 1.0
        note = _left(up, "a reservoir at the top of its tolerance stores more")
        most_j = v.pulse_limit_j / up
        reading = duty.id(f"{self.name}_J")
        yield Rating("pulse energy", reading, most_j, "pulse_energy", note, v.pulse_energy_j is None)

    def tolerances(self) -> Iterator[Tolerance]:
        """That of its resistance; those of one lamp are from one reel."""
        source = "±5 % or ±10 % types (makers' tables)"
        yield Tolerance("resistance", self.values.tolerance_ratio, source, spends="tolerance", of_a_reel=True)

    def elements(self) -> Iterator[Element]:
        """All of it."""

        def scaled(times: float) -> Part:
            return self.drifted("", resistance_ohm=times * self.cold_ohm).becomes

        v = self.values
        yield Element(
            self,
            self.name,
            self.cold_ohm,
            v.power_w,
            self.dissipated_w,
            self.current_a,
            scaled,
            make=v.element or "",
        )

    def failures(self) -> Iterator[FailureMode]:
        """Open, as it is meant to end; drifted up by its heat; a wire in its place, or across it."""
        yield self.broken("open")
        yield self.drifted("drifted +50 %", resistance_ohm=1.5 * self.cold_ohm)
        yield self.broken("short", "bridged", "a wire in its place or across it")

    def text(self) -> tuple[str, ...]:
        """Ohms and watts."""
        return OHM.format(self.cold_ohm), WATT.format(self.values.power_w)


def _left(up: float, why: str) -> str:
    return f"held to {100 / up:.3g} % of it: {why}" if up > 1.0 else ""
