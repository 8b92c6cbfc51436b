"""Thermal cut-out: a contact on the board that opens when it is hot and closes again when it has cooled.

    R = 20 mΩ closed, 10 MΩ open; opens above one temperature, closes below a lower one

The heat bench follows it: a lamp whose board would settle above the opening temperature goes on and off.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Annotated, ClassVar

from pydantic import Field

from coldiron.lamp.model import Inconsistency
from coldiron.lamp.model import Part as PartValues
from coldiron.parts.part import OPEN_OHM, Array, Duty, PartConditions, PartWaveforms, Rating
from coldiron.parts.roles import OpensHot, Resists
from coldiron.quantities import CELSIUS, Ampere, Celsius, Ohm

SHORT_OF_OPENING_K = 0.1
"""A lamp that a cut-out switches off reaches its opening temperature within the sums, and no more."""


class ThermalCutoutValues(PartValues):
    """Where it opens and closes."""

    opens_at_c: Annotated[Celsius, Field(ge=40, le=300)] = 135.0
    closes_at_c: Annotated[Celsius, Field(ge=20, le=290)] = 105.0
    resistance_ohm: Annotated[Ohm, Field(ge=1e-4, le=10)] = 0.02
    current_a: Annotated[Ampere, Field(ge=0.01, le=50)] = 2.0

    def inconsistencies(self) -> Iterator[Inconsistency]:
        """It must close below where it opens."""
        if self.closes_at_c >= self.opens_at_c:
            yield Inconsistency("closes_at", f"below {CELSIUS.format(self.opens_at_c)}, where it opens")


class ThermalCutout(OpensHot, Resists):
    """A cut-out in series."""

    values: ThermalCutoutValues
    kind: ClassVar[str] = "thermal cut-out"
    model: ClassVar[type[PartValues]] = ThermalCutoutValues
    symbol: ClassVar[str] = "cutout"
    guards: ClassVar[str] = "protection against heat"
    known_by: ClassVar[str] = "opens_at"
    opens_by: ClassVar[str] = "temperature"

    def ohm(self, conditions: PartConditions) -> float:
        """Closed below its opening temperature [Ω]."""
        hot = conditions.temperature_c(self.thermal_seat) >= self.values.opens_at_c
        return OPEN_OHM if hot else self.values.resistance_ohm

    def deck(self, conditions: PartConditions) -> Mapping[str, object]:
        """Its resistance."""
        return {"ohm": self.ohm(conditions)}

    def current_a(self, w: PartWaveforms) -> Array:
        """Voltage over resistance [A]."""
        return self.across_v(w) / self.ohm(w.conditions)

    @property
    def opens_c(self) -> float:
        """Where its contact opens [°C]."""
        return self.values.opens_at_c

    @property
    def closes_c(self) -> float:
        """Where it closes again [°C]."""
        return self.values.closes_at_c

    @property
    def cold_ohm(self) -> float:
        """Resistance of its contact [Ω]."""
        return self.values.resistance_ohm

    def ratings(self, duty: Duty) -> Iterator[Rating]:
        """Current of its contact, and the board that would open it."""
        if duty.pulse:
            return
        v = self.values
        yield Rating("current", f"{self.name}_rms_A", v.current_a, "current")
        note = "where it opens the light goes out"
        yield Rating("board temperature", "board_C", v.opens_at_c - SHORT_OF_OPENING_K, "opens_at", note)

    def settled_readings(self, w: PartWaveforms) -> Mapping[str, float]:
        """Current, rms [A]."""
        return {"rms_A": self.rms(w, self.current_a(w))}

    def text(self) -> tuple[str, ...]:
        """Where it opens."""
        return (f"opens at {CELSIUS.format(self.values.opens_at_c)}",)
