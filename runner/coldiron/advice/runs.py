"""Candidates on real benches: their cases through the pool and the store, their limits and their aims."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Final

from coldiron.advice.half_cycle import READINGS
from coldiron.advice.space import Space
from coldiron.answer.candidate import DARK_PCT
from coldiron.answer.safety import taken_away
from coldiron.answer.told import least_of, sign_of
from coldiron.answer.use import Topic, Use, worst_uses
from coldiron.benches.base import Case
from coldiron.engine.pool import WorkerPool
from coldiron.limits.judge import judge_case
from coldiron.limits.rules import limits_of
from coldiron.limits.verdict import Verdict, use_ratio
from coldiron.readings.catalogue import COLD, WARM, kind_of
from coldiron.spread.population import unmirrored
from coldiron.study.advise import COST
from coldiron.study.aims import Bound
from coldiron.study.model import Study, Variant
from coldiron.sweep.cache import Cache
from coldiron.sweep.cases import study_cases
from coldiron.sweep.run import FinishedCase, run_cases

ORDER: Final = ("steady", "unplug", "off-glow", "surge", "switch-on", "dip", "burst", "heat")
"""Benches from what decides most for its processor time to what decides least (measured on the demo
lamps)."""
COST_STEP: Final = 0.10
FAILED: Final = Topic("failed", "no answer")
DARK: Final = Topic("failed", "no light")
"""What stands in the place of a broken limit where a candidate gives no answer, or no light."""
BOUND: Final = "bound"
SETTLED: Final = (COLD, "unplug", WARM)
"""Benches that the half wave says something of."""


@dataclass(frozen=True)
class Aim:
    """What the set is weighed by: `sign` is +1 where less is better; `step` is what a person would notice."""

    reading: str
    sign: int
    step: float

    @property
    def heading(self) -> str:
        """Words over its column."""
        if self.reading == COST:
            return "cost"
        kind = kind_of(self.reading)
        return f"{kind.heading or kind.what}{f' {kind.unit}' if kind.unit else ''}"


def aims_of(study: Study) -> tuple[Aim, ...]:
    """Aims of a study's [advise]; without any the cost, the light and its flicker."""
    asked = study.advise.aims or (COST, "light_pct", "flicker_pct")
    return tuple(
        Aim(COST, 1, COST_STEP) if name == COST else Aim(name, sign_of(name) or 1, least_of(name) or 0.01)
        for name in asked
    )


@dataclass
class Weighed:
    """A candidate as far as it was run: worst readings over all conditions, worst use of each limit.

    `ran` are the benches that it was run on; `broken` the limits that it breaks, the worst first.
    """

    number: int
    readings: dict[str, float] = field(default_factory=dict)
    uses: dict[Topic, Use] = field(default_factory=dict)
    bounds: dict[str, float] = field(default_factory=dict)
    failed: list[str] = field(default_factory=list)
    hazards: tuple[str, ...] = ()
    ran: list[str] = field(default_factory=list)

    def broken(self, study: Study) -> dict[Topic, float]:
        """Limits that it breaks, by how much of each it uses; those that are set aside are none."""
        over = {
            topic: use.ratio
            for topic, use in self.uses.items()
            if use.over and not study.advise.sets_aside(use.verdict.limit_id)
        }
        over |= {Topic(BOUND, text): ratio for text, ratio in self.bounds.items() if ratio > 1.0}
        over |= {Topic("failed", f"no answer on {bench}"): math.inf for bench in self.failed}
        over |= {Topic("safety", words): math.inf for words in self.hazards}
        if self.readings.get("light_pct", math.inf) < DARK_PCT:
            over[DARK] = math.inf
        return dict(sorted(over.items(), key=lambda pair: -pair[1]))

    def closest(self, study: Study) -> Use | None:
        """Limit that it uses most of: what would break first."""
        held = (use for use in self.uses.values() if not study.advise.sets_aside(use.verdict.limit_id))
        return max(held, key=lambda use: use.ratio, default=None)


class Bench:
    """Runs candidates, a bench at a time, and remembers what came of each.

    Parameters
    ----------
    space : Space
    pool : WorkerPool
    cache : Cache, optional
    case_deadline_s : float
    finished : callable
        Told of each case that has an answer, with the bench.
    """

    def __init__(
        self,
        space: Space,
        pool: WorkerPool,
        cache: Cache | None = None,
        *,
        case_deadline_s: float = 60.0,
        finished: Callable[[str], None] = lambda bench: None,
        study: Study | None = None,
    ) -> None:
        self.space = space
        self.study = study or space.study
        self._limits = limits_of(self.study)
        self.benches = tuple(bench for bench in ORDER if bench in self.study.benches)
        self._pool, self._cache, self._deadline_s = pool, cache, case_deadline_s
        self._finished = finished
        self.weighed: dict[int, Weighed] = {}
        self.variants: dict[int, Variant | None] = {}
        self.runs = 0
        self.cpu_s = 0.0
        self._light_a: dict[tuple[str, str], float] = {}
        self._settled: dict[tuple[int, str], dict[str, dict[str, float]]] = {}

    def run(self, numbers: Sequence[int], bench: str) -> None:
        """Run candidates on a bench, each once, under all conditions of the study."""
        todo = [n for n in dict.fromkeys(numbers) if bench not in self.of(n).ran]
        variants: dict[str, tuple[int, Variant]] = {}
        for number in todo:
            variant = self._variant(number)
            self.of(number).ran.append(bench)
            if variant is None:
                self.of(number).failed.append(bench)
            else:
                variants[variant.name] = number, variant
        if not variants:
            return
        asked = self.study.model_copy(
            update={"variants": tuple(variant for _, variant in variants.values()), "benches": (bench,)}
        )
        cases = [one_of_mirrors(case) for case in study_cases(asked)]

        def count(one: FinishedCase) -> None:
            self._finished(bench)

        done = run_cases(
            cases,
            self._pool,
            cache=self._cache,
            case_deadline_s=self._deadline_s,
            finished=count,
            readings_only=True,
        )
        of: dict[str, list[FinishedCase]] = {}
        for one in done:
            of.setdefault(one.case.variant, []).append(one)
        for name, own in of.items():
            self._take(self.of(variants[name][0]), variants[name][1], bench, own)

    def verdicts_on(self, one: FinishedCase) -> list[Verdict]:
        """Verdicts on the readings of a case; nothing is said of mains that it was not run on."""
        return list(judge_case(self._limits, one, self.study.limits.margin_ratio))

    def of(self, number: int) -> Weighed:
        """What is known of a candidate."""
        if number not in self.weighed:
            self.weighed[number] = Weighed(number)
        return self.weighed[number]

    def broken(self, number: int) -> dict[Topic, float]:
        """Limits that a candidate is known to break."""
        return self.of(number).broken(self.study)

    def keeps_all(self, number: int) -> bool:
        """Whether a candidate was run on every bench and breaks nothing."""
        one = self.of(number)
        return all(bench in one.ran for bench in self.benches) and not one.broken(self.study)

    def _variant(self, number: int) -> Variant | None:
        if number not in self.variants:
            self.variants[number] = self.space.variant(number)
        return self.variants[number]

    def _take(self, one: Weighed, variant: Variant, bench: str, done: Iterable[FinishedCase]) -> None:
        """Add what a bench gave of a candidate."""
        done = list(done)
        self.runs += len(done)
        verdicts: list[Verdict] = []
        numbers: dict[str, list[float]] = {}
        for finished in done:
            self.cpu_s += finished.result.cpu_s
            if finished.result.failure:
                one.failed.append(bench)
                continue
            readings = dict(finished.result.readings)
            self._add_light(one.number, bench, finished.case, readings)
            if bench in SETTLED:
                said = {n: v for n in READINGS if isinstance(v := readings.get(n), float)}
                self._settled.setdefault((one.number, bench), {})[finished.case.conditions.label] = said
            verdicts += self.verdicts_on(
                replace(finished, result=replace(finished.result, readings=readings))
            )
            for reading, value in readings.items():
                if isinstance(value, float) and not math.isnan(value):
                    numbers.setdefault(reading, []).append(value)
        for reading, values in numbers.items():
            # What was read warm stands in the place of what was read cold.
            if reading not in one.readings or bench == WARM:
                one.readings[reading] = max(values) if sign_of(reading) >= 0 else min(values)
        for topic, use in worst_uses(verdicts).get(variant.name, {}).items():
            if topic not in one.uses or use.ratio > one.uses[topic].ratio:
                one.uses[topic] = use
        one.hazards = tuple(hazard.caution for hazard in taken_away(self.space.lamp, variant.lamp))
        for bound in self.study.aim.keep:
            if bound.reading in numbers and not self._is_read_warm_later(bench, bound.reading):
                ratio = self._share_of_bound(bound, one.readings[bound.reading])
                if not math.isnan(ratio):
                    one.bounds[str(bound)] = ratio

    def readings_of(self, number: int, bench: str) -> Mapping[str, Mapping[str, float]]:
        """Readings of a settled bench that the half wave speaks of too, by conditions."""
        return self._settled.get((number, bench), {})

    def light_base_a(self, bench: str, label: str) -> float:
        """Light of the lamp as found that is 100 % on a bench and a supply; 0 where it has none."""
        return self._light_a.get((bench, label), 0.0)

    def missed_at_best(
        self, bench: str, ends: Mapping[str, tuple[float, float]]
    ) -> Iterator[tuple[Topic, float]]:
        """Bounds of the study that readings between two ends miss at the kinder end, and by how much."""
        for bound in self.study.aim.keep:
            if bound.reading in ends and not self._is_read_warm_later(bench, bound.reading):
                low, high = ends[bound.reading]
                ratio = self._share_of_bound(bound, high if bound.least else low)
                if ratio > 1.0:
                    yield Topic(BOUND, str(bound)), ratio

    def _is_read_warm_later(self, bench: str, reading: str) -> bool:
        """Whether a cold reading gives way to a warm one."""
        return bench == COLD and WARM in self.benches and WARM in kind_of(reading).benches

    def _share_of_bound(self, bound: Bound, value: float) -> float:
        found = self.weighed.get(0)
        allowed = bound.value
        if allowed is None:
            allowed = found.readings.get(bound.reading, math.nan) if found else math.nan
        if math.isnan(value) or math.isnan(allowed):
            return math.nan
        ratio = use_ratio(value, allowed, least=bound.least)
        # As found may be as it is: half a per cent is below what any reading can tell.
        return min(ratio, 1.0) if bound.value is None and ratio <= 1.005 else ratio

    def _add_light(self, number: int, bench: str, case: Case, readings: dict[str, float | str]) -> None:
        """Light of the lamp as found under the same conditions is 100 %, warm where it was run warm."""
        light_a = readings.get("light_A")
        if bench not in (COLD, WARM) or not isinstance(light_a, float):
            return
        at = case.conditions.label
        if number == 0:
            self._light_a[bench, at] = light_a
        base_a = self._light_a.get((bench, at), 0.0)
        if base_a > 1e-6:
            readings["light_pct"] = 100.0 * light_a / base_a


def one_of_mirrors(case: Case) -> Case:
    """A case whose surges are run once of every two that are each other's mirror image."""
    if case.bench != "surge":
        return case
    own = case.conditions
    angles_deg = unmirrored(case.lamp, own.surge_angles_deg, own.surge_polarities)
    return replace(case, conditions=replace(own, surge_angles_deg=angles_deg))
