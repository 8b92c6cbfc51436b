"""One variant under the conditions of its study, with other values: what it uses of each limit then."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from coldiron.answer.use import Topic, topic_of
from coldiron.benches.base import Case
from coldiron.lamp.lamp import Lamp
from coldiron.limits.judge import judge_case
from coldiron.limits.rules import Limit, limits_of
from coldiron.limits.verdict import NO_LIMIT, Verdict
from coldiron.readings.catalogue import COLD, WARM
from coldiron.spread.population import Held, Run, without_mirrors
from coldiron.spread.values import with_values
from coldiron.study.model import Study
from coldiron.sweep.cases import study_cases
from coldiron.sweep.run import FinishedCase

Numbers = tuple[tuple[str, float], ...]
"""Values that a lamp has otherwise than its variant, by dotted keys."""


@dataclass(frozen=True)
class Outcome:
    """What a lamp uses of each limit, the worst over all conditions, and its light.

    `failed` are benches without an answer under some conditions.
    """

    uses: Mapping[Held, float]
    verdicts: Mapping[Held, Verdict]
    light_a: float
    failed: tuple[str, ...]

    def use(self, held: Held) -> float:
        """Used over allowed; NaN where its bench gave no answer, 0 where no limit applies any more."""
        return math.nan if held[0] in self.failed else self.uses.get(held, 0.0)

    def topic_use(self, topic: Topic, benches: Iterable[str]) -> float:
        """Worst use of a topic over some benches; NaN where one gave no answer."""
        found = [self.use((bench, topic)) for bench in benches]
        return math.nan if any(math.isnan(use) for use in found) else max(found, default=math.nan)


class Subject:
    """A variant of a study, run with other values.

    Parameters
    ----------
    study : Study
    variant : str
    benches : sequence of str
        Those of the study that are run.
    run : callable
    """

    def __init__(self, study: Study, variant: str, benches: Sequence[str], run: Run) -> None:
        self.study, self.variant = study, variant
        self.lamp: Lamp = next(one.lamp for one in study.variants if one.name == variant)
        self.benches = tuple(benches)
        self._run = run
        self._seen: dict[tuple[str, Numbers], list[FinishedCase]] = {}
        self.runs = 0

    @cached_property
    def cases(self) -> tuple[Case, ...]:
        """Its cases in the study, without surges that are mirror images of each other and rooms."""
        return tuple(
            without_mirrors(case)
            for case in study_cases(self.study)
            if case.variant == self.variant and case.bench in self.benches
        )

    @cached_property
    def limits(self) -> tuple[Limit, ...]:
        """Every limit of the study."""
        return limits_of(self.study)

    @cached_property
    def base(self) -> Outcome:
        """The variant as it is."""
        return self.outcomes([((), self.benches)])[0]

    def outcomes(self, wanted: Sequence[tuple[Numbers, Sequence[str]]]) -> list[Outcome]:
        """What lamps with other values give on some benches, all in one go; what was run before is known."""
        missing: dict[tuple[str, Numbers], list[Case]] = {}
        for numbers, benches in wanted:
            if all((bench, numbers) in self._seen for bench in benches):
                continue
            lamp = with_values(self.lamp, dict(numbers))
            said = ", ".join(f"{key} {number:.6g}" for key, number in numbers)
            for bench in benches:
                if (bench, numbers) not in self._seen:
                    missing[bench, numbers] = [
                        replace(case, lamp=lamp, variant=f"{self.variant} {said}".strip())
                        for case in self.cases
                        if case.bench == bench
                    ]
        done = iter(self._run([case for of in missing.values() for case in of]))
        for key, of in missing.items():
            self._seen[key] = [next(done) for _ in of]
            self.runs += len(of)
        return [self._outcome(numbers, benches) for numbers, benches in wanted]

    def _outcome(self, numbers: Numbers, benches: Sequence[str]) -> Outcome:
        uses: dict[Held, float] = {}
        verdicts: dict[Held, Verdict] = {}
        light_a: dict[str, float] = {}
        failed: list[str] = []
        for bench in benches:
            for one in self._seen[bench, numbers]:
                if one.result.failure:
                    failed.append(bench)
                    continue
                light = one.result.readings.get("light_A")
                if isinstance(light, float):
                    light_a.setdefault(bench, light)
                for verdict in judge_case(self.limits, one, self.study.limits.margin_ratio):
                    if verdict.verdict == NO_LIMIT or math.isnan(verdict.use_ratio):
                        continue
                    use = verdict.use_ratio if verdict.verdict == "over" else min(verdict.use_ratio, 1.0)
                    held = bench, topic_of(verdict)
                    if held not in uses or use > uses[held]:
                        uses[held], verdicts[held] = use, verdict
        lit_a = light_a.get(WARM, light_a.get(COLD, math.nan))
        return Outcome(uses, verdicts, lit_a, tuple(dict.fromkeys(failed)))
