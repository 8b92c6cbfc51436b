"""What every bench has in common: a case, the lab it runs in, and the findings it returns.

A bench is one module with one function `take(case, lab)`: it prints decks, has them run, and takes readings.
It may run several decks in a chain (settle, then surge); the lab remembers a deck it has run, so that benches
of one variant share what they have in common.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import ClassVar, Protocol

from coldiron.deck.circuit import OperatingPoint
from coldiron.deck.deck import Deck, Heading, InitialConditions
from coldiron.engine.waves import Waveforms
from coldiron.lamp.lamp import Lamp
from coldiron.study.disturbances import Burst, Dip, Leakage, Sag


class Simulator(Protocol):
    """Whatever can run a deck."""

    def run(self, deck: Deck) -> Waveforms:
        """Run a deck, or return what it gave when it ran before; raises SimulationFailed."""
        ...


@dataclass(frozen=True)
class TestConditions:
    """The conditions of one case: supply, ambient, the surge to stand, and what surrounds the lamp.

    `surroundings` names a closed fitting or a hot room ("" is open air); `fitting_k_per_w` is the thermal
    resistance between the air around the lamp and the room. `rooms_c` are the rooms, from cold
    to hot, that a lamp which has warmed up is also taken to.
    """

    __test__: ClassVar[bool] = False

    voltage_v: float
    frequency_hz: float
    ambient_c: float = 25.0
    surge_level_v: float | None = 500.0
    surge_angles_deg: tuple[float, ...] = (0.0, 90.0, 180.0, 270.0)
    surge_polarities: tuple[int, ...] = (1, -1)
    surroundings: str = ""
    fitting_k_per_w: float = 0.0
    rooms_c: tuple[float, ...] = ()
    burst: Burst = field(default_factory=Burst)
    dip: Dip = field(default_factory=Dip)
    sag: Sag = field(default_factory=Sag)
    leakage: Leakage | None = None

    @property
    def supply(self) -> str:
        """Supply as a person writes it."""
        return f"{self.voltage_v:g} V {self.frequency_hz:g} Hz"

    @property
    def label(self) -> str:
        """Supply, and where the lamp hangs if that is not open air, as a person writes it."""
        return f"{self.supply}, {self.surroundings}" if self.surroundings else self.supply

    def operating_point(self, phase_deg: float = 0.0) -> OperatingPoint:
        """A cold lamp on this supply, t = 0 at a phase of the sine.

        Dies and string are at 25 °C, for which their values are told; the reservoir is as cold as its room.
        """
        return OperatingPoint(self.voltage_v, self.frequency_hz, phase_deg, reservoir_c=self.ambient_c)


@dataclass(frozen=True)
class Case:
    """One variant on one bench under one set of conditions."""

    study: str
    variant: str
    lamp: Lamp
    bench: str
    conditions: TestConditions

    def heading(self, conditions: str = "") -> Heading:
        """Comments that head each deck of the case."""
        said = f"{self.conditions.label}, {conditions}" if conditions else self.conditions.label
        return Heading(self.bench, said)


GAVE_UP = "gave up"
"""Words about a deck that was not run as first meant."""


@dataclass(frozen=True)
class BenchResult:
    """What a case gave.

    `readings` by id (the unit is the last part of the id); `decks` the decks that decide the readings, by a
    short label; `waves` their vectors under the same labels; `how_run` how those were started,
    and what had to be tried before.
    """

    readings: Mapping[str, float | str]
    decks: Mapping[str, Deck]
    waves: Mapping[str, Waveforms]
    how_run: Mapping[str, str] = field(default_factory=dict)


def lamp_vectors(lamp: Lamp) -> tuple[str, ...]:
    """Vectors that the readings of a powered lamp need."""
    return lamp.circuit.vectors()


def lamp_nodes(lamp: Lamp) -> tuple[str, ...]:
    """Every named node of the lamp, as the engine wants them for a start from a snapshot."""
    return lamp.circuit.nodes()


def snapshot(
    waves: Waveforms, nodes: tuple[str, ...], inductors: tuple[str, ...], at_s: float
) -> InitialConditions:
    """State of a run at one moment, between its time points by straight lines."""
    return InitialConditions(
        nodes_v=tuple(zip(nodes, waves.values_at(at_s, [f"v({node})" for node in nodes]), strict=True)),
        inductors_a=tuple(
            zip(inductors, waves.values_at(at_s, [f"i({name})" for name in inductors]), strict=True)
        ),
    )
