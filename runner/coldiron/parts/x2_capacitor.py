"""X2 capacitor: a safety capacitor across the mains, and the dropper of a capacitor-fed lamp.

    v = R · i + q / C,    i = C · dv_c/dt

The resistance is that of its foil and leads, so that an ideal source never meets an ideal capacitor. A film
loses capacitance over the years (10 to 30 % in droppers, from memory); that is a failure of it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Annotated, ClassVar

import numpy as np
from pydantic import Field

from coldiron.lamp.model import Part as PartValues
from coldiron.parts.part import Array, Duty, FailureMode, PartConditions, PartWaveforms, Rating, between_v
from coldiron.parts.roles import Stores
from coldiron.parts.tolerance import PRACTICE, Tolerance
from coldiron.preferred import E6, Bought
from coldiron.quantities import FARAD, Farad, Ohm, Volt
from coldiron.readings import sampling


class X2CapacitorValues(PartValues):
    """A safety capacitor on the mains; `series_resistance` is that of its foil and leads (typical)."""

    capacitance_f: Annotated[Farad, Field(ge=1e-11, le=2e-5)]
    voltage_v: Annotated[Volt, Field(ge=50, le=1000)] = 305.0
    series_resistance_ohm: Annotated[Ohm, Field(ge=1e-3, le=100)] = 0.5


class X2Capacitor(Stores):
    """A capacitor across the mains, or the dropper of a capacitor-fed lamp; rated in volts of a.c."""

    values: X2CapacitorValues
    kind: ClassVar[str] = "X2 capacitor"
    model: ClassVar[type[PartValues]] = X2CapacitorValues
    symbol: ClassVar[str] = "capacitor"
    guards: ClassVar[str] = "filter"
    known_by: ClassVar[str] = "capacitance"
    bought: ClassVar[Mapping[str, Bought]] = {"capacitance": Bought(series=E6)}

    def deck(self, conditions: PartConditions) -> Mapping[str, object]:
        """Capacitance and resistance."""
        return {"farad": self.stored_f, "ohm": self.values.series_resistance_ohm}

    def inner_nodes(self) -> tuple[str, ...]:
        """Between resistance and capacitance."""
        return (self.inner("c"),)

    @property
    def stored_f(self) -> float:
        """Capacitance [F]."""
        return self.values.capacitance_f

    def dielectric_v(self, w: PartWaveforms) -> Array:
        """Voltage across its dielectric [V]."""
        return between_v(w, self.inner("c"), self.n("b"))

    def guess(self, points_v: Mapping[str, float], string_c: float) -> dict[str, float]:
        """Charged to its terminals."""
        return dict.fromkeys(self.inner_nodes(), points_v.get(self.at[0], 0.0))

    def current_a(self, w: PartWaveforms) -> Array:
        """Voltage across its own resistance, over that [A]."""
        return between_v(w, self.n("a"), self.inner("c")) / self.values.series_resistance_ohm

    def dissipated_w(self, w: PartWaveforms) -> float:
        """Current squared times its resistance [W]."""
        current_a = self.current_a(w)
        return sampling.mean_of_product(w.time_s, current_a, current_a) * self.values.series_resistance_ohm

    def energy_j(self, w: PartWaveforms) -> Array:
        """½ C v² [J]."""
        return np.asarray(0.5 * self.stored_f * self.dielectric_v(w) ** 2)

    def ratings(self, duty: Duty) -> Iterator[Rating]:
        """Volts of a.c."""
        if not duty.pulse:
            yield Rating("voltage", f"{self.name}_rms_V", self.values.voltage_v, "voltage")

    def failures(self) -> Iterator[FailureMode]:
        """Worn, as its film heals itself; open; short, which its class is made against."""
        yield self.drifted(
            "worn", "30 % of its capacitance lost (from memory)", capacitance_f=0.7 * self.stored_f
        )
        yield self.broken("open")
        yield self.broken("short")

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
        """That of its capacitance when new; in droppers it may lose 10 to 30 % over years."""
        yield Tolerance("capacitance", 0.1, f"±10 % when new ({PRACTICE})")

    def text(self) -> tuple[str, ...]:
        """Capacitance and class."""
        return FARAD.format(self.stored_f), self.kind.split()[0]
