"""The lamp: one model of all its parts, read by every later step."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from functools import cached_property
from typing import Annotated, Any, Self

from pydantic import Field

from coldiron.lamp.body import BenchReading, HeatPath, Housing, Ratings
from coldiron.lamp.model import Fault, Name, Note, Part
from coldiron.lamp.parts import (
    BleedResistor,
    Bridge,
    FilmCapacitor,
    FusingResistor,
    LedString,
    Mains,
    ReservoirCapacitor,
    Sinks,
)
from coldiron.lamp.topologies import linear_sinks
from coldiron.lamp.varistor import Varistor
from coldiron.parts.circuit import Circuit
from coldiron.quantities import AMPERE, VOLT


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
    ratings: Ratings = Ratings()
    reading: Annotated[tuple[BenchReading, ...], Field(max_length=100)] = ()

    @cached_property
    def circuit(self) -> Circuit:
        """Its parts between its points."""
        return linear_sinks.expanded(self)

    def model_copy(self, *, update: Mapping[str, Any] | None = None, deep: bool = False) -> Self:
        """Copy whose circuit is made of its own parts, not remembered from this lamp."""
        copy = super().model_copy(update=update, deep=deep)
        copy.__dict__.pop("circuit", None)
        return copy

    def __repr__(self) -> str:
        """Name, mains and what it is made of, in one line."""
        mains = f"{self.mains.voltage_v:g} V {self.mains.frequency_hz:g} Hz"
        return f"<Lamp {self.name!r}: {mains}, {len(self.circuit.parts)} parts>"

    @property
    def expected_power_w(self) -> float:
        """Power on the label; without one, what the string takes while it carries the set current [W]."""
        if self.ratings.power_w is not None:
            return self.ratings.power_w
        return self.string.voltage_v(self.sinks.set_current_a) * self.sinks.set_current_a

    def faults(self) -> Iterator[Fault]:
        """The string must be able to light on this mains, and to carry what the sinks let through."""
        # A current that gives first light; at the set current a steep string may hold more than the mains.
        first_light_a = 0.01 * self.sinks.set_current_a
        highest_v = 1.1 * self.mains.peak_v
        if self.string.voltage_v(first_light_a) > highest_v:
            most = math.floor(highest_v * self.string.series / self.string.voltage_v(first_light_a))
            yield Fault(
                "string.series",
                f"at most {most} LEDs of {VOLT.format(self.string.forward_voltage_v)}, or the lamp never "
                f"lights: the mains peak is {VOLT.format(self.mains.peak_v, 4)}",
            )
        most_a = 20 * self.string.forward_current_a * self.string.parallel
        if self.sinks.set_current_a > most_a:
            yield Fault(
                "sinks.sense_resistor",
                f"a set current of at most {AMPERE.format(most_a, 4)}, 20 times the string's test current "
                f"({self.sinks.count} sinks set {AMPERE.format(self.sinks.set_current_a, 4)})",
            )
