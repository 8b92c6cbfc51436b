"""The conditions of single benches: bursts, dips and sags of the mains, leakage past an open switch."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, Literal

from pydantic import Field

from coldiron.lamp.model import Closed, Inconsistency
from coldiron.quantities import (
    Ampere,
    Degree,
    Farad,
    FaradPerMetre,
    Hertz,
    Metre,
    Ohm,
    Ratio,
    Second,
    Volt,
)

Angle = Annotated[Degree, Field(ge=0, lt=360)]
Coupling = Literal["all", "line", "neutral"]


class Burst(Closed):
    """Fast transients: level of the open generator, pulses of a train and how fast they follow.

    The train of 75 pulses at 5 kHz (or 100 kHz) is that of IEC 61000-4-4; 1 kV is the level of IEC 61547
    for a.c. ports (from memory). `coupling` names the lines that the pulses go to: the standard takes all
    of them together, its second edition also took them one by one.
    """

    level_v: Annotated[Volt, Field(ge=50, le=8e3)] = 1e3
    rate_hz: Annotated[Hertz, Field(ge=1e3, le=1e6)] = 5e3
    pulses: Annotated[int, Field(ge=1, le=200)] = 75
    angle_deg: Annotated[tuple[Angle, ...], Field(min_length=1, max_length=12)] = (90.0, 270.0)
    coupling: Annotated[tuple[Coupling, ...], Field(min_length=1, max_length=3)] = ("all", "line", "neutral")


class Dip(Closed):
    """A short dip: what is left of the mains, for how long, and where on the sine it begins.

    Unset, the duration is half a mains cycle, which with nothing left is a test of IEC 61547 (from memory).
    """

    residual_ratio: Annotated[Ratio, Field(ge=0, le=1)] = 0.0
    duration_s: Annotated[Second, Field(ge=1e-3, le=1.0)] | None = None
    angle_deg: Annotated[tuple[Angle, ...], Field(min_length=1, max_length=12)] = (0.0, 90.0)


class Sag(Closed):
    """A slow sag: the mains falls to a share of itself, stays there and rises again, along straight lines.

    70 % for 10 cycles of 50 Hz is a test of IEC 61547 (from memory); the slopes are ours.
    """

    residual_ratio: Annotated[Ratio, Field(ge=0, le=1)] = 0.7
    fall_s: Annotated[Second, Field(ge=1e-3, le=2.0)] = 0.1
    hold_s: Annotated[Second, Field(ge=1e-3, le=2.0)] = 0.2
    rise_s: Annotated[Second, Field(ge=1e-3, le=2.0)] = 0.1


class Leakage(Closed):
    """What leaks past an open switch into a lamp; paths that are given lie side by side.

    A cable beside the live core has 100 to 150 pF a metre from core to core (from memory). `indicator` is
    the pilot lamp of a switch, with 150 kΩ in series (from memory). `glow_threshold_a` is the current of
    one LED that shows in the dark: about 1 µA (informal), 10 µA plainly (from memory).
    """

    cable_length_m: Annotated[Metre, Field(ge=0.1, le=1000)] | None = None
    cable_capacitance_f_per_m: Annotated[FaradPerMetre, Field(ge=1e-12, le=1e-9)] = 120e-12
    capacitance_f: Annotated[Farad, Field(ge=1e-12, le=1e-6)] | None = None
    resistance_ohm: Annotated[Ohm, Field(ge=1e3, le=1e9)] | None = None
    indicator: Literal["neon", "LED"] | None = None
    glow_threshold_a: Annotated[Ampere, Field(ge=1e-9, le=1e-2)] = 1e-6

    def inconsistencies(self) -> Iterator[Inconsistency]:
        """Without a path nothing leaks."""
        paths = (self.cable_length_m, self.capacitance_f, self.resistance_ohm, self.indicator)
        if all(path is None for path in paths):
            yield Inconsistency("cable_length", "a cable_length, a capacitance, a resistance or an indicator")

    @property
    def path_f(self) -> float:
        """Capacitance across the open switch [F]."""
        cable_f = (self.cable_length_m or 0.0) * self.cable_capacitance_f_per_m
        return cable_f + (self.capacitance_f or 0.0)
