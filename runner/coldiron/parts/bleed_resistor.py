"""Bleed resistor: empties the bus after unplugging."""

from __future__ import annotations

from typing import ClassVar

from coldiron.lamp.model import Part as PartValues
from coldiron.lamp.parts import BleedResistor as BleedResistorValues
from coldiron.parts.resistor import Resistor


class BleedResistor(Resistor):
    """The resistor that empties the bus after unplugging."""

    values: BleedResistorValues  # type: ignore[assignment]
    kind: ClassVar[str] = "bleed resistor"
    guards: ClassVar[str] = "discharge after unplugging"
    model: ClassVar[type[PartValues]] = BleedResistorValues
