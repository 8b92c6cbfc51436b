"""Choke: an inductance with the resistance of its wire, that saturates.

    v = R · i + L(i) · di/dt,    L = L0 up to the saturation current, L0 · left beyond it

Its flux is a node of the deck (one volt an ampere of an unsaturated choke), so that a run can start from any
state. Valid below its own resonance (some 100 kHz to 1 MHz); losses of the core are left out.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Annotated, ClassVar

import numpy as np
from pydantic import Field

from coldiron.lamp.model import Part as PartValues
from coldiron.parts.part import Array, Duty, PartConditions, PartWaveforms, Rating, between_v
from coldiron.parts.roles import Resists
from coldiron.parts.tolerance import PRACTICE, Tolerance
from coldiron.preferred import E6, Bought
from coldiron.quantities import HENRY, Ampere, Henry, Ohm, Ratio

FURTHEST_A = 1e4


class ChokeValues(PartValues):
    """Inductance, resistance, and where it saturates; `saturated` is the share of L that is left then."""

    inductance_h: Annotated[Henry, Field(ge=1e-7, le=10)]
    resistance_ohm: Annotated[Ohm, Field(ge=1e-4, le=1e3)] = 1.0
    saturation_a: Annotated[Ampere, Field(ge=1e-3, le=1e3)] = 1.0
    saturated_ratio: Annotated[Ratio, Field(ge=1e-3, le=1)] = 0.05
    current_a: Annotated[Ampere, Field(ge=1e-3, le=100)] | None = None


class Choke(Resists):
    """A choke in series."""

    values: ChokeValues
    kind: ClassVar[str] = "choke"
    model: ClassVar[type[PartValues]] = ChokeValues
    symbol: ClassVar[str] = "choke"
    known_by: ClassVar[str] = "inductance"
    bought: ClassVar[Mapping[str, Bought]] = {"inductance": Bought(series=E6)}
    validity: ClassVar[str] = "below its own resonance"

    def deck(self, conditions: PartConditions) -> Mapping[str, object]:
        """Resistance, one over inductance, and the bent curve from flux to current."""
        v = self.values
        far_a = v.saturation_a + (FURTHEST_A - v.saturation_a) / v.saturated_ratio
        points = [(-FURTHEST_A, -far_a), (-v.saturation_a, -v.saturation_a)]
        points += [(v.saturation_a, v.saturation_a), (FURTHEST_A, far_a)]
        return {
            "ohm": v.resistance_ohm,
            "per_henry": 1.0 / v.inductance_h,
            "rows": tuple(", ".join(f"{flux:.9g},{ampere:.9g}" for flux, ampere in points).split("|")),
            "damping_ohm": 2e5 * np.sqrt(v.inductance_h / 1e-3),
        }

    def inner_nodes(self) -> tuple[str, ...]:
        """Between inductance and resistance, and the flux."""
        return self.inner("l"), self.inner("flux")

    def current_a(self, w: PartWaveforms) -> Array:
        """Voltage across its resistance, over that [A]."""
        return between_v(w, self.inner("l"), self.n("b")) / self.values.resistance_ohm

    def energy_j(self, w: PartWaveforms) -> Array:
        """∫ i dΦ from no flux [J]."""
        v, flux = self.values, np.abs(w.v(self.inner("flux")))
        beyond = np.maximum(flux - v.saturation_a, 0.0)
        return np.asarray(v.inductance_h * (0.5 * flux**2 + (1 / v.saturated_ratio - 1) * 0.5 * beyond**2))

    @property
    def cold_ohm(self) -> float:
        """Resistance of its wire [Ω]."""
        return self.values.resistance_ohm

    def ratings(self, duty: Duty) -> Iterator[Rating]:
        """Current of its wire."""
        if not duty.pulse and self.values.current_a is not None:
            yield Rating("current", f"{self.name}_rms_A", self.values.current_a, "current")

    def settled_readings(self, w: PartWaveforms) -> Mapping[str, float]:
        """Current, rms [A]."""
        return {"rms_A": self.rms(w, self.current_a(w))}

    def tolerances(self) -> Iterator[Tolerance]:
        """That of its inductance."""
        yield Tolerance("inductance", 0.2, f"±20 % ({PRACTICE})")

    def text(self) -> tuple[str, ...]:
        """Its inductance."""
        return (HENRY.format(self.values.inductance_h),)
