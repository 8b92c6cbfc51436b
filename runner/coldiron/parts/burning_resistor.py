"""Burning resistor: what a resistor is in the moment of a fault, with the heat that it gathers.

    v = R · (1 + α · min(θ, θ_open)) · i,    C dθ/dt = v · i − a · θ − b · ((298 + θ)⁴ − 298⁴)

θ is a node of its own, one volt a kelvin. It never opens by itself: a latch in a deck can stay half open and
show megavolts. Where it opens is found in the run, and it is opened at the next zero of its current; from
θ_open on it burns as it is, for what an arc in its place resists is not known.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import ClassVar

import numpy as np

from coldiron.lamp.model import Part as PartValues
from coldiron.parts.part import Array, FailureMode, PartConditions, PartWaveforms
from coldiron.parts.roles import Resists


class BurningValues(PartValues):
    """Resistance, its temperature coefficient, heat capacity and the two numbers of its loss."""

    resistance_ohm: float
    tempco_per_k: float
    heat_j_per_k: float
    loss_w_per_k: float
    loss_w_per_k4: float
    opens_k: float


class BurningResistor(Resists):
    """Stands in the place of a resistor."""

    values: BurningValues
    kind: ClassVar[str] = "burning resistor"
    placeable: ClassVar[bool] = False
    model: ClassVar[type[PartValues]] = BurningValues

    def deck(self, conditions: PartConditions) -> Mapping[str, object]:
        """Its values."""
        v = self.values
        return {
            "ohm": v.resistance_ohm,
            "tempco": v.tempco_per_k,
            "heat": v.heat_j_per_k,
            "loss": v.loss_w_per_k,
            "loss4": v.loss_w_per_k4,
            "opens_k": v.opens_k,
        }

    def inner_nodes(self) -> tuple[str, ...]:
        """Behind its ammeter, and its heat."""
        return self.inner("a"), self.inner("heat")

    def kept(self) -> tuple[str, ...]:
        """Its heat and its ammeter."""
        return f"v({self.inner('heat').lower()})", f"i(v{self.inner('burns').lower()})"

    def current_a(self, w: PartWaveforms) -> Array:
        """Current through it [A]."""
        return w.i(f"v{self.inner('burns').lower()}")

    def over_k(self, w: PartWaveforms) -> Array:
        """Kelvin above 25 °C [K]."""
        return np.asarray(w.v(self.inner("heat")))

    @property
    def cold_ohm(self) -> float:
        """Resistance at 25 °C [Ω]."""
        return self.values.resistance_ohm

    def failures(self) -> Iterator[FailureMode]:
        """It opens."""
        yield self.broken("open")
