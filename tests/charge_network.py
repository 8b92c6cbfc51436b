"""Charge balances of a network, integrated implicitly: the method behind the independent surge.

On every node the charge q of its capacitances changes by the currents that flow in, d/dt q(x) = f(x, t), and
for every coil L di/dt = v. That is one stiff system, algebraic in the nodes that have no capacitance. TR-BDF2
carries it on (Bank et al., IEEE Trans. CAD 4, 1985; error estimate by Hosea and Shampine, Appl. Numer. Math.
20, 1996; both from memory): of second order, L-stable, each stage solved by Newton's method with the exact
Jacobian. Charges, not voltages, are differenced, so that none is lost.

Several runs of one network go side by side at a common step: a state is an array (runs, unknowns).
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

Floats = NDArray[np.float64]
Law = Callable[[Floats], tuple[Floats, Floats]]
"""Current or charge, and its slope, at voltages."""
ChannelLaw = Callable[[Floats, Floats], tuple[Floats, Floats, Floats]]
"""Drain current at gate and drain voltages above the source, and its slopes by both."""
Source = Callable[[float], Floats | float]
"""Voltage of a source at a time, one value or one a run."""

GAMMA = 2.0 - math.sqrt(2.0)
LAST = GAMMA / 2.0
EARLIER = math.sqrt(2.0) / 4.0
"""TR-BDF2: the trapezium rule to t + GAMMA h; then both earlier slopes weigh EARLIER, the new one LAST."""
COMPANION = ((1.0 - EARLIER) / 3.0, (3.0 * EARLIER + 1.0) / 3.0, LAST / 3.0)
"""Weights of the same three slopes in the companion of third order."""
MOST_ITERATIONS = 10
CONVERGED = 0.05
"""Share of the allowed error that the last correction of Newton's method may have."""


class DidNotConverge(ArithmeticError):
    """Newton's method found no state at the end of a step."""


@dataclass
class Run:
    """Accepted points of an integration: times (n,), states (n, runs, unknowns)."""

    time_s: Floats
    states: Floats
    places: dict[str, int]

    def v(self, plus: str, minus: str = "0") -> Floats:
        """Voltage between two nodes (n, runs); also a coil's current, by the coil's name."""
        return self._one(plus) - self._one(minus)

    def _one(self, name: str) -> Floats:
        return np.zeros(self.states.shape[:2]) if name == "0" else self.states[:, :, self.places[name]]

    @property
    def last(self) -> Floats:
        """State at the end (runs, unknowns)."""
        return np.asarray(self.states[-1])


@dataclass
class _Branches:
    """Branches of one law from node a to node b, each by a voltage between nodes c and d."""

    law: Law
    ends: Sequence[tuple[str, str, str, str]]


@dataclass
class Network:
    """Parts between named nodes, "0" being the reference; every current flows from a to b."""

    _linear: list[tuple[str, str, float]] = field(default_factory=list)
    _capacitors: list[tuple[str, str, float]] = field(default_factory=list)
    _coils: list[tuple[str, str, str, float]] = field(default_factory=list)
    _sources: list[tuple[str, str, float, Source]] = field(default_factory=list)
    _currents: list[_Branches] = field(default_factory=list)
    _charges: list[_Branches] = field(default_factory=list)
    _channels: list[tuple[ChannelLaw, Sequence[tuple[str, str, str]]]] = field(default_factory=list)

    def resistor(self, a: str, b: str, ohm: float) -> None:
        """Add a resistor."""
        self._linear.append((a, b, 1.0 / ohm))

    def capacitor(self, a: str, b: str, farad: float) -> None:
        """Add a capacitor."""
        self._capacitors.append((a, b, farad))

    def coil(self, name: str, a: str, b: str, henry: float) -> None:
        """Add an inductor; its current is an unknown by its name."""
        self._coils.append((name, a, b, henry))

    def source(self, a: str, b: str, ohm: float, volt: Source) -> None:
        """Add a source that lifts node a above node b, behind a resistance."""
        self.resistor(a, b, ohm)
        self._sources.append((a, b, 1.0 / ohm, volt))

    def current(self, law: Law, *branches: tuple[str, str]) -> None:
        """Add branches whose current hangs on the voltage across them."""
        self.controlled(law, *((a, b, a, b) for a, b in branches))

    def controlled(self, law: Law, *branches: tuple[str, str, str, str]) -> None:
        """Add branches whose current hangs on the voltage between two other nodes."""
        self._currents.append(_Branches(law, branches))

    def charge(self, law: Law, *branches: tuple[str, str]) -> None:
        """Add branches whose charge hangs on the voltage across them."""
        self._charges.append(_Branches(law, [(a, b, a, b) for a, b in branches]))

    def transistors(self, law: ChannelLaw, *terminals: tuple[str, str, str]) -> None:
        """Add transistors by drain, gate and source."""
        self._channels.append((law, terminals))

    def equations(self) -> Equations:
        """Return its charge balances."""
        return Equations(self)


class Equations:
    """d/dt q(x) = f(x, t) of a network, with both Jacobians."""

    def __init__(self, network: Network) -> None:
        self.places: dict[str, int] = {}
        for a, b, *_ in [*network._linear, *network._capacitors, *[coil[1:] for coil in network._coils]]:
            self._place(a, b)
        for group in [*network._currents, *network._charges]:
            self._place(*(name for ends in group.ends for name in ends))
        for _, terminals in network._channels:
            self._place(*(name for names in terminals for name in names))
        self._place(*(name for name, *_ in network._coils))
        self.size = len(self.places)

        self._f_linear, self._q_linear = np.zeros((2, self.size, self.size))
        for parts, matrix, sign in (
            (network._linear, self._f_linear, -1.0),
            (network._capacitors, self._q_linear, 1.0),
        ):
            for a, b, value in parts:
                across = self._incidence([(a, b)])
                matrix += sign * value * across @ across.T
        for name, a, b, henry in network._coils:
            across, own = self._incidence([(a, b)])[:, 0], self.places[name]
            self._f_linear[:, own] -= across
            self._f_linear[own] += across
            self._q_linear[own, own] = henry
        self._sources = [
            (self._incidence([(a, b)])[:, 0] * conductance, volt)
            for a, b, conductance, volt in network._sources
        ]
        self._currents = [self._group(group) for group in network._currents]
        self._charges = [self._group(group) for group in network._charges]
        self._channels = [
            (
                law,
                self._incidence([(drain, source) for drain, _, source in terminals]),
                self._incidence([(gate, source) for _, gate, source in terminals]),
            )
            for law, terminals in network._channels
        ]
        # One column a branch: its share in the Jacobian at a slope of 1.
        none = np.zeros((self.size, 0))
        self._charge_flow = np.hstack([none, *(flow for _, flow, _ in self._charges)])
        self._charge_outer = _outer(self._charge_flow, [none, *(across for *_, across in self._charges)])
        flows = [none, *(flow for _, flow, _ in self._currents), *(flow for _, flow, _ in self._channels)]
        self._current_flow = np.hstack(flows)
        self._current_outer = _outer(
            np.hstack([*flows, *(flow for _, flow, _ in self._channels)]),
            [none, *(across for *_, across in self._currents)]
            + [gate for *_, gate in self._channels]
            + [flow for _, flow, _ in self._channels],
        )
        charged = np.abs(self._q_linear).sum(axis=1)
        for _, flow, _ in self._charges:
            charged += np.abs(flow).sum(axis=1)
        self._differential = charged > 0.0

    def _place(self, *names: str) -> None:
        for name in names:
            if name != "0":
                self.places.setdefault(name, len(self.places))

    def _incidence(self, pairs: Sequence[tuple[str, str]]) -> Floats:
        matrix = np.zeros((len(self.places), len(pairs)))
        for column, pair in enumerate(pairs):
            for name, sign in zip(pair, (1.0, -1.0), strict=True):
                if name != "0":
                    matrix[self.places[name], column] += sign
        return matrix

    def _group(self, group: _Branches) -> tuple[Law, Floats, Floats]:
        flow = self._incidence([ends[:2] for ends in group.ends])
        return group.law, flow, self._incidence([ends[2:] for ends in group.ends])

    def state(self, runs: int, **volt: float) -> Floats:
        """State of zero but for some unknowns."""
        x = np.zeros((runs, self.size))
        for name, value in volt.items():
            x[:, self.places[name]] = value
        return x

    def charges(self, x: Floats) -> tuple[Floats, Floats]:
        """q(x) and its Jacobian."""
        values, slopes = _of_laws([(law, across) for law, _, across in self._charges], x)
        q = x @ self._q_linear.T + values @ self._charge_flow.T
        return q, self._q_linear + self._shaped(self._charge_outer, slopes)

    def flows(self, x: Floats, time_s: float) -> tuple[Floats, Floats]:
        """f(x, t) and its Jacobian by x."""
        values, slopes = _of_laws([(law, across) for law, _, across in self._currents], x)
        by_gate, by_drain = [np.zeros((len(x), 0))], [np.zeros((len(x), 0))]
        for channel, flow, gate in self._channels:
            value, gate_slope, drain_slope = channel(x @ gate, x @ flow)
            values, by_gate, by_drain = np.hstack([values, value]), [gate_slope], [drain_slope]
        f = x @ self._f_linear.T - values @ self._current_flow.T
        for into, volt in self._sources:
            f += np.multiply.outer(np.broadcast_to(volt(time_s), len(x)), into)
        all_slopes = np.hstack([slopes, *by_gate, *by_drain])
        return f, self._f_linear - self._shaped(self._current_outer, all_slopes)

    def _shaped(self, outer: sparse.csr_array, slopes: Floats) -> Floats:
        flat: Floats = (outer @ slopes.T).T
        return flat.reshape(-1, self.size, self.size)

    def integrate(
        self,
        x: Floats,
        start_s: float,
        stop_s: float,
        *,
        first_s: float,
        largest_s: float,
        relative: float = 3e-4,
        absolute: float = 2e-3,
        marks_s: Sequence[float] = (),
    ) -> Run:
        """Carry a state on from one time to another; a step ends at each of `marks_s`.

        The currents of coils count to the allowed error as volts do.
        """
        x = self._consistent(x, start_s)
        q = self.charges(x)[0]
        f = self.flows(x, start_s)[0]
        ends_s = [*(mark for mark in sorted(marks_s) if start_s < mark < stop_s), stop_s]
        times_s, states = [start_s], [x]
        now_s, step_s = start_s, first_s
        for end_s in ends_s:
            step_s = first_s if now_s > start_s else step_s
            while now_s < end_s:
                h = min(step_s, largest_s, end_s - now_s)
                if h < 1e-16:
                    raise DidNotConverge(f"step fell to nothing at {now_s:.9g} s")
                allowed = absolute + relative * np.abs(x)
                try:
                    middle, at_middle_f, _, _ = self._stage(
                        x, q + LAST * h * f, LAST * h, now_s + GAMMA * h, allowed
                    )
                    ahead = x + (middle - x) / GAMMA
                    known = q + EARLIER * h * (f + at_middle_f)
                    new, new_f, new_q, matrix = self._stage(ahead, known, LAST * h, now_s + h, allowed)
                except DidNotConverge:
                    step_s = 0.25 * h
                    continue
                weights = [
                    own - other for own, other in zip((EARLIER, EARLIER, LAST), COMPANION, strict=True)
                ]
                defect = h * (weights[0] * f + weights[1] * at_middle_f + weights[2] * new_f)
                error = np.linalg.solve(matrix, (defect * self._differential)[..., None])[..., 0]
                missed = float(
                    np.abs(error / (absolute + relative * np.maximum(np.abs(x), np.abs(new)))).max()
                )
                step_s = h * min(3.0, max(0.2, 0.8 / max(missed, 1e-9) ** (1 / 3)))
                if missed > 1.0:
                    continue
                times_s += [now_s + GAMMA * h, now_s + h]
                states += [middle, new]
                now_s, x, q, f = now_s + h, new, new_q, new_f
                if end_s - now_s < 1e-15:
                    now_s = end_s
        return Run(np.array(times_s), np.array(states), self.places)

    def _consistent(self, x: Floats, time_s: float) -> Floats:
        """State with the same charges in which the nodes without capacitance are in balance."""
        return self._stage(x, self.charges(x)[0], 1e-13, time_s, np.full_like(x, 1e-3), iterations=200)[0]

    def _stage(
        self,
        x: Floats,
        known_q: Floats,
        weight_s: float,
        time_s: float,
        allowed: Floats,
        iterations: int = MOST_ITERATIONS,
    ) -> tuple[Floats, Floats, Floats, Floats]:
        """Solve q(x) = known + weight f(x, t), and f(x, t) = 0 where no capacitance is.

        Returns x, f, q and the matrix of the last iteration.
        """
        scale = np.where(self._differential, weight_s, 1.0)
        target = np.where(self._differential, known_q, 0.0)
        for _ in range(iterations):
            q, by_q = self.charges(x)
            f, by_f = self.flows(x, time_s)
            matrix = by_q - scale[:, None] * by_f
            change = np.asarray(np.linalg.solve(matrix, (target + scale * f - q)[..., None]))[..., 0]
            x = x + change
            if not np.isfinite(x).all():
                break
            if np.abs(change / allowed).max() < CONVERGED:
                # Along the tangent, on which the balance holds exactly: no charge is lost.
                f, q = f + _times(by_f, change), q + _times(by_q, change)
                return x, f, q, matrix
        raise DidNotConverge(f"no balance at {time_s:.9g} s")


def _times(matrices: Floats, vectors: Floats) -> Floats:
    product: Floats = np.matmul(matrices, vectors[..., None])[..., 0]
    return product


def _outer(flow: Floats, across: Sequence[Floats]) -> sparse.csr_array:
    """Outer product of how a branch flows and what it hangs on, flat, one column a branch."""
    columns = np.hstack(across)
    rows: Floats = np.einsum("im,jm->ijm", flow, columns)
    return sparse.csr_array(rows.reshape(flow.shape[0] ** 2, columns.shape[1]))


def _of_laws(laws: Sequence[tuple[Law, Floats]], x: Floats) -> tuple[Floats, Floats]:
    """Values and slopes of all branches of some laws."""
    found = [law(x @ across) for law, across in laws]
    if not found:
        return np.zeros((len(x), 0)), np.zeros((len(x), 0))
    return np.hstack([value for value, _ in found]), np.hstack([slope for _, slope in found])
