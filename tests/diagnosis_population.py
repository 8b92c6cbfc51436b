"""Random broken lamps to try a diagnosis on: spread, meters and severity at random, one run each."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from coldiron.benches.base import Case, TestConditions
from coldiron.diagnosis.endstates import EndState, applied
from coldiron.diagnosis.rank import Findings, Found, Ranking, rank
from coldiron.diagnosis.signatures import BENCH, Signatures, signatures
from coldiron.diagnosis.spread import drawn
from coldiron.diagnosis.taken import value_on
from coldiron.lamp.load import load_lamp
from coldiron.sweep.case_result import CaseResult
from coldiron.sweep.worker import Work, run_work
from laboratory import Laboratory


@dataclass(frozen=True)
class Broken:
    """One lamp: which state it is in, and the true value of all that can be measured on it."""

    state: int
    values: np.ndarray


def run_all(laboratory: Laboratory, cases: Sequence[Case]) -> list[CaseResult]:
    """What cases gave, one after the other; a lamp that does not settle has no readings."""
    return [laboratory.call(run_work, Work((case,)))[0] for case in cases]


_SIGNATURES: dict[str, Signatures] = {}


def signatures_of(laboratory: Laboratory, name: str) -> Signatures:
    """Signatures of a shipped lamp on its own mains, run once."""
    if name not in _SIGNATURES:
        lamp = load_lamp(name)
        _SIGNATURES[name] = signatures(lamp, lamp.mains.voltage_v, lambda cases: run_all(laboratory, cases))
    return _SIGNATURES[name]


def population(
    laboratory: Laboratory, of: Signatures, states: Sequence[int], *, seed: int, factor: float = 1.0
) -> list[Broken]:
    """Lamps in some states, their spread `factor` times as wide as assumed, faults of random severity."""
    rng, cases = np.random.default_rng(seed), []
    for state in states:
        lamp, mains_v = drawn(of.lamp, of.mains_v, rng, factor)
        broken = applied(lamp, _any_severity(of.states[state], rng))
        conditions = TestConditions(mains_v, lamp.mains.frequency_hz)
        cases.append(Case("test", of.states[state].name, broken, BENCH, conditions))
    found = []
    for state, case, result in zip(states, cases, run_all(laboratory, cases), strict=True):
        if result.failure:
            continue  # nothing was read on it; at most a few dark ones, whose bus falls too slowly
        values = np.array([value_on(one, case.lamp, result.readings) for one in of.measurables])
        found.append(Broken(state, values))
    assert len(found) >= 0.95 * len(states)
    return found


def _any_severity(state: EndState, rng: np.random.Generator):  # type: ignore[no-untyped-def]
    """One degree of a fault, between the least and the most that stand for it."""
    broken = state.severities[int(rng.integers(len(state.severities)))]
    shares = [one[0].share for one in state.severities if one and one[0].share is not None]
    if not shares:
        return broken
    return (replace(broken[0], share=float(rng.uniform(min(shares), max(shares)))), *broken[1:])


def every_state(of: Signatures, count: int, seed: int) -> list[int]:
    """So many states, each as often as another, in random order."""
    states = np.resize(np.arange(len(of.states)), count)
    return [int(n) for n in np.random.default_rng(seed).permutation(states)]


@cache
def places(of: Signatures, which: str) -> tuple[int, ...]:
    """Places of a set of readings: "plug", "live" (with two voltages), "all"."""
    plug = [n for n, one in enumerate(of.measurables) if one.kind.danger == "plug"]
    volts = [n for n, one in enumerate(of.measurables) if one.kind.danger == "live"][:2]
    cold = [n for n, one in enumerate(of.measurables) if one.kind.danger == "unplugged"]
    return tuple({"plug": plug, "live": plug + volts, "all": plug + volts + cold}[which])


def as_read(of: Signatures, lamp: Broken, at: Sequence[int], rng: np.random.Generator) -> Findings:
    """Readings of a lamp by meters that are off anywhere within their tolerance."""
    found = []
    for place in at:
        kind, value = of.measurables[place].kind, float(lamp.values[place])
        if not np.isfinite(value):
            continue  # there is nothing to hold a meter to
        if kind.logarithmic:
            value = min(max(value, kind.least), kind.most)
        tolerance = kind.tolerance_ratio * abs(value) + kind.tolerance_least
        found.append(Found(place, value + tolerance * float(rng.uniform(-1.0, 1.0))))
    return Findings(tuple(found))


@dataclass
class Score:
    """Shares of lamps of which something holds; `alone` counts states that no other is like."""

    lamps: int = 0
    first: float = 0.0
    first_three: float = 0.0
    held: float = 0.0
    alone: int = 0
    alone_first: float = 0.0
    accused: int = 0


def score(of: Signatures, lamps: Sequence[Broken], which: str, *, seed: int = 1) -> Score:
    """Diagnose lamps from one set of readings and count how often that was right; a twin counts."""
    rng, at, counts = np.random.default_rng(seed), places(of, which), Score()
    healthy = of.state("healthy")
    for lamp in lamps:
        found = rank(of, as_read(of, lamp, at, rng))
        twins = twins_of(found, lamp.state)
        counts.lamps += 1
        counts.first += found.first in twins
        counts.first_three += any(int(n) in twins for n in found.order[:3])
        counts.held += lamp.state in found.likely
        if len(twins) == 1:
            counts.alone += 1
            counts.alone_first += found.first == lamp.state
        counts.accused += lamp.state == healthy and found.shown
    counts.first /= counts.lamps
    counts.first_three /= counts.lamps
    counts.held /= counts.lamps
    counts.alone_first /= max(1, counts.alone)
    return counts


def twins_of(found: Ranking, state: int) -> set[int]:
    """A state and those that these readings cannot tell from it."""
    return {state} | {n for n in range(len(found.signatures.states)) if found.twins(state, n)}


@dataclass
class OddScore:
    """Of lamps with one reading a quarter off: how often it is named, and the truth among the first three."""

    lamps: int = 0
    named: float = 0.0
    first_three: float = 0.0


def score_odd(of: Signatures, lamps: Sequence[Broken], *, seed: int = 3) -> OddScore:
    """Diagnose lamps of whose watts, amperes and two voltages one is a quarter off, up or down."""
    rng, at, counts = np.random.default_rng(seed), places(of, "live"), OddScore()
    for lamp in lamps:
        findings = as_read(of, lamp, at, rng)
        # A reading of nothing is no less wrong a quarter off.
        can = [
            n
            for n, one in enumerate(findings.readings)
            if of.measurables[one.place].kind.what != "mains voltage"
            and 0.25 * abs(one.value) > 5.0 * of.measurables[one.place].kind.tolerance_least
        ]
        if not can:
            continue
        wrong = int(rng.choice(can))
        readings = list(findings.readings)
        readings[wrong] = replace(
            readings[wrong], value=readings[wrong].value * float(rng.choice([0.75, 1.25]))
        )
        found = rank(of, Findings(tuple(readings)))
        counts.lamps += 1
        counts.named += readings[wrong].place in {odd.found.place for odd in found.odd}
        counts.first_three += any(int(n) in twins_of(found, lamp.state) for n in found.order[:3])
    counts.named /= counts.lamps
    counts.first_three /= counts.lamps
    return counts
