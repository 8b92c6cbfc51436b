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


class _Earthed(Source):
    """One of the three that are printed from the same values; `printed_by` says by which macro."""

    values: EarthValues
    printed_by: ClassVar[str]

    @property
    def macro(self) -> str:
        """One of its file's three."""
        return f"part_{self.printed_by}"


class EarthedPoles(_Earthed):
    """From the supply, its neutral earthed, through a switch in each pole to the plug, either way round."""

    kind: ClassVar[str] = "earthed supply"
    terminals: ClassVar[tuple[str, ...]] = ("feed", "origin", "line", "neutral")
    printed_by: ClassVar[str] = "poles"


class EarthedHousing(_Earthed):
    """A housing with its protective conductor, or none, and what lies between it and the room."""

    kind: ClassVar[str] = "housing to earth"
    printed_by: ClassVar[str] = "housing"


class Contact(_Earthed):
    """A hand, or a voltmeter to earth."""

    kind: ClassVar[str] = "hand or meter"
    printed_by: ClassVar[str] = "person"
