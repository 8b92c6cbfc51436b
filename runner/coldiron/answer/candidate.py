"""A variant as the answer weighs it: worst readings, warm where warm was run, and worst use of each limit."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

from coldiron.answer.told import SURGE_STRAIN
from coldiron.answer.use import Topic, Use, worst_uses
from coldiron.lamp.lamp import Lamp
from coldiron.limits.verdict import Verdict
from coldiron.readings.catalogue import COLD, WARM
from coldiron.study.change import Change
from coldiron.study.model import Study, Variant
from coldiron.sweep.results import Results

_SURGES = ("surge", "burst")


DARK_PCT: Final = 1.0
"""Light of the lamp as found below which a lamp gives none [%] (our choice)."""


@dataclass(frozen=True)
class Candidate:
    """One variant of a study.

    `readings` are the worst over all conditions, warm where there is a warm one; `also_cold` names those
    that were read cold besides. `failed` names benches that gave no answer under some conditions; a lamp that
    `runs_away` finds no thermal balance under some.
    """

    number: int
    name: str
    lamp: Lamp
    changes: tuple[Change, ...] = ()
    readings: Mapping[str, float] = field(default_factory=dict)
    words: Mapping[str, str] = field(default_factory=dict)
    also_cold: frozenset[str] = frozenset()
    uses: Mapping[Topic, Use] = field(default_factory=dict)
    failed: tuple[str, ...] = ()
    runs_away: bool = False

    @property
    def title(self) -> str:
        """Number and name, as every table shows them."""
        return f"{self.number} · {self.name}"

    def reading(self, name: str) -> float:
        """Worst of a reading, NaN where there is none."""
        return self.readings.get(name, math.nan)

    @property
    def is_dark(self) -> bool:
        """Whether it gives next to no light of the lamp as found: a dead lamp keeps every limit."""
        return self.reading("light_pct") < DARK_PCT

    @property
    def over(self) -> list[Use]:
        """Broken limits, one a topic, parts first and the worst first."""
        return sorted(
            (use for use in self.uses.values() if use.over),
            key=lambda use: (use.topic.group != "rating", -use.ratio),
        )


def candidates(study: Study, results: Results, verdicts: Sequence[Verdict]) -> list[Candidate]:
    """Every variant that was run, in the order of the study, as found first.

    Parameters
    ----------
    study : Study
    results : Results
    verdicts : sequence of Verdict
        From `coldiron.limits.judge` of the same cases.
    """
    uses = worst_uses(verdicts)
    numbers = results.numbers
    return [
        _candidate(numbers[variant.name], variant, results, uses.get(variant.name, {}))
        for variant in study.variants
        if variant.name in numbers
    ]


def _candidate(number: int, variant: Variant, results: Results, uses: Mapping[Topic, Use]) -> Candidate:
    name = variant.name
    here = [
        (bench, results.readings(name, bench, label))
        for label in results.conditions
        for bench in results.benches
    ]
    cold = {reading for bench, readings in here if bench == COLD for reading in readings}
    warm = {reading for bench, readings in here if bench == WARM for reading in readings}
    numbers = dict.fromkeys(
        reading for _, readings in here for reading, value in readings.items() if isinstance(value, float)
    )
    worst = {reading: found.value for reading in numbers if (found := results.worst(name, reading))}
    if strains := [
        use.ratio for use in uses.values() if use.topic.group == "rating" and use.verdict.bench in _SURGES
    ]:
        worst[SURGE_STRAIN] = max(strains)
    outcomes = [str(readings.get("heat_outcome", "")) for _, readings in here]
    words = {
        reading: value
        for _, readings in here
        for reading, value in readings.items()
        if isinstance(value, str)
    }
    failed = [hole.bench for hole in results.holes(name) if hole.word == "failed"]
    return Candidate(
        number=number,
        name=name,
        lamp=variant.lamp,
        changes=variant.changes,
        readings=worst,
        words=words,
        also_cold=frozenset(cold & warm),
        uses=uses,
        failed=tuple(dict.fromkeys(failed)),
        runs_away=any(outcome.startswith("thermal") for outcome in outcomes),
    )
