"""Insulation of a board: what lies between a place of its copper and the housing.

    i = C · dv/dt + v / R

Linear and whole: one hole in the dielectric is not in it, nor what happens to it when it breaks down.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, ClassVar

import numpy as np
from pydantic import Field

from coldiron.lamp.model import Part as PartValues
from coldiron.parts.part import Array, Part, PartConditions, PartWaveforms
from coldiron.quantities import Farad, Ohm


class BoardInsulationValues(PartValues):
    """Capacitance and resistance of one place."""

    capacitance_f: Annotated[Farad, Field(gt=0)]
    resistance_ohm: Annotated[Ohm, Field(gt=0)]


class BoardInsulation(Part):
    """A place of the board against the housing; there only in decks that have an earth."""

    values: BoardInsulationValues
    kind: ClassVar[str] = "board insulation"
    model: ClassVar[type[PartValues]] = BoardInsulationValues
    placeable: ClassVar[bool] = False
    hidden: ClassVar[bool] = True
    lossless: ClassVar[bool] = True

    def deck(self, conditions: PartConditions) -> Mapping[str, object]:
        """Its capacitance and resistance."""
        return {"farad": self.values.capacitance_f, "ohm": self.values.resistance_ohm}

    def current_a(self, w: PartWaveforms) -> Array:
        """C · dv/dt + v/R between the points of the run [A]; noisy where they are close."""
        across_v = self.across_v(w)
        charging_a = self.values.capacitance_f * np.gradient(across_v, w.time_s)
        return np.asarray(charging_a + across_v / self.values.resistance_ohm)
