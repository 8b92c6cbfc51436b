"""From a lamp's circuit to earth: half of its capacitance from either end of the bus."""

from __future__ import annotations

from collections.abc import Mapping
from typing import ClassVar

from coldiron.parts.part import PartConditions
from coldiron.sources.source import Source


class EarthCapacitance(Source):
    """Capacitance of a circuit to its housing, which lies on earth; its value is the whole of it [F]."""

    kind: ClassVar[str] = "capacitance to earth"
    terminals: ClassVar[tuple[str, ...]] = ("lamp", "earth")
    values: float

    def deck(self, conditions: PartConditions) -> Mapping[str, object]:
        """Half of it."""
        return {"half_f": self.values / 2}
