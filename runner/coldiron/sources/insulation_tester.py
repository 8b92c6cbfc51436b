"""An insulation tester: a direct or alternating voltage between the pins of the plug and the housing."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from coldiron.sources.source import Source


@dataclass(frozen=True)
class InsulationTesterValues:
    """Voltage, and whether both pins are tied; without a frequency it is a direct voltage."""

    peak_v: float
    frequency_hz: float | None
    omega_per_s: float
    rise_s: float
    tied: bool
    source_ohm: float = 10e3


class InsulationTester(Source):
    """The tester on one pin, or on both tied together."""

    kind: ClassVar[str] = "insulation tester"
    terminals: ClassVar[tuple[str, ...]] = ("line", "neutral", "ground")
    values: InsulationTesterValues

    def text(self) -> tuple[str, ...]:
        """How it is connected."""
        return ("line and neutral tied" if self.values.tied else "line alone",)
