"""Fuse: a wire that melts.

    v = R · i; it opens when ∫ i² dt of a pulse passes its melting integral, or after a time above its rated
    current

Valid for pulses shorter than about 10 ms, in which no heat leaves the wire (adiabatic; IEC 60127-1, from
memory).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Annotated, ClassVar

from pydantic import Field

from coldiron.lamp.model import Part as PartValues
from coldiron.parts.part import Array, Part, Rating, TestConditions, Waveforms
from coldiron.quantities import AMPERE, Ampere, AmpereSquaredSecond, Ohm


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


class Fuse(Part):
    """A fuse in series."""

    values: FuseValues
    kind: ClassVar[str] = "fuse"
    symbol: ClassVar[str] = "fuse"
    known_by: ClassVar[str] = "rated_current"

    def deck(self, conditions: TestConditions) -> Mapping[str, object]:
        """Its resistance."""
        return {"ohm": self.values.ohm}

    def current_a(self, w: Waveforms) -> Array:
        """Voltage over resistance [A]."""
        return self.across_v(w) / self.values.ohm

    @property
    def cold_ohm(self) -> float:
        """Resistance [Ω]."""
        return self.values.ohm

    def opens_by(self) -> Iterator[str]:
        """What it opens by."""
        yield "I²t"

    def ratings(self) -> Iterator[Rating]:
        """Rated current and melting integral."""
        yield Rating("current", "rms_A", self.values.rated_current_a, "rated_current")
        yield Rating("melting integral", "i2t_A2s", self.values.i2t_a2s, "melting_i2t", pulse=True)

    def text(self) -> tuple[str, ...]:
        """Its rated current."""
        return (AMPERE.format(self.values.rated_current_a),)
