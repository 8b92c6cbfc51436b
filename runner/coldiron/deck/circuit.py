"""What a deck exposes a lamp to: its supply, and the conditions its parts are printed for."""

from __future__ import annotations

import math
from dataclasses import dataclass

from coldiron.lamp.lamp import Lamp
from coldiron.lamp.varistor import Disc
from coldiron.parts.circuit import Circuit
from coldiron.parts.part import PartConditions
from coldiron.sources import SUPPLIES, Source, SupplyValues
from coldiron.sources.ammeter import Ammeter
from coldiron.sources.unplugged import Unplugged


@dataclass(frozen=True)
class OperatingPoint:
    """What one deck exposes the lamp to: supply, phase and temperatures.

    `phase_deg` is where the sine stands at t = 0; `reservoir_c` the temperature of the electrolytics,
    `own_c` those of parts with a thermal seat of their own, by name [°C]. `shut` holds all sinks off, as a
    thermal shut-off does; `disc` is which good disc a varistor is.
    """

    voltage_v: float
    frequency_hz: float
    phase_deg: float = 0.0
    die_c: float = 25.0
    string_c: float = 25.0
    reservoir_c: float = 25.0
    own_c: tuple[tuple[str, float], ...] = ()
    shut: bool = False
    disc: Disc = "nominal"

    @property
    def peak_v(self) -> float:
        """Peak of the supply [V]."""
        return math.sqrt(2.0) * self.voltage_v

    @property
    def cycle_s(self) -> float:
        """One mains cycle [s]."""
        return 1.0 / self.frequency_hz

    def part_conditions(self, *, pulse: bool = False) -> PartConditions:
        """What the parts are printed for, settled or in a pulse."""
        shared = {"die": self.die_c, "string": self.string_c, "electrolytic": self.reservoir_c}
        return PartConditions({**shared, **dict(self.own_c)}, pulse=pulse, shut=self.shut, disc=self.disc)


@dataclass(frozen=True)
class PoweredCircuit:
    """A lamp's circuit with what stands before it and beyond it, as the template prints it."""

    before: tuple[Source, ...]
    parts: Circuit
    conditions: PartConditions
    beyond: tuple[Source, ...] = ()


def circuit(
    lamp: Lamp,
    state: OperatingPoint,
    *,
    feed: str = "feed",
    back: str = "neutral",
    inductor_a: float = 0.0,
    pulse: bool = False,
    envelope: tuple[tuple[float, float], ...] = (),
    between: tuple[Source, ...] = (),
    terminals: tuple[Source, ...] = (Ammeter("input", ("feed", "line"), None),),
    beyond: tuple[Source, ...] = (),
) -> PoweredCircuit:
    """What a deck prints of a lamp at an operating point.

    Parameters
    ----------
    lamp : Lamp
    state : OperatingPoint
        Supply, phase at t = 0, temperatures.
    feed, back : str
        Nodes that the supply's wiring ends on, and that it comes back to.
    inductor_a : float
        Current in the supply inductance at t = 0 [A].
    pulse : bool
        Whether the run is one of microseconds to milliseconds.
    envelope : tuple
        Corner points of the supply's height (time [s], ratio), where it moves.
    between, terminals, beyond : tuple of Source
        What stands between the supply and "feed"; from there to the lamp, an ammeter unless told; beyond the
        lamp.
    """
    supply = SUPPLIES[lamp.mains.waveform](
        "mains",
        (feed, back),
        SupplyValues(
            peak_v=state.peak_v,
            frequency_hz=state.frequency_hz,
            phase_deg=state.phase_deg,
            resistance_ohm=lamp.mains.resistance_ohm,
            inductance_h=lamp.mains.inductance_h,
            damping_ohm=lamp.mains.damping_ohm,
            inductor_a=inductor_a,
            envelope=envelope,
        ),
    )
    before = (supply, *between, *terminals)
    return PoweredCircuit(before, lamp.circuit, state.part_conditions(pulse=pulse), beyond)


def unplugged(lamp: Lamp, state: OperatingPoint) -> PoweredCircuit:
    """What a deck prints of a lamp whose plug is pulled."""
    pins = Unplugged("pins", ("line", "neutral"), None)
    return PoweredCircuit((pins,), lamp.circuit, state.part_conditions())
