"""A deck: the text the engine runs, and how to tell that it was this one that ran."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from functools import cached_property


@dataclass(frozen=True)
class Deck:
    """A complete netlist, runnable by a plain `ngspice -b`.

    `title` is its first line without the star; `keep` the vectors it saves; `stop_s` its last time point.
    """

    text: str
    title: str
    keep: tuple[str, ...]
    stop_s: float

    @cached_property
    def key(self) -> str:
        """Hash of what the engine computes: the text without title and comments."""
        lines = [line for line in self.text.split("\n") if line[:1] != "*"]
        return hashlib.sha256("\n".join(lines).encode()).hexdigest()


@dataclass(frozen=True)
class Heading:
    """What a deck is of; printed as comments.

    The names of lamp, study and variant are not: equal circuits have equal decks, and `named` prints the
    names where a deck is shown.
    """

    bench: str
    conditions: str


@dataclass(frozen=True)
class SolverSettings:
    """How finely a run is computed: largest step [s], and the tolerances of voltages and currents.

    `reltol` is relative, `abstol` [A] and `vntol` [V] are what it may fall to. Where hundreds of amperes meet
    steep junctions, 1 nA and 1 uV cannot be reached in double precision, and the step shrinks to nothing.
    """

    step_s: float
    reltol: float = 1e-4
    abstol: float = 1e-9
    vntol: float = 1e-6

    def __str__(self) -> str:
        """Step and tolerance, such as "20 us, 1e-4".

        >>> str(SolverSettings(20e-6))
        'steps to 20 us at 0.0001'
        """
        return f"steps to {1e6 * self.step_s:g} us at {self.reltol:g}"


@dataclass(frozen=True)
class InitialConditions:
    """State in which a run begins: node voltages [V] and inductor currents [A], by name."""

    nodes_v: tuple[tuple[str, float], ...] = ()
    inductors_a: tuple[tuple[str, float], ...] = ()

    def inductor_a(self, name: str) -> float:
        """Current of an inductor, 0 where the start does not say."""
        return dict(self.inductors_a).get(name, 0.0)
