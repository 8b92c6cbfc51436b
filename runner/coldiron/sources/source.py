"""What stands before a lamp on a bench, as a kind of part; and what every supply has."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, ClassVar

from coldiron.parts.part import Array, Part, PartConditions

SOURCES: dict[str, type[Part]] = {}
"""Every kind of source by its word."""
SUPPLIES: dict[str, type[Supply]] = {}
"""Every supply by the word of its waveform in a lamp file."""


class Source(Part):
    """A part that a bench wires before the lamp, or beyond it; no lamp file places one."""

    registry: ClassVar[dict[str, type[Part]]] = SOURCES
    placeable: ClassVar[bool] = False

    def deck(self, conditions: PartConditions) -> Mapping[str, object]:
        """Its values as they are."""
        return dict(vars(self.values))


@dataclass(frozen=True)
class SupplyValues:
    """Supply of a deck; a lamp's wiring, the moment it begins at, and the current in that wiring then.

    `envelope` are corner points (time [s], ratio) of a supply whose height moves; none where it does not.
    """

    peak_v: float
    frequency_hz: float
    phase_deg: float
    resistance_ohm: float
    inductance_h: float
    damping_ohm: float
    inductor_a: float = 0.0
    envelope: tuple[tuple[float, float], ...] = ()


class Supply(Source):
    """A supply behind the resistance and inductance of its wiring, from `back` to `feed`.

    `waveform` is the word that `[mains]` of a lamp file calls it by. The peak in its values is that of a sine
    of the same r.m.s. value. Its macro file also has a macro `moving`, for one that follows an envelope.
    """

    values: SupplyValues
    terminals: ClassVar[tuple[str, ...]] = ("feed", "back")
    waveform: ClassVar[str] = ""

    def __init_subclass__(cls, **options: Any) -> None:
        """Enter the supply by the word of its waveform."""
        super().__init_subclass__(**options)
        if cls.waveform:
            SUPPLIES[cls.waveform] = cls

    @property
    def macro(self) -> str:
        """Its macro for a height that moves, where there is an envelope."""
        return "moving" if self.values.envelope else "part"

    @property
    def omega_per_s(self) -> float:
        """Angular frequency [1/s]."""
        return 2.0 * math.pi * self.values.frequency_hz

    def deck(self, conditions: PartConditions) -> Mapping[str, object]:
        """Its values, with the angle as a formula wants it."""
        values = dict(vars(self.values))
        del values["envelope"]
        return values | {
            "points": self.values.envelope,
            "omega_per_s": self.omega_per_s,
            "phase_rad": math.radians(self.values.phase_deg),
        }

    def open_v(self, time_s: Array) -> Array:
        """Its voltage with nothing on it, of full height [V]."""
        raise NotImplementedError(f"{self.kind} does not say its voltage")

    def inner_nodes(self) -> tuple[str, ...]:
        """Between source, resistance and inductance."""
        return "mains", "wiring"

    def inductors(self) -> tuple[str, ...]:
        """Inductance of the wiring."""
        return ("lmains",)

    def text(self) -> tuple[str, ...]:
        """When it begins."""
        return "behind the impedance of the wiring", f"closed at t = 0 at {self.values.phase_deg:g} degrees"
