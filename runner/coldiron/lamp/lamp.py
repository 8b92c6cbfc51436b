"""The lamp: parts between points, and what is around them; read by every later step.

A topology is a lamp with short keys of its own (`coldiron.lamp.topologies`), which it expands to parts.
Further parts sit where their tables say, and a change can break or remove any part.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import cached_property
from typing import Annotated, Any, ClassVar, Literal, Self

from pydantic import Field

from coldiron.lamp.body import BenchReading, HeatPath, Housing, Ratings
from coldiron.lamp.further import FurtherPart
from coldiron.lamp.model import Fact, Inconsistency, Name, Note, Part
from coldiron.lamp.parts import Mains
from coldiron.parts.arc_gap import ArcGap, ArcGapValues
from coldiron.parts.circuit import Circuit
from coldiron.parts.part import PartConditions
from coldiron.parts.placing import Misplaced, placed
from coldiron.parts.roles import Rectifies

Brokenness = Literal["removed", "open", "short", "wired across"]
"""What a change can do to a part besides setting its values."""


LOOSE_JOINT = "joint"
"""Name of a joint that is loose: a fault of no part, in the rail before the rectifier."""


def loosened(circuit: Circuit) -> Circuit:
    """Circuit with an arcing joint before its rectifier."""
    rectifier = next(part for part in circuit.having(Rectifies) if part.is_on_the_mains)
    return placed(circuit, ArcGap(LOOSE_JOINT, (), ArcGapValues()), "before", rectifier.name)


class Lamp(Part):
    """A mains LED lamp as found on the bench.

    `further` are parts beyond the short keys of its topology, `states` those that are removed, broken or
    wired across; `failures` are its broken parts, each by the word of one of its failure modes. None of them
    is a key of a file.
    """

    topology_word: ClassVar[str] = ""
    anchors: ClassVar[Mapping[str, str]] = {"bus": "string"}
    settles_slowly: ClassVar[bool] = False
    """Whether one step alike is not yet settled: what is stored lasts for many cycles."""
    bus_follows_mains: ClassVar[bool] = True
    """Whether the bus of an unloaded lamp stands at the peak of the mains."""
    settled_absent: ClassVar[Mapping[str, tuple[str, ...]]] = {}
    """Settled readings that are zero without a part, by the short key of the part."""
    pulse_absent: ClassVar[Mapping[str, tuple[str, ...]]] = {}
    """The same for readings of a disturbance."""

    topology: str = ""
    name: Name
    note: Note = ""
    mains: Mains
    heat: HeatPath = HeatPath()
    housing: Housing
    ratings: Ratings = Ratings()
    reading: Annotated[tuple[BenchReading, ...], Field(max_length=100)] = ()
    further: tuple[FurtherPart, ...] = ()
    states: tuple[tuple[str, Brokenness], ...] = ()
    failures: tuple[tuple[str, str], ...] = ()

    def model_copy(self, *, update: Mapping[str, Any] | None = None, deep: bool = False) -> Self:
        """Return a copy with some fields exchanged; its circuit is expanded anew."""
        copied = super().model_copy(update=update, deep=deep)
        copied.__dict__.pop("circuit", None)
        return copied

    def with_circuit(self, circuit: Circuit) -> Self:
        """Return the lamp with its parts replaced, for a deck that prints some of them finer."""
        copied = self.model_copy()
        copied.__dict__["circuit"] = circuit
        return copied

    def __repr__(self) -> str:
        """Name, mains and what it is made of, in one line."""
        mains = f"{self.mains.voltage_v:g} V {self.mains.frequency_hz:g} Hz"
        return f"<{type(self).__name__} {self.name!r}: {mains}, {len(self.circuit.parts)} parts>"

    def with_state(self, name: str, state: Brokenness) -> Self:
        """Return the lamp with one of its parts removed, broken or wired across."""
        return self.model_copy(update={"states": (*self.states, (name, state))})

    def with_faults(self, *faults: tuple[str, str]) -> Self:
        """Return the lamp with parts broken, each by its name and the word of a failure mode of its kind."""
        return self.model_copy(update={"failures": (*self.failures, *faults)})

    def seen_as(self, circuit: Circuit) -> Self:
        """Return the lamp with another circuit, for decks of one moment: it cannot be told by its values."""
        copied = self.model_copy()
        copied.__dict__["circuit"] = circuit
        return copied

    def expanded(self) -> Circuit:
        """Circuit that its short keys stand for."""
        raise NotImplementedError

    @cached_property
    def circuit(self) -> Circuit:
        """Its parts between its points.

        Raises
        ------
        Misplaced
            If a further part cannot sit where it was put.
        """
        circuit = self.expanded()
        for further in self.further:
            try:
                circuit = placed(circuit, further.part(), further.way, further.where)
            except Misplaced as wrong:
                wrong.part = further.name
                raise
        for name, state in self.states:
            if name not in circuit:
                continue
            if state == "wired across":
                circuit = circuit.wired_across(name)
            elif state == "removed":
                circuit = circuit.without(name)
            else:
                circuit = circuit.broken(name, state)
        for name, word in self.failures:
            if name in circuit:
                circuit = circuit.failed(name, word)
            elif name == LOOSE_JOINT:
                circuit = loosened(circuit)
        return circuit

    def zeros(self, readings: Mapping[str, tuple[str, ...]]) -> dict[str, float]:
        """Readings that are zero because the lamp is without the part they are read of."""
        without = (name for name in readings if getattr(self, name) is None)
        return {reading: 0.0 for name in without for reading in readings[name]}

    @property
    def lit_a(self) -> float:
        """Current of the LEDs while they are fully lit, cold [A]."""
        return sum(sink.set_current_a for sink in self.circuit.regulators)

    @property
    def expected_power_w(self) -> float:
        """Power on the label; without one, what the LEDs take while they are lit [W]."""
        if self.ratings.power_w is not None:
            return self.ratings.power_w
        return self.lit_a * self.circuit.light_v(self.lit_a)

    def first_state(self, peak_v: float, cycle_s: float, conditions: PartConditions) -> dict[str, float]:
        """Voltages of nodes at a zero crossing of the mains to begin with; at rest where there are none."""
        return {}

    def facts(self) -> Iterator[Fact]:
        """Yield what follows from the values and helps to see a slip of the pen."""
        yield from ()

    def inconsistencies(self) -> Iterator[Inconsistency]:
        """Yield what does not belong together."""
        yield from ()
