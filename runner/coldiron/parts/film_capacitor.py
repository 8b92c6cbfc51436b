"""Film capacitor across the bus, the drain or the string.

    i = C · dv/dt,    energy ½ C v²

Ideal: the losses of such a capacitor (tan δ below 0.1 %) move no reading.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import ClassVar

import numpy as np

from coldiron.lamp.model import Part as PartValues
from coldiron.lamp.parts import FilmCapacitor as FilmCapacitorValues
from coldiron.parts.part import SETTLED_BUS, Array, Duty, PartConditions, PartWaveforms, Rating
from coldiron.parts.roles import Stores
from coldiron.parts.tolerance import PRACTICE, Tolerance
from coldiron.preferred import E6, Bought
from coldiron.quantities import FARAD, VOLT


class FilmCapacitor(Stores):
    """A capacitor that takes no watts."""

    values: FilmCapacitorValues
    kind: ClassVar[str] = "film capacitor"
    model: ClassVar[type[PartValues]] = FilmCapacitorValues
    symbol: ClassVar[str] = "capacitor"
    guards: ClassVar[str] = "filter"
    known_by: ClassVar[str] = "capacitance"
    bought: ClassVar[Mapping[str, Bought]] = {
        "capacitance": Bought(series=E6),
        "voltage": Bought(values=(250.0, 400.0, 450.0, 630.0, 1000.0)),
    }
    lossless: ClassVar[bool] = True

    def deck(self, conditions: PartConditions) -> Mapping[str, object]:
        """Its capacitance."""
        return {"farad": self.stored_f}

    @property
    def stored_f(self) -> float:
        """Capacitance [F]."""
        return self.values.capacitance_f

    def dielectric_v(self, w: PartWaveforms) -> Array:
        """Voltage across its dielectric [V]."""
        return self.across_v(w)

    def current_a(self, w: PartWaveforms) -> Array:
        """C · dv/dt between the points of the run [A]; noisy where they are close."""
        return np.asarray(self.stored_f * np.gradient(self.dielectric_v(w), w.time_s))

    def dissipated_w(self, w: PartWaveforms) -> float:
        """Nothing: it is ideal [W]."""
        return 0.0

    def energy_j(self, w: PartWaveforms) -> Array:
        """½ C v² [J]."""
        return np.asarray(0.5 * self.stored_f * self.dielectric_v(w) ** 2)

    def ratings(self, duty: Duty) -> Iterator[Rating]:
        """Voltage, settled, and once in a pulse."""
        v = self.values
        if not duty.pulse:
            for reading in SETTLED_BUS if self.lies_across_the_bus else (f"{self.name}_highest_V",):
                yield Rating("voltage", reading, v.voltage_v, "voltage")
            return
        reading = duty.id("bus_peak_V" if self.lies_across_the_bus else f"{self.name}_peak_V")
        note = "its proof voltage, IEC 60384-16, from memory"
        yield Rating("voltage", reading, v.proof_voltage_v, "voltage", note)

    @property
    def voltage_rating_v(self) -> float:
        """Voltage it is rated for [V]."""
        return self.values.voltage_v

    def tolerances(self) -> Iterator[Tolerance]:
        """That of its capacitance."""
        yield Tolerance("capacitance", 0.1, f"±10 %, cheap ones ±20 % ({PRACTICE})")

    def text(self) -> tuple[str, ...]:
        """Capacitance and rated voltage."""
        return FARAD.format(self.stored_f), VOLT.format(self.values.voltage_v)
