"""The search: exhaustive, in stages that each throw out what cannot be in the set, the cheapest first.

1. The lamp as found, on every bench of the study.
2. Probes: some candidates of each class on the settled benches, for the bands of the half wave.
3. The half wave of every group of candidates that settled runs cannot tell apart: out goes what breaks a
limit at the kind end of its bands. 4. Proof: some of what went is run for real. If any of it was good the
bands take it in, and 3 is done again. 5. Real runs, best first: of what is left those that nothing left can
beat at their best, bench by bench. Out goes what breaks a limit, and what a candidate that keeps all limits
beats even at its best.

So the set is that of running everything, as long as the bands hold; only real runs are ever shown.
"""

from __future__ import annotations

import math
import random
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Final

import numpy as np
from numpy.typing import NDArray

from coldiron.advice.bands import PROBES, Band, Class, at_best, bands_of
from coldiron.advice.dominance import in_grains, non_dominated
from coldiron.advice.groups import Groups, Said, said_of
from coldiron.advice.monotone import worse_by_pairs
from coldiron.advice.runs import SETTLED, Aim, Bench, aims_of
from coldiron.advice.space import Space
from coldiron.answer.use import Topic, topic_of
from coldiron.benches.base import Case, TestConditions
from coldiron.lamp.lamp import Lamp
from coldiron.readings.catalogue import COLD, WARM
from coldiron.study.advise import COST
from coldiron.sweep.case_result import CaseResult
from coldiron.sweep.run import FinishedCase

WAVE: Final = 64
"""Candidates that are run together: more would run some that the first of them beat."""
PROOF_RATIO: Final = 0.02
PROOF_LEAST: Final = 12
PROOF_MOST: Final = 60
"""Share of what the bands threw out that is run for real, and its bounds."""
_SEED: Final = 20
_ROUNDS: Final = 6


@dataclass
class Stage:
    """A stage as the bar and the answer tell it: what it looked at, and how many candidates it threw out."""

    name: str
    looked_at: int = 0
    out: int = 0


@dataclass
class Found:
    """What a search came to.

    `best` are the candidates that keep every limit and that none beats, in the order of the aims; `kept` all
    that were run on every bench and keep every limit. `broken` counts candidates by each limit that they are
    known to break, `first` by the one they were thrown out for. `beaten` were skipped because one that keeps
    every limit beats them at their best.
    """

    space: Space
    aims: tuple[Aim, ...]
    bench: Bench
    best: list[int]
    kept: list[int]
    broken: Counter[Topic]
    alone: Counter[Topic]
    near: dict[int, dict[Topic, float]]
    beaten: int
    impossible: int
    proved: int
    widened: int
    stages: list[Stage]
    fate: NDArray[np.int8]
    like: dict[int, tuple[Topic, float]]
    groups: Groups
    bands: dict[Class, Band] = field(default_factory=dict)

    def grains(self, numbers: Sequence[int]) -> NDArray[np.float64]:
        """Aims of candidates that were run, in grains."""
        return in_grains(_aim_values(self, numbers), [aim.step for aim in self.aims])

    def value(self, number: int, aim: Aim) -> float:
        """Aim of a candidate that was run."""
        if aim.reading == COST:
            return float(self.space.costs[number])
        return self.bench.of(number).readings.get(aim.reading, math.nan)


OPEN, BROKEN_SAID, BROKEN_RUN, BEATEN, KEPT, IMPOSSIBLE, BROKEN_LIKE = range(7)
FATES: Final = (
    "open",
    "thrown out by the half wave",
    "broke a limit",
    "beaten",
    "keeps every limit",
    "impossible",
    "worse than one that broke a limit",
)


def _aim_values(found: Found, numbers: Sequence[int]) -> NDArray[np.float64]:
    return np.array(
        [[aim.sign * found.value(n, aim) for aim in found.aims] for n in numbers], dtype=float
    ).reshape(-1, len(found.aims))


class Search:
    """One search.

    Parameters
    ----------
    space : Space
    bench : Bench
        What runs candidates.
    tell : callable
        Told the stage, how far it is and how much it threw out, whenever that changes.
    use_model : bool
        Whether the half wave may throw out and order; without it everything open is run.
    probes : int
        Candidates of each class that its bands are taken from.
    """

    def __init__(
        self,
        space: Space,
        bench: Bench,
        tell: Callable[[str, int, int], None] = lambda stage, out, left: None,
        *,
        use_model: bool = True,
        probes: int = PROBES,
    ) -> None:
        self._space, self._bench, self._tell, self._use_model = space, bench, tell, use_model
        self._most_probes = probes
        self._aims = aims_of(space.study)
        self._groups = Groups(space)
        self._fate = np.zeros(len(space), dtype=np.int8)
        self._topics: dict[int, dict[Topic, float]] = {}
        """Limits that a group is thrown out for by the half wave."""
        self._stages: list[Stage] = []
        self._like: dict[int, tuple[str, Topic, float]] = {}
        """Of a candidate that a pair rules out: bench, limit, and its use at the least."""
        self._pairs_hold = True
        self._random = random.Random(_SEED)
        self._proved = self._widened = 0
        self._bands: dict[Class, Band] = {}
        self._lows = np.full((len(self._groups), len(self._aims)), -math.inf)

    def run(self) -> Found:
        """Search."""
        self._as_found()
        if self._use_model:
            self._filter()
        self._runs()
        return self._found()

    # Stages.

    def _as_found(self) -> None:
        for bench in self._bench.benches:
            self._bench.run([0], bench)

    def _filter(self) -> None:
        groups = self._groups
        self._tell("half-cycle model", 0, len(self._space))
        self._lamps = [self._space.lamp_of(groups.first(group)) for group in range(len(groups))]
        self._said = said_of(self._bench.study, self._lamps)
        impossible = np.array([lamp is None for lamp in self._lamps])
        self._fate[impossible[groups.of]] = IMPOSSIBLE
        if not any(said.fits.any() for said in self._said):
            return
        settled = [bench for bench in SETTLED if bench in self._bench.benches]
        probes = self._probes()
        for bench in settled:
            self._tell(f"probes, {bench}", 0, len(self._space))
            self._bench.run([groups.first(group) for group in probes], bench)
        stage = Stage("half-cycle model")
        self._stages.append(stage)
        proved: set[int] = set()
        for _ in range(_ROUNDS):
            self._bands = self._calibrated({*probes, *proved}, settled)
            self._throw_out(settled)
            out = [group for group in self._topics if group not in proved and group not in probes]
            count = min(len(out), PROOF_MOST, max(PROOF_LEAST, round(PROOF_RATIO * len(out))))
            drawn = self._random.sample(sorted(out), count)
            if not drawn:
                break
            self._tell("proof", int((self._fate == BROKEN_SAID).sum()), len(self._space))
            for bench in settled:
                self._bench.run([groups.first(group) for group in drawn], bench)
            wrong = [group for group in drawn if not self._bench.broken(groups.first(group))]
            proved |= set(drawn)
            self._widened += len(wrong)
            if not wrong:
                break
        self._proved = len(proved)
        stage.looked_at = len(self._space)
        stage.out = int((self._fate == BROKEN_SAID).sum())
        self._tell("half-cycle model", stage.out, int((self._fate == OPEN).sum()))

    def _probes(self) -> list[int]:
        """Groups of each class, spread at random; a class of few is probed whole."""
        said = self._said[0]
        chosen: list[int] = []
        for smoothed in (True, False):
            own = np.flatnonzero(said.fits & (said.smoothed == smoothed))
            chosen += self._random.sample([int(group) for group in own], min(self._most_probes, len(own)))
        return chosen

    def _calibrated(self, probes: set[int], settled: Sequence[str]) -> dict[Class, Band]:
        pairs: dict[Class, list[tuple[float, float]]] = {}
        for group in sorted(probes):
            for bench in settled:
                for label, readings in self._bench.readings_of(self._groups.first(group), bench).items():
                    said = next((one for one in self._said if label.startswith(one.label)), None)
                    if said is None or not said.fits[group]:
                        continue
                    for name, values in said.readings.items():
                        real = readings.get(name)
                        if isinstance(real, float):
                            key = Class(said.label, bool(said.smoothed[group]), bench, name)
                            pairs.setdefault(key, []).append((float(values[group]), real))
        return bands_of(pairs)

    def _throw_out(self, settled: Sequence[str]) -> None:
        """Judge every group at the kind end of its bands, and bound its aims from below."""
        groups, space = self._groups, self._space
        self._topics.clear()
        self._fate[self._fate == BROKEN_SAID] = OPEN
        self._lows[:] = -math.inf
        kinds = {bench: {key.reading for key in self._bands if key.bench == bench} for bench in settled}
        aim_bench = WARM if WARM in self._bench.benches else COLD
        for group, lamp in enumerate(self._lamps):
            if lamp is None:
                continue
            over: dict[Topic, float] = {}
            for said in self._said:
                if not said.fits[group]:
                    continue
                for bench in settled:
                    ends = self._ends(group, said, bench, kinds[bench])
                    best = {name: at_best(name, pair) for name, pair in ends.items()}
                    for verdict in self._bench.verdicts_on(_as_if(space, lamp, bench, said, best)):
                        if verdict.verdict == "over" and not space.study.advise.sets_aside(verdict.limit_id):
                            topic = topic_of(verdict)
                            over[topic] = max(over.get(topic, 0.0), verdict.use_ratio)
                    for bound in self._bench.missed_at_best(bench, ends):
                        over[bound[0]] = max(over.get(bound[0], 0.0), bound[1])
                    if bench == aim_bench:
                        self._bound_aims(group, ends)
            if over:
                self._topics[group] = over
        out = np.zeros(len(groups), dtype=bool)
        out[list(self._topics)] = True
        self._fate[out[groups.of] & (self._fate == OPEN)] = BROKEN_SAID

    def _ends(self, group: int, said: Said, bench: str, names: set[str]) -> dict[str, tuple[float, float]]:
        """Lowest and highest of each reading of a group on a bench, as far as there is a band."""
        ends = {}
        smoothed = bool(said.smoothed[group])
        for name in names:
            band = self._bands.get(Class(said.label, smoothed, bench, name))
            value = float(said.readings[name][group])
            if band and math.isfinite(value):
                ends[name] = band.about(value)
        base_a = self._bench.light_base_a(bench, said.label)
        if "light_A" in ends and base_a > 0.0:
            low_a, high_a = ends["light_A"]
            ends["light_pct"] = 100.0 * low_a / base_a, 100.0 * high_a / base_a
        return ends

    def _bound_aims(self, group: int, ends: dict[str, tuple[float, float]]) -> None:
        for place, aim in enumerate(self._aims):
            if aim.reading in ends:
                low, high = ends[aim.reading]
                # The worst of several supplies counts: the best of it is bound by each.
                self._lows[group, place] = max(self._lows[group, place], low if aim.sign > 0 else -high)

    def _runs(self) -> None:
        """Run what is open, best first, until nothing is."""
        space, bench = self._space, self._bench
        steps = [aim.step for aim in self._aims]
        lows = self._lows[self._groups.of].copy()
        for place, aim in enumerate(self._aims):
            if aim.reading == COST:
                lows[:, place] = space.costs
        # Half a grain and the last digit to the kind side: what is skipped is beaten whatever the rounding.
        best_case = np.floor(lows / np.asarray(steps) * 10.0 + 0.5 - 1e-6)
        filled = np.where(np.isfinite(best_case), best_case, 0.0)
        spread = np.maximum(np.ptp(filled, axis=0), 1.0)
        order = np.lexsort((np.arange(len(space)), (filled / spread).sum(axis=1)))
        front = np.empty((0, len(self._aims)))
        runs = {name: Stage(name) for name in bench.benches}
        self._stages += runs.values()
        beaten_stage = Stage("beaten at their best")
        while True:
            wave, beaten = _wave(order, self._fate, best_case, front, WAVE)
            self._fate[beaten] = BEATEN
            beaten_stage.out += len(beaten)
            if not wave:
                if self._pairs_are_proved():
                    break
                continue
            alive = wave
            for name in bench.benches:
                runs[name].looked_at += len(alive)
                bench.run(alive, name)
                gone = [number for number in alive if bench.broken(number)]
                for number in gone:
                    self._fate[number] = BROKEN_RUN
                    self._rule_out_worse(number, name)
                runs[name].out += len(gone)
                alive = [number for number in alive if self._fate[number] == OPEN]
                self._tell(name, int((self._fate != OPEN).sum()), int((self._fate == OPEN).sum()))
                if not alive:
                    break
            for number in alive:
                self._fate[number] = KEPT
            if alive:
                grains = in_grains(self._values(alive), steps)
                front = np.vstack([front, grains])
                front = np.unique(front[non_dominated(front)], axis=0)
        self._stages.append(beaten_stage)

    def _rule_out_worse(self, number: int, bench: str) -> None:
        """Rule out what must break the limits that a candidate has just broken."""
        if not self._pairs_hold:
            return
        broken = self._bench.broken(number)
        for topic, use in self._bench.of(number).uses.items():
            if topic in broken and use.verdict.bench == bench:
                worse = worse_by_pairs(self._space, number, use) & (self._fate == OPEN)
                self._fate[worse] = BROKEN_LIKE
                self._like |= dict.fromkeys(np.flatnonzero(worse).tolist(), (bench, topic, use.ratio))

    def _pairs_are_proved(self) -> bool:
        """Run some of what pairs ruled out; if one of it is good all is open again, and no pair is used."""
        drawn = self._random.sample(sorted(self._like), min(PROOF_LEAST, len(self._like)))
        by_bench: dict[str, list[int]] = {}
        for number in drawn:
            by_bench.setdefault(self._like[number][0], []).append(number)
        for bench, numbers in by_bench.items():
            self._bench.run(numbers, bench)
        wrong = [number for number in drawn if self._like[number][1] not in self._bench.broken(number)]
        self._proved += len(drawn)
        self._widened += len(wrong)
        if wrong:
            self._fate[list(self._like)] = OPEN
            self._like.clear()
            self._pairs_hold = False
        return not wrong

    def _values(self, numbers: Sequence[int]) -> NDArray[np.float64]:
        return np.array(
            [
                [
                    float(self._space.costs[n])
                    if aim.reading == COST
                    else aim.sign * self._bench.of(n).readings.get(aim.reading, math.nan)
                    for aim in self._aims
                ]
                for n in numbers
            ],
            dtype=float,
        ).reshape(-1, len(self._aims))

    def _found(self) -> Found:
        groups, bench = self._groups, self._bench
        kept = [int(n) for n in np.flatnonzero(self._fate == KEPT)]
        grains = in_grains(self._values(kept), [aim.step for aim in self._aims])
        best = [kept[row] for row in non_dominated(grains)] if kept else []
        rank = {number: tuple(grains[row]) for row, number in enumerate(kept)}
        best.sort(key=lambda number: (*rank[number], number))
        broken: Counter[Topic] = Counter()
        alone: Counter[Topic] = Counter()
        near: dict[int, dict[Topic, float]] = {}
        said_out = np.flatnonzero(self._fate == BROKEN_SAID)
        for group, count in Counter(groups.of[said_out].tolist()).items():
            topics = dict(self._topics[group])
            near[groups.first(group)] = topics
            broken.update(dict.fromkeys(topics, count))
            if len(topics) == 1:
                alone.update(dict.fromkeys(topics, count))
        for number in np.flatnonzero(self._fate == BROKEN_RUN):
            topics = bench.broken(int(number))
            near[int(number)] = topics
            broken.update(dict.fromkeys(topics, 1))
            if len(topics) == 1:
                alone.update(dict.fromkeys(topics, 1))
        for _, topic, _ in self._like.values():
            broken.update({topic: 1})
        return Found(
            self._space,
            self._aims,
            bench,
            best,
            kept,
            broken,
            alone,
            near,
            int((self._fate == BEATEN).sum()),
            int((self._fate == IMPOSSIBLE).sum()),
            self._proved,
            self._widened,
            self._stages,
            self._fate,
            {number: (topic, ratio) for number, (_, topic, ratio) in self._like.items()},
            groups,
            self._bands,
        )


def _as_if(space: Space, lamp: Lamp, bench: str, said: Said, readings: dict[str, float]) -> FinishedCase:
    """A case with readings that were not run, to be judged and nothing else."""
    at = TestConditions(said.supply.voltage_v, said.supply.frequency_hz)
    return FinishedCase(Case(space.study.name, "", lamp, bench, at), CaseResult(readings, {}))


def _wave(
    order: NDArray[np.intp],
    fate: NDArray[np.int8],
    best_case: NDArray[np.float64],
    front: NDArray[np.float64],
    most: int,
) -> tuple[list[int], list[int]]:
    """The next candidates to run, and those that the front beats even at their best.

    Candidates stand in an order in which none is beaten by a later one, so that the first of them that no one
    chosen beats have to be run whatever comes of the others.
    """
    chosen: list[int] = []
    beaten: list[int] = []
    rows = np.empty((0, best_case.shape[1]))
    for number in order[fate[order] == OPEN]:
        own = best_case[number]
        if len(front) and bool(((front <= own).all(axis=1) & (front < own).any(axis=1)).any()):
            beaten.append(int(number))
            continue
        if len(rows) and bool(((rows <= own).all(axis=1) & (rows < own).any(axis=1)).any()):
            continue
        chosen.append(int(number))
        rows = np.vstack([rows, own])
        if len(chosen) == most:
            break
    return chosen, beaten
