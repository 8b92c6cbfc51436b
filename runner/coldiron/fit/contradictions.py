"""Readings held against each other and against physics, before anything is fitted to them.

A law counts as broken only if no values within the meters' tolerances keep it. For each broken law every
reading is named that, changed alone, lets all laws hold with the rest as they are: which of them is wrong the
readings do not say. Where a law leans on a value of the lamp that nobody measured, that value is suspected
before any reading, and the readings do not contradict each other.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from coldiron.fit import meter
from coldiron.fit.laws import Law, Values, laws
from coldiron.lamp.body import BenchReading
from coldiron.lamp.topologies.linear_sinks import LinearSinksLamp

_FURTHEST_RATIO = 4.0
_FURTHEST_K = 250.0
_TRIES = 1200
_LEANING_STRIDE = 4
"""Values tried with the other readings free within their tolerances: each costs many more evaluations."""


class Change(NamedTuple):
    """A reading, by its place among the lamp's, and the value at which it would mend a law, in its unit."""

    place: int
    would_be: float


@dataclass(frozen=True)
class Contradiction:
    """A broken law: the readings in it, one line that says so, and the readings any of which may be wrong.

    `suspects` has the cheapest change first, and is empty where no single change mends the law. `held` is
    the key of the lamp's value that explains everything, if it is off by no more than it may be: then the
    readings can all be true.
    """

    involved: tuple[int, ...]
    line: str
    suspects: tuple[Change, ...]
    held: str = ""

    def __str__(self) -> str:
        """The line."""
        return self.line


class Cure(NamedTuple):
    """A reading and its mending value; whether it leans on tolerances, and its distance in tolerances."""

    leaning: bool
    distance: float
    place: int
    value: float


def contradictions(lamp: LinearSinksLamp) -> list[Contradiction]:
    """Everything the readings of a lamp say that cannot be.

    Parameters
    ----------
    lamp : LinearSinksLamp
        Its readings; its mains, reservoir, string and foldback.

    Returns
    -------
    list of Contradiction
        One for each broken law; empty when the readings can all be true.
    """
    readings = lamp.reading
    stated: Values = {n: reading.value for n, reading in enumerate(readings)}
    every = list(laws(lamp))
    broken = [law for law in every if not within_tolerance(law, readings, stated)]
    kept = [law for law in every if law not in broken]
    return [_contradiction(law, broken, kept, readings, stated) for law in broken]


def _contradiction(
    law: Law, broken: Sequence[Law], kept: Sequence[Law], readings: Sequence[BenchReading], stated: Values
) -> Contradiction:
    named = [f"{meter.name_of(readings[n])} {meter.value_text(readings[n])}" for n in law.involved]
    said = f"{' and '.join(named)}: {law.says(stated)}"
    if law.leans_on is not None and (at := law.leans_on.mends(stated)) is not None:
        explained = f"{said}; {law.leans_on.key} is {law.leans_on.provenance}, and {at} would explain it"
        return Contradiction(law.involved, explained, (), law.leans_on.key)
    cures = _cures(law, [*_together(law, broken), *kept], readings, stated)
    ending = "would reconcile the rest"
    if not cures:
        cures = _cures(law, [law, *kept], readings, stated)
        ending = "would mend this, though not everything else"
    if not cures:
        return Contradiction(law.involved, f"{said}; no single reading, if changed, mends it", ())
    would = ", or ".join(
        f"{meter.name_of(of)}, if it were {meter.value_text(of, cure.value)}"
        for cure in cures
        for of in [readings[cure.place]]
    )
    suspects = tuple(Change(cure.place, cure.value) for cure in cures)
    return Contradiction(law.involved, f"{said}; {would}, {ending}", suspects)


def _together(law: Law, broken: Sequence[Law]) -> list[Law]:
    """Broken laws that hang together with one through readings they share."""
    group, places = [law], set(law.involved)
    while more := [other for other in broken if other not in group and places & set(other.involved)]:
        group += more
        places |= {n for other in more for n in other.involved}
    return group


def within_tolerance(law: Law, readings: Sequence[BenchReading], values: Values) -> bool:
    """Whether some values within the tolerances keep a law, which is monotone in each reading."""
    reach = [meter.tolerance(readings[n]) * (1.0 + 1e-9) for n in law.involved]
    for signs in itertools.product((-1.0, 0.0, 1.0), repeat=len(reach)):
        moved = {n: values[n] + s * r for n, s, r in zip(law.involved, signs, reach, strict=True)}
        if law.gap(values | moved) >= 0.0:
            return True
    if len(reach) != 2:
        return False
    # Two readings that should be alike are, where their ranges meet.
    a, b = law.involved
    meet = float(np.clip(values[b], values[a] - reach[0], values[a] + reach[0]))
    return (
        law.gap(values | {a: meet, b: float(np.clip(meet, values[b] - reach[1], values[b] + reach[1]))})
        >= 0.0
    )


def _cures(law: Law, wanted: Sequence[Law], readings: Sequence[BenchReading], stated: Values) -> list[Cure]:
    """Least change of each reading of a law that, alone, lets all wanted laws hold; the cheapest first."""
    cures = []
    for n in law.involved:
        others = [other for other in wanted if n not in other.involved]
        if all(within_tolerance(other, readings, stated) for other in others):
            cures += _nearest(n, [other for other in wanted if n in other.involved], readings, stated)
    # One that needs the rest at the ends of their tolerances is no suspect beside one that does not.
    return sorted([cure for cure in cures if not cure.leaning] or cures)


def _nearest(n: int, mine: Sequence[Law], readings: Sequence[BenchReading], stated: Values) -> list[Cure]:
    """Nearest value of one reading with the others as stated; failing that, within their tolerances."""
    if readings[n].what.endswith("temperature"):
        steps = np.linspace(0.0, _FURTHEST_K, _TRIES)
        tries = [float(stated[n] + sign * step) for step in steps for sign in (-1.0, 1.0)]
    else:
        steps = np.linspace(0.0, np.log(_FURTHEST_RATIO), _TRIES)
        tries = [float(stated[n] * np.exp(sign * step)) for step in steps for sign in (-1.0, 1.0)]
    scale = max(meter.tolerance(readings[n]), 1e-12)
    for value in tries:
        if all(law.gap(stated | {n: value}) >= 0.0 for law in mine):
            return [Cure(False, abs(value - stated[n]) / scale, n, value)]
    for value in tries[::_LEANING_STRIDE]:
        if all(within_tolerance(law, readings, stated | {n: value}) for law in mine):
            return [Cure(True, abs(value - stated[n]) / scale, n, value)]
    return []
