"""What each aim is measured by, and which variants serve it."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from coldiron.answer.candidate import Candidate
from coldiron.answer.told import LEAST_CHANGE_RATIO, SURGE_STRAIN, differs, least_of
from coldiron.limits.verdict import use_ratio
from coldiron.study.aims import Bound


@dataclass(frozen=True)
class Measure:
    """A reading that tells how well an aim is met; `sign` is +1 where less of it is better, else -1."""

    reading: str
    sign: int = 1

    def of(self, candidate: Candidate) -> float:
        """Value of a variant, the less the better; NaN where it has none."""
        return self.sign * candidate.reading(self.reading)

    def improves(self, now: Candidate, found: Candidate) -> bool:
        """Whether a variant is better than the lamp as found by enough to be worth a word."""
        after, before = self.of(now), self.of(found)
        return after < before and differs(self.reading, after, before)


MEASURES: Mapping[str, tuple[Measure, ...]] = {
    "steady light": (Measure("svm"), Measure("flicker_pct")),
    "cool sinks": (Measure("sink_die_worst_C"), Measure("sinks_W")),
    "soft switch-on": (Measure("inrush_peak_A"),),
    "survives the surge": (Measure(SURGE_STRAIN),),
    "little mains distortion": (Measure("current_thd_pct"),),
    "long life": (Measure("reservoir_life_h", -1), Measure("sink_die_worst_C"), Measure("sinks_W")),
    "more light": (Measure("light_pct", -1),),
    "less light and cooler": (Measure("sink_die_worst_C"), Measure("sinks_W")),
}
"""What each named aim is measured by: the first of these readings that the lamp as found has."""
CORNERS = (
    ("steadiest light", "steady light"),
    ("coolest", "cool sinks"),
    ("calmest in the surge", "survives the surge"),
)
"""What is named of a study without aims: words, and the aim that measures it."""


def measure_of(aim: str, found: Candidate) -> Measure | None:
    """Reading that an aim is measured by in a study; None where no bench read one."""
    return next((m for m in MEASURES[aim] if not math.isnan(m.of(found))), None)


HALF_WAY: Final = 0.5
"""Share of the way to the best from which on a variant serves an aim.

Half of the way keeps out what helps a little, and needs no number that would have to fit every lamp.
"""
SUITED_WAY: Final = 0.25
"""The same where whatever goes further has a part that does not suit the mains it hangs on."""


def way_gone(aim: str, found: Candidate, others: Sequence[Candidate]) -> dict[int, float]:
    """How far each variant that helps an aim goes, from as found (0) to the best of them (1), by its number.

    "Less light and cooler" is helped only by less light.

    Parameters
    ----------
    aim : str
    found : Candidate
        The lamp as found.
    others : sequence of Candidate
        Variants that may be recommended.
    """
    measure = measure_of(aim, found)
    if measure is None:
        return {}
    better = [
        other
        for other in others
        if measure.improves(other, found)
        and (aim != "less light and cooler" or _improves("light_pct", other, found))
    ]
    if not better:
        return {}
    best, before = min(measure.of(other) for other in better), measure.of(found)
    if math.isinf(best) or math.isinf(before):
        return {other.number: 1.0 for other in better}
    return {other.number: (before - measure.of(other)) / (before - best) for other in better}


def _improves(reading: str, now: Candidate, found: Candidate) -> bool:
    return Measure(reading).improves(now, found)


def aim_steps(aims: Sequence[str], found: Candidate, candidate: Candidate) -> tuple[float, ...]:
    """How a variant stands to each aim, in steps that a person would notice; fewer is better.

    A step is the least change of the reading that is worth a word; without a reading it is the last of all.
    """
    steps = []
    for aim in aims:
        measure = measure_of(aim, found)
        value = math.nan if measure is None else measure.of(candidate)
        if measure is None:
            steps.append(0.0)
        elif math.isnan(value) or math.isinf(value):
            steps.append(-math.inf if value == -math.inf else math.inf)
        else:
            width = max(least_of(measure.reading), LEAST_CHANGE_RATIO * abs(measure.of(found)))
            steps.append(float(round(value / width)) if width else value)
    return tuple(steps)


@dataclass(frozen=True)
class HeldAim:
    """A bound of a study's own and what a variant makes of it; `ratio` above 1 misses it."""

    bound: Bound
    value: float
    allowed: float
    ratio: float

    @property
    def missed(self) -> bool:
        """Whether the bound is missed; without a reading it is neither kept nor missed."""
        return self.ratio > 1.0


def held_bounds(bounds: Sequence[Bound], found: Candidate, candidate: Candidate) -> list[HeldAim]:
    """Each bound with the value that a variant has."""
    held = []
    for bound in bounds:
        value = candidate.reading(bound.reading)
        # As found may be as it is: half a per cent is below what any reading can tell.
        allowed = bound.value if bound.value is not None else found.reading(bound.reading)
        ratio = _ratio(value, allowed, least=bound.least)
        if bound.value is None and ratio <= 1.005:
            ratio = min(ratio, 1.0)
        held.append(HeldAim(bound, value, allowed, ratio))
    return held


def _ratio(value: float, allowed: float, *, least: bool) -> float:
    if math.isnan(value) or math.isnan(allowed):
        return math.nan
    return use_ratio(value, allowed, least=least)
