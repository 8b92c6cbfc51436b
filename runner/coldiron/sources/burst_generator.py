"""The burst generator and its coupling to live mains: 5/50 ns pulses of IEC 61000-4-4."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from coldiron.sources.source import Source


@dataclass(frozen=True)
class BurstGenerator:
    """Burst generator and its coupling.

    The level is the voltage of the open generator. Its pulse is the difference of two exponentials whose time
    constants give 5 ns from 10 % to 90 % and 50 ns between the halves; the factor brings its peak to the
    level.

    References
    ----------
    IEC 61000-4-4: 50 Ω, 5/50 ns; d.c. block of 10 nF and coupling of 33 nF to each line from memory. Double
    exponential of the IEEE C62 family, 1.270 (1 - exp(-t/3.5 ns)) exp(-t/55.6 ns), 3.5 ns from memory.
    """

    source_ohm: float = 50.0
    block_f: float = 10e-9
    coupling_f: float = 33e-9
    decoupling_h: float = 100e-6
    damping_ohm: float = 2200.0
    peak_factor: float = 1.270
    rise_s: float = 3.5e-9
    fall_s: float = 55.6e-9


@dataclass(frozen=True)
class BurstValues:
    """What the stage of the burst prints."""

    peak_v: float
    rise_s: float
    fall_s: float
    first_s: float
    period_s: float
    source_ohm: float
    block_f: float
    coupling_f: float
    line: bool
    neutral: bool
    decoupling_h: float
    decoupling_l_a: float
    decoupling_n_a: float
    damping_ohm: float


class FastTransients(Source):
    """Burst generator, and its coupling between supply and lamp."""

    kind: ClassVar[str] = "burst generator"
    terminals: ClassVar[tuple[str, ...]] = ("supply", "feed", "neutral", "earth")
    values: BurstValues

    def inner_nodes(self) -> tuple[str, ...]:
        """From the pulse to the output."""
        return "tick", "pulse", "blocked", "burst"

    def inductors(self) -> tuple[str, ...]:
        """Of both legs."""
        return "ldecouple_l", "ldecouple_n"

    def text(self) -> tuple[str, ...]:
        """What it is."""
        return ("with its coupling",)
