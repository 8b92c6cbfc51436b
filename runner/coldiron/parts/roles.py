"""What parts can do, asked by everything that must not know their kinds.

Where a part sits is a fact of the circuit and no role: a part in series on a rail of the mains carries the
mains current, a resistor across the bus bleeds it.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Protocol, runtime_checkable

from coldiron.parts.part import Array, Waveforms


@runtime_checkable
class Lights(Protocol):
    """Makes light: its current, its voltage at a current, and how its light follows from the current."""

    def light_a(self, w: Waveforms) -> Array:
        """Current that counts as light, over all LEDs in parallel, weighed by their number [A]."""
        ...

    def voltage_v(self, current_a: float, temperature_c: float = 25.0) -> float:
        """Voltage at a current and a junction temperature [V]."""
        ...


@runtime_checkable
class Regulates(Protocol):
    """Holds a current."""

    @property
    def set_current_a(self) -> float:
        """Current it holds, cold [A]."""
        ...

    def each_a(self, w: Waveforms) -> list[Array]:
        """Currents of its separate regulators [A]."""
        ...


@runtime_checkable
class Stores(Protocol):
    """Stores charge between two points."""

    @property
    def stored_f(self) -> float:
        """Capacitance [F]."""
        ...

    def dielectric_v(self, w: Waveforms) -> Array:
        """Voltage across its dielectric [V]."""
        ...


@runtime_checkable
class Resists(Protocol):
    """A resistance whose heat is I²t times its ohms."""

    @property
    def cold_ohm(self) -> float:
        """Resistance, cold [Ω]."""
        ...


@runtime_checkable
class Clamps(Protocol):
    """Begins to conduct above a voltage, so that others do not see it."""

    @property
    def clamps_from_v(self) -> float:
        """Voltage at which it begins to conduct a milliampere [V]."""
        ...


@runtime_checkable
class Rectifies(Protocol):
    """Lets current through one way."""

    @property
    def drop_v(self) -> float:
        """Voltage it takes while it conducts [V]."""
        ...


@runtime_checkable
class Opens(Protocol):
    """A safety part that is meant to open: fusing resistor, fuse, thermal cut-out."""

    def opens_by(self) -> Iterator[str]:
        """What it opens by: "heat", "I²t", "temperature"."""
        ...
