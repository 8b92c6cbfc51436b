"""Thermistor (NTC) against inrush: a resistance that falls as it warms by its own watts.

    R = R25 · exp(B · (1/T - 1/298.15 K)),    H · dT/dt = P - δ · (T - Ta)

Valid from 0 to 200 °C with one thermal mass. In settled work its temperature is found by the heat loop, never
simulated in mains time (20 to 160 s against 20 ms); in a pulse it warms inside the deck, from where it stood.

References
----------
The exponential law: IEC 60539-1, from memory. Loss, time constant and B of typical discs: public tables of
three makers, rounded (5 mm: 6 mW/K, 20 s; 9 mm: 11 mW/K, 32 s; 11 mm: 14 mW/K, 47 s).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Annotated, ClassVar

import numpy as np
from pydantic import Field

from coldiron.lamp.model import Part as PartValues
from coldiron.parts.part import Array, Duty, PartConditions, PartWaveforms, Rating
from coldiron.parts.roles import WarmsItself
from coldiron.parts.tolerance import PRACTICE, Tolerance
from coldiron.preferred import Bought
from coldiron.quantities import OHM, Ampere, Celsius, Joule, JoulePerKelvin, Kelvin, Ohm, Ratio, WattPerKelvin

ZERO_C = 273.15
T25_K = 298.15


class ThermistorValues(PartValues):
    """Its resistance at 25 °C and what it is made of."""

    r25_ohm: Annotated[Ohm, Field(ge=0.2, le=1e4)]
    beta_k: Annotated[Kelvin, Field(ge=1000, le=6000)] = 3000.0
    loss_w_per_k: Annotated[WattPerKelvin, Field(ge=1e-4, le=1)] = 0.011
    heat_j_per_k: Annotated[JoulePerKelvin, Field(ge=1e-3, le=100)] = 0.35
    largest_current_a: Annotated[Ampere, Field(ge=0.01, le=100)] | None = None
    energy_j: Annotated[Joule, Field(ge=0.1, le=1e4)] | None = None
    maximum_temperature_c: Annotated[Celsius, Field(ge=60, le=400)] = 200.0
    tolerance_ratio: Annotated[Ratio, Field(ge=0, le=0.5)] = 0.2


class Thermistor(WarmsItself):
    """A thermistor in series or anywhere else."""

    values: ThermistorValues
    kind: ClassVar[str] = "thermistor"
    model: ClassVar[type[PartValues]] = ThermistorValues
    symbol: ClassVar[str] = "ntc"
    known_by: ClassVar[str] = "r25"
    bought: ClassVar[Mapping[str, Bought]] = {
        "r25": Bought(values=(2.5, 5.0, 8.0, 10.0, 16.0, 20.0, 22.0, 33.0, 47.0, 60.0, 100.0, 200.0))
    }
    validity: ClassVar[str] = "0 °C to 200 °C, one thermal mass"

    def ohm(self, temperature_c: float) -> float:
        """Resistance at a temperature of its own [Ω]."""
        return self.values.r25_ohm * math.exp(self.values.beta_k * (1 / (ZERO_C + temperature_c) - 1 / T25_K))

    def deck(self, conditions: PartConditions) -> Mapping[str, object]:
        """Its resistance where it stands; in a pulse the law, and the heat it begins without."""
        v, at_c = self.values, conditions.temperature_c(self.thermal_seat)
        return {
            "ohm": self.ohm(at_c),
            "celsius": at_c,
            "kelvin": ZERO_C + at_c,
            "beta": v.beta_k,
            "heat_j_per_k": v.heat_j_per_k,
            "loss_ohm": 1.0 / v.loss_w_per_k,
            "pulse": conditions.pulse,
        }

    def inner_nodes(self) -> tuple[str, ...]:
        """Its rise above where it stood, one volt a kelvin; only in a pulse does it move."""
        return (self.inner("rise"),)

    @property
    def thermal_seat(self) -> str:
        """A seat of its own."""
        return self.name

    def rise_k(self, w: PartWaveforms) -> Array:
        """Kelvin above where it stood when the run began [K]."""
        return w.v(self.inner("rise"))

    def current_a(self, w: PartWaveforms) -> Array:
        """Voltage over what it resists at each moment [A]."""
        at_c = w.conditions.temperature_c(self.thermal_seat)
        kelvin = ZERO_C + at_c + self.rise_k(w)
        return np.asarray(
            self.across_v(w) / (self.values.r25_ohm * np.exp(self.values.beta_k * (1 / kelvin - 1 / T25_K)))
        )

    @property
    def cold_ohm(self) -> float:
        """Resistance at 25 °C [Ω]."""
        return self.values.r25_ohm

    @property
    def loss_k_per_w(self) -> float:
        """From it to the board and the air on it [K/W]."""
        return 1.0 / self.values.loss_w_per_k

    @property
    def cools_s(self) -> float:
        """Its heat capacity over what it loses a kelvin [s]."""
        return self.values.heat_j_per_k / self.values.loss_w_per_k

    def ratings(self, duty: Duty) -> Iterator[Rating]:
        """Current, its own temperature, energy of one inrush."""
        v = self.values
        if duty.pulse:
            if v.energy_j is not None:
                yield Rating("pulse energy", duty.id(f"{self.name}_J"), v.energy_j, "energy")
            return
        if v.largest_current_a is not None:
            yield Rating("current", f"{self.name}_rms_A", v.largest_current_a, "largest_current")
        yield Rating("temperature", f"{self.name}_C", v.maximum_temperature_c, "maximum_temperature")

    def settled_readings(self, w: PartWaveforms) -> Mapping[str, float]:
        """Current, rms [A]."""
        return {"rms_A": self.rms(w, self.current_a(w))}

    def tolerances(self) -> Iterator[Tolerance]:
        """Those of its resistance and of its law."""
        yield Tolerance("r25", self.values.tolerance_ratio, "±20 % (makers' tables)", spends="tolerance")
        yield Tolerance("beta", 0.03, f"±3 % ({PRACTICE})")

    def text(self) -> tuple[str, ...]:
        """Ohms at 25 °C."""
        return (f"{OHM.format(self.values.r25_ohm)} at 25 °C",)
