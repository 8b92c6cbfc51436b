"""The supply as the earth sees it: neutral earthed, a switch in each pole, a housing, a hand or a meter.

A person is the network of IEC 60990, figure 4 (`coldiron.readings.touch` has its values and its closed form).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from coldiron.readings.touch import NETWORK, Network
from coldiron.sources.source import Source


@dataclass(frozen=True)
class EarthValues:
    """A supply that earth can see: bond, switches, plug, housing, and who or what touches."""

    bond_ohm: float
    closed_ohm: float
    open_f: float
    line_closed: bool
    neutral_closed: bool
    turned: bool
    earth_ohm: float | None
    room_f: float
    pierced: str | None
    pierced_ohm: float
    hand: str | None
    meter: str | None
    network: Network = NETWORK


class EarthedPoles(Source):
    """From the supply, its neutral earthed, through a switch in each pole to the plug, either way round."""

    kind: ClassVar[str] = "earthed supply"
    terminals: ClassVar[tuple[str, ...]] = ("feed", "origin", "line", "neutral")
    values: EarthValues

    @property
    def macro(self) -> str:
        """One of its file's three."""
        return "part_poles"


class EarthedHousing(Source):
    """A housing with its protective conductor, or none, and what lies between it and the room."""

    kind: ClassVar[str] = "housing to earth"
    values: EarthValues

    @property
    def macro(self) -> str:
        """One of its file's three."""
        return "part_housing"


class Contact(Source):
    """A hand, or a voltmeter to earth."""

    kind: ClassVar[str] = "hand or meter"
    values: EarthValues

    @property
    def macro(self) -> str:
        """One of its file's three."""
        return "part_person"
