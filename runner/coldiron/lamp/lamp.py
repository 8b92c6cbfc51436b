"""The lamp: one model of all its parts, read by every later step."""

from __future__ import annotations

from coldiron.lamp.model import Name, Note, Part
from coldiron.lamp.parts import (
    BenchReading,
    BleedResistor,
    Bridge,
    FilmCapacitor,
    FusingResistor,
    HeatPath,
    Housing,
    LedString,
    Mains,
    Ratings,
    ReservoirCapacitor,
    Sinks,
    Varistor,
)


class Lamp(Part):
    """A mains LED lamp with linear sinks, as found on the bench.

    A part that the lamp does not have is None.
    """

    name: Name
    note: Note = ""
    mains: Mains
    line_fusing: FusingResistor | None = None
    neutral_fusing: FusingResistor | None = None
    varistor: Varistor | None = None
    bridge: Bridge
    film: FilmCapacitor | None = None
    bleed: BleedResistor | None = None
    reservoir: ReservoirCapacitor | None = None
    string: LedString
    sinks: Sinks
    heat: HeatPath = HeatPath()
    housing: Housing
    ratings: Ratings
    reading: tuple[BenchReading, ...] = ()
