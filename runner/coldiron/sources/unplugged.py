"""A plug pulled out: the pins are open, with the air and the meter across them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import ClassVar

from coldiron.parts.part import PartConditions
from coldiron.sources.source import Source

PINS_OHM = 100e6
"""The air and a meter across open pins (typical, from memory)."""


class Unplugged(Source):
    """No supply; the pins of the plug are left open."""

    kind: ClassVar[str] = "unplugged"

    def deck(self, conditions: PartConditions) -> Mapping[str, object]:
        """What lies across the pins."""
        return {"ohm": PINS_OHM}
