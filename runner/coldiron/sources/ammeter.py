"""Ammeter in the line: a source of 0 V, whose current is that of the lamp."""

from __future__ import annotations

from collections.abc import Mapping
from typing import ClassVar

from coldiron.parts.part import PartConditions
from coldiron.sources.source import Source


class Ammeter(Source):
    """Ammeter for the input current of the lamp."""

    kind: ClassVar[str] = "ammeter"

    def deck(self, conditions: PartConditions) -> Mapping[str, object]:
        """Nothing but its place."""
        return {}
