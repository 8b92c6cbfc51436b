"""Hard thermal shut-off: the rhythm of a lamp that is switched off hot, and on again when it has cooled.

Sinks do so by their dies, a thermal cut-out by the board it sits on. Such a lamp has no settled state. It
warms until the one or the other reaches the shut-off, stays dark until it has cooled to the restart, and so
on: a slow blink, whose period follows from the heat capacities alone. The dies swing within seconds, board
and housing within the hour, so the rhythm that it ends in is looked for directly: the state at the restart to
which one lit and one dark stretch lead back.

The model has one temperature for all dies: real chips trip one by one, the hottest first, and then the light
falls by steps.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import solve_ivp
from scipy.optimize import brentq, root

from coldiron.errors import NoConvergence
from coldiron.heat.averages import Averages, Electrical, HeatRecord, RunsBlended, heat_flows
from coldiron.heat.balance import MOST_RUNS, STILL_POWER_RATIO, RunAt, missed_ratio
from coldiron.heat.network import HOTTEST_C, HeatFlows, Network, Temperatures
from coldiron.heat.outcomes import BLINKS, STAYS_DARK, Outcome
from coldiron.lamp.lamp import Lamp
from coldiron.parts.roles import OpensHot

Array = NDArray[np.float64]

DIE, BOARD = (Temperatures._fields.index(name) for name in ("die_c", "board_c"))

LONGEST_RATIO = 16.0
"""A stretch that takes longer than this, in the longest time constant of the network, does not end."""
FOLLOWED = 12
"""Stretches after the first shut-off that are followed and shown: some periods of the blink."""
POINTS = 60
"""Instants of one stretch that are kept."""
_RELATIVE, _ABSOLUTE_K = 1e-8, 1e-7
_STEP_K = 1e-3
_CLOSED_W = 1e-3


class HeatSwitch(NamedTuple):
    """What switches a lamp off hot and on again: its node of the network, and both temperatures [°C]."""

    node: int
    opens_c: float
    closes_c: float

    @property
    def at_the_dies(self) -> bool:
        """Whether it is the chips themselves."""
        return self.node == DIE


def heat_switches(lamp: Lamp) -> tuple[HeatSwitch, ...]:
    """Everything that switches a lamp off by heat: chips by their dies, a cut-out in a rail by the board."""
    chips = [
        HeatSwitch(DIE, sink.shut_off_c, sink.restarts_c)
        for sink in lamp.circuit.regulators
        if sink.shut_off_c is not None and sink.restarts_c is not None
    ]
    contacts = [
        HeatSwitch(BOARD, part.opens_c, part.closes_c)
        for part in lamp.circuit.having(OpensHot)
        if part.seat == "series" and part.works
    ]
    return (*chips[:1], *contacts)


@dataclass(frozen=True)
class HeatStretch:
    """One lit or dark stretch: instants from its beginning [s], and the four nodes (4, n) [°C]."""

    lit: bool
    time_s: Array
    nodes_c: Array

    @property
    def length_s(self) -> float:
        """How long it lasts [s]."""
        return float(self.time_s[-1])

    @property
    def end_c(self) -> Array:
        """Temperatures of the four nodes at its end [°C]."""
        return np.asarray(self.nodes_c[:, -1])

    def mean(self, values: Array) -> float:
        """Time mean of values at its instants."""
        return float(np.trapezoid(values, self.time_s) / self.length_s)


@dataclass(frozen=True)
class Rhythm:
    """One period of a slow blink: a lit and a dark stretch that lead back to where they began."""

    lit: HeatStretch
    dark: HeatStretch

    @property
    def period_s(self) -> float:
        """From one restart to the next [s]."""
        return self.lit.length_s + self.dark.length_s

    @property
    def lit_ratio(self) -> float:
        """Share of the time in which the lamp is lit."""
        return self.lit.length_s / self.period_s

    @property
    def hottest(self) -> Temperatures:
        """Highest temperature of each node."""
        nodes_c = np.hstack([self.lit.nodes_c, self.dark.nodes_c])
        return Temperatures(*(float(c) for c in nodes_c.max(axis=1)))


@dataclass(frozen=True)
class Blink:
    """What a lamp does whose dies reach the shut-off.

    `way` leads from cold to the first shut-off and through some stretches after it; `rhythm` is what it ends
    in, None where it stays dark; `lit` and `dark` are the averages that this rests on, `records` the lit runs
    behind them.
    """

    outcome: Outcome
    way: tuple[HeatStretch, ...]
    rhythm: Rhythm | None
    lit: Electrical
    dark: Averages
    records: tuple[HeatRecord, ...]


def blink(
    network: Network,
    run_at: RunAt,
    dark_at: Callable[[float], Averages],
    known: Sequence[HeatRecord],
    switch: HeatSwitch | None = None,
) -> Blink | None:
    """Find what a lamp with a hard shut-off does; None where it never gets so hot, or where it rests lit.

    Parameters
    ----------
    network : Network
    run_at : callable
        Settles the lit circuit at a die and a string temperature.
    dark_at : callable
        Averages with all sinks off, at a string temperature.
    known : sequence of HeatRecord
        Lit runs that are there already; at least one.
    switch : HeatSwitch, optional
        What switches it off; the first there is where it is not given.

    Returns
    -------
    Blink or None
        With a lit run in the middle of its lit stretch whose power was foreseen within `STILL_POWER_RATIO`.

    Raises
    ------
    NoConvergence
        If `MOST_RUNS` runs did not get there, or no period closes.
    """
    records, dark = list(known), None
    for _ in range(MOST_RUNS):
        lit = RunsBlended(network.lamp, records)
        first = ShutOff(network, lit, lit(network.ambient_c, network.ambient_c), switch).first()
        if first is None:
            return None
        dark = dark_at(float(first.end_c[1])) if dark is None else dark
        cycle = ShutOff(network, lit, dark, switch)
        rhythm = cycle.rhythm()
        if rhythm is None and not cycle.stays_off:
            return None
        seen = first if rhythm is None else rhythm.lit
        at_c = seen.mean(seen.nodes_c[0]), seen.mean(seen.nodes_c[1])
        record = run_at(*at_c)
        records.append(record)
        if missed_ratio(record, lit(*at_c)) < STILL_POWER_RATIO:
            outcome = STAYS_DARK if rhythm is None else BLINKS
            return Blink(outcome, tuple(cycle.followed(first)), rhythm, lit, dark, tuple(records))
    raise NoConvergence(f"no rhythm of the thermal shut-off after {MOST_RUNS} electrical runs")


class ShutOff:
    """A network that is switched off hot and on again.

    Parameters
    ----------
    network : Network
        Its lamp has a shut-off.
    lit : Electrical
        Averages of the lit lamp at a die and a string temperature.
    dark : Averages
        Averages while it is off.
    switch : HeatSwitch, optional
        What switches it off; the first there is where it is not given.
    """

    def __init__(
        self, network: Network, lit: Electrical, dark: Averages, switch: HeatSwitch | None = None
    ) -> None:
        switch = switch or next(iter(heat_switches(network.lamp)), None)
        if switch is None:
            raise ValueError("nothing of this lamp switches it off by heat")
        self._network, self._lit = network, lit
        self._dark_flows = heat_flows(network.lamp.circuit.lights[0], dark)
        self._node, self._off_c, self._on_c = switch
        self._others = [n for n in range(len(Temperatures._fields)) if n != self._node]
        self._longest_s = LONGEST_RATIO * network.slowest_s()

    def _lit_flows(self, die_c: float, string_c: float) -> HeatFlows:
        return heat_flows(self._network.lamp.circuit.lights[0], self._lit(die_c, string_c))

    def stretch(self, begin_c: Array, *, lit: bool) -> HeatStretch | None:
        """Follow the lamp until it reaches what ends a stretch; None where it never does."""
        target_c = self._off_c if lit else self._on_c

        def slopes(time_s: float, nodes_c: Array) -> Array:
            flows = self._lit_flows(float(nodes_c[0]), float(nodes_c[1])) if lit else self._dark_flows
            return self._network.slopes_k_per_s(nodes_c, flows)

        def over(time_s: float, nodes_c: Array) -> float:
            return float(nodes_c[self._node]) - target_c

        over.terminal, over.direction = True, 1.0 if lit else -1.0  # type: ignore[attr-defined]
        found = solve_ivp(
            slopes,
            (0.0, self._longest_s),
            begin_c,
            method="LSODA",
            events=over,
            rtol=_RELATIVE,
            atol=_ABSOLUTE_K,
            dense_output=True,
        )
        if found.status != 1 or found.t[-1] <= 0.0:
            return None
        assert found.sol is not None
        # Even in the square root of time: the dies move most as a stretch begins.
        time_s = found.t[-1] * np.linspace(0.0, 1.0, POINTS) ** 2
        return HeatStretch(lit, time_s, found.sol(time_s))

    @property
    def stays_off(self) -> bool:
        """Whether the dark lamp never cools to the restart."""
        return self._network.balanced(self._dark_flows)[self._node] >= self._on_c

    def first(self) -> HeatStretch | None:
        """From cold to the first shut-off; None where the lamp never gets there."""
        return self.stretch(np.full(4, self._network.ambient_c), lit=True)

    def followed(self, first: HeatStretch) -> Iterator[HeatStretch]:
        """The first stretch and `FOLLOWED` after it; fewer where one does not end."""
        stretch: HeatStretch | None = first
        for _ in range(FOLLOWED + 1):
            if stretch is None:
                return
            yield stretch
            stretch = self.stretch(stretch.end_c, lit=not stretch.lit)

    def rhythm(self) -> Rhythm | None:
        """The period in which the lamp ends; None where it comes to rest, lit or dark.

        Raises
        ------
        NoConvergence
            If no period closes.
        """
        if self.stays_off:
            return None
        guess = self._guess()
        if guess is None:
            return None
        capacities = self._network.capacities_j_per_k[self._others]

        def left_over_w(slow_c: Array) -> Array:
            """Heat that a period leaves in the nodes that switch nothing [W]."""
            both = self._both(slow_c)
            # The farther from a rhythm, the sooner one stretch does not end: pull back to the guess.
            if both is None:
                return np.asarray(1e3 * (slow_c - guess))
            period_s = both[0].length_s + both[1].length_s
            return np.asarray(capacities * (both[1].end_c[self._others] - slow_c) / period_s)

        found = root(left_over_w, guess, options={"eps": _STEP_K})
        both = self._both(found.x)
        if both is None or np.abs(left_over_w(found.x)).max() > _CLOSED_W:
            raise NoConvergence("the lamp shuts off and restarts, but no period of it closes")
        return Rhythm(*both)

    def _both(self, slow_c: Array) -> tuple[HeatStretch, HeatStretch] | None:
        lit = self.stretch(np.insert(slow_c, self._node, self._on_c), lit=True)
        dark = self.stretch(lit.end_c, lit=False) if lit else None
        return (lit, dark) if lit and dark else None

    def _guess(self) -> Array | None:
        """Nodes that switch nothing, at the mean heat keeping the other halfway; None where lit it rests."""
        middle_c = (self._off_c + self._on_c) / 2.0
        at_c = np.full(len(Temperatures._fields), self._network.ambient_c)
        at_c[self._node] = middle_c
        for _ in range(3):
            flows = self._lit_flows(*np.minimum(at_c[:2], HOTTEST_C).tolist())

            def mixed(share: float, lit: HeatFlows = flows) -> Temperatures:
                each = (share * a + (1.0 - share) * b for a, b in zip(lit, self._dark_flows, strict=True))
                return self._network.balanced(HeatFlows(*each))

            def over_k(share: float, of: Callable[[float], Temperatures] = mixed) -> float:
                return of(share)[self._node] - middle_c

            at_c[self._node] = self._off_c
            hot = self._network.balanced(self._lit_flows(*np.minimum(at_c[:2], HOTTEST_C).tolist()))
            if hot[self._node] <= self._off_c or over_k(1.0) <= 0.0 or over_k(0.0) >= 0.0:
                return None
            at_c = np.array(mixed(float(brentq(over_k, 0.0, 1.0, xtol=1e-9))))
        return np.delete(at_c, self._node)
