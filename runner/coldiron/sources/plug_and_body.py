"""A plug, either way round, and a body on one point of the lamp."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from coldiron.sources.source import Source


@dataclass(frozen=True)
class PlugValues:
    """The legs on the live and on the earthed pole, and the body on a node."""

    live_leg: str
    other_leg: str
    other_ohm: float
    point: str
    body_ohm: float


class PlugAndBody(Source):
    """From the supply to the lamp's legs, and 2 kΩ from one of its points to earth."""

    kind: ClassVar[str] = "plug and body"
    terminals: ClassVar[tuple[str, ...]] = ("feed", "earth")
    values: PlugValues
