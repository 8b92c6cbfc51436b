"""One row of the validation page."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from laboratory import Laboratory


@dataclass(frozen=True)
class Row:
    """One comparison: the case, the reading and its unit, its bounds, who measured it, and how we read it."""

    number: str
    case: str
    reading: str
    unit: str
    least: float
    most: float
    source: str
    read: Callable[[Laboratory], float]

    def holds(self, value: float) -> bool:
        """Whether a value is within the bounds."""
        return self.least <= value <= self.most
