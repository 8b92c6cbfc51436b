"""Readings held against each other and against physics, before anything is fitted to them.

A law counts as broken only if no values within the meters' tolerances keep it. For each broken law the one
reading is sought that, changed as little as possible, lets every law hold with the rest as they are.
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
from coldiron.lamp.lamp import Lamp

_FURTHEST_RATIO = 4.0
_FURTHEST_K = 250.0
_TRIES = 1200
_LEANING_STRIDE = 4
"""Values tried with the other readings free within their tolerances: each costs many more evaluations."""


@dataclass(frozen=True)
class Contradiction:
    """A broken law: the readings in it, one line that says so, and the reading whose change would do.

    `culprit` is the place of that reading among the lamp's readings, `would_be` its value then, in the
    reading's unit; None where no single change mends the law.
    """

    involved: tuple[int, ...]
    line: str
    culprit: int | None
    would_be: float | None

    def __str__(self) -> str:
        """The line."""
        return self.line


class Cure(NamedTuple):
    """A reading and its mending value; whether it leans on tolerances, and its distance in tolerances."""

    leaning: bool
    distance: float
    place: int
    value: float


def contradictions(lamp: Lamp) -> list[Contradiction]:
    """Everything the readings of a lamp say that cannot be.

    Parameters
    ----------
    lamp : Lamp
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
    cure = _cure(law, [*_together(law, broken), *kept], readings, stated)
    ending = "would reconcile the rest"
    if cure is None:
        cure = _cure(law, [law, *kept], readings, stated)
        ending = "would mend this, though not everything else"
    named = [f"{meter.name_of(readings[n])} {meter.value_text(readings[n])}" for n in law.involved]
    said = f"{' and '.join(named)}: {law.says(stated)}"
    if cure is None:
        return Contradiction(law.involved, f"{said}; no single reading, if changed, mends it", None, None)
    changed = readings[cure.place]
    would = f"{meter.name_of(changed)}, if it were {meter.value_text(changed, cure.value)}, {ending}"
    return Contradiction(law.involved, f"{said}; {would}", cure.place, cure.value)


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


def _cure(law: Law, wanted: Sequence[Law], readings: Sequence[BenchReading], stated: Values) -> Cure | None:
    """Least change of one reading of a law, in meter tolerances, that lets all wanted laws hold."""
    cures = []
    for n in law.involved:
        others = [other for other in wanted if n not in other.involved]
        if all(within_tolerance(other, readings, stated) for other in others):
            cures += _nearest(n, [other for other in wanted if n in other.involved], readings, stated)
    return min(cures, default=None)


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
