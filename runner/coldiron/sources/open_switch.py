"""A switch that stands open, and what leaks past it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from coldiron.sources.source import Source

INDICATOR_OHM = 150e3
"""Series resistance of a switch's indicator (from memory)."""
INDICATOR_V = {"neon": 65.0, "LED": 2.0}
"""What an indicator keeps for itself, either way (from memory)."""
_JUNCTION_V = 0.6


@dataclass(frozen=True)
class LeakageValues:
    """Paths across an open switch; None where there is no such path."""

    path_f: float | None
    path_ohm: float | None
    indicator_ohm: float | None
    indicator_v: float


def leakage_values(path_f: float, path_ohm: float | None, indicator: str | None) -> LeakageValues:
    """Values of the paths across an open switch: a cable's capacitance, a resistance, an indicator."""
    return LeakageValues(
        path_f=path_f or None,
        path_ohm=path_ohm,
        indicator_ohm=INDICATOR_OHM if indicator else None,
        indicator_v=INDICATOR_V.get(indicator or "neon", 0.0) - _JUNCTION_V,
    )


class OpenSwitch(Source):
    """What lies across an open switch, from the permanent live core to the lamp."""

    kind: ClassVar[str] = "open switch"
    values: LeakageValues

    def inner_nodes(self) -> tuple[str, ...]:
        """Behind the resistance of an indicator, and between its diodes."""
        return ("pilot", "pilot_m") if self.values.indicator_ohm is not None else ()

    def text(self) -> tuple[str, ...]:
        """What it is."""
        return ("and what leaks past it",)
