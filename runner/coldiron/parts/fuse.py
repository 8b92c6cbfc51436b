"""Fuse: a wire that melts.

    v = R · i; it opens when ∫ i² dt of a pulse passes its melting integral, or after a time above its rated
    current

Valid for pulses shorter than about 10 ms, in which no heat leaves the wire (adiabatic; IEC 60127-1, from
memory).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Annotated, ClassVar

import numpy as np
from pydantic import Field

from coldiron.lamp.model import Part as PartValues
from coldiron.parts.part import Array, Duty, FailureMode, PartConditions, PartWaveforms, Rating
from coldiron.parts.roles import Melts, Resists
from coldiron.quantities import AMPERE, Ampere, AmpereSquaredSecond, Ohm
from coldiron.readings import surges

GATES = ((1.5, 60.0, 3600.0), (2.1, 2.0, 120.0), (2.75, 0.6, 10.0), (4.0, 0.15, 3.0), (10.0, 0.02, 0.3))
"""Multiples of the rated current, with the least and the most time to open [s], of slow 5 x 20 mm fuses: the
gates of IEC 60127-2, sheet 3 (from memory; at 2.1 times it has no least time, at 1.5 times no most)."""
SURE_RATIO = 2.1


class FuseValues(PartValues):
    """Rated current; unset, the rest is that of a slow 5 x 20 mm fuse (from memory)."""

    rated_current_a: Annotated[Ampere, Field(ge=0.02, le=32)]
    melting_i2t_a2s: Annotated[AmpereSquaredSecond, Field(ge=1e-6, le=1e5)] | None = None
    resistance_ohm: Annotated[Ohm, Field(ge=1e-4, le=1e3)] | None = None

    @property
    def ohm(self) -> float:
        """Cold resistance [Ω]: about 0.15 V at the rated current."""
        return 0.15 / self.rated_current_a if self.resistance_ohm is None else self.resistance_ohm

    @property
    def i2t_a2s(self) -> float:
        """Melting integral [A²s]: about 20 ms at ten times the rated current, squared."""
        return 2.0 * self.rated_current_a**2 if self.melting_i2t_a2s is None else self.melting_i2t_a2s


class Fuse(Melts, Resists):
    """A fuse in series."""

    values: FuseValues
    kind: ClassVar[str] = "fuse"
    model: ClassVar[type[PartValues]] = FuseValues
    symbol: ClassVar[str] = "fuse"
    guards: ClassVar[str] = "fuse"
    known_by: ClassVar[str] = "rated_current"
    opens_by: ClassVar[str] = "I²t"

    def deck(self, conditions: PartConditions) -> Mapping[str, object]:
        """Its resistance."""
        return {"ohm": self.values.ohm}

    def current_a(self, w: PartWaveforms) -> Array:
        """Voltage over resistance [A]."""
        return self.across_v(w) / self.values.ohm

    @property
    def cold_ohm(self) -> float:
        """Resistance [Ω]."""
        return self.values.ohm

    def ratings(self, duty: Duty) -> Iterator[Rating]:
        """Rated current and melting integral."""
        v = self.values
        if not duty.pulse:
            yield Rating("current", f"{self.name}_rms_A", v.rated_current_a, "rated_current")
            return
        reading, unset = duty.id(f"{self.name}_i2t_A2s"), v.melting_i2t_a2s is None
        yield Rating("melting integral", reading, v.i2t_a2s, "melting_i2t", unset=unset)

    def failures(self) -> Iterator[FailureMode]:
        """Open; a wire in its place, or across it."""
        yield self.broken("open")
        yield self.broken("short", "bridged", "a wire in its place or across it")

    @property
    def rated_a(self) -> float:
        """Rated current [A]."""
        return self.values.rated_current_a

    @property
    def carries_ratio(self) -> float:
        """1.5 times its rated current for an hour at the least."""
        return GATES[0][0]

    @property
    def melting_a2s(self) -> tuple[float, float]:
        """From its melting integral to fifteen times that."""
        i2t, (_, fast_s, slow_s) = self.values.i2t_a2s, GATES[-1]
        return i2t, i2t * slow_s / fast_s

    def melts_after_s(self, rms_a: float) -> tuple[float, float]:
        """Between the gates of its standard by straight lines of logarithms, beyond the last one by I²t."""
        ratio = rms_a / self.values.rated_current_a
        if ratio < GATES[0][0]:
            return math.inf, math.inf
        # The gates are those of a fuse with the usual melting integral; a faster one has them earlier.
        share = self.values.i2t_a2s / (2.0 * self.values.rated_current_a**2)
        if ratio >= GATES[-1][0]:
            fast, slow = self.melting_a2s
            return fast / rms_a**2, slow / rms_a**2
        logs = [math.log(gate[0]) for gate in GATES]
        times = [
            float(np.exp(np.interp(math.log(ratio), logs, np.log([g[n] for g in GATES])))) for n in (1, 2)
        ]
        return share * times[0], share * times[1] if ratio >= SURE_RATIO else math.inf

    def settled_readings(self, w: PartWaveforms) -> Mapping[str, float]:
        """Current, rms [A]."""
        return {"rms_A": self.rms(w, self.current_a(w))}

    def pulse_readings(self, w: PartWaveforms) -> Mapping[str, float]:
        """Integral of the current squared [A²s]."""
        return {"i2t_A2s": surges.i2t_a2s(w.time_s, self.current_a(w))}

    def text(self) -> tuple[str, ...]:
        """Its rated current."""
        return (AMPERE.format(self.values.rated_current_a),)
