"""Running the cases of a study through a pool and collecting what they gave, in the order of the study."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from coldiron.benches.base import Case
from coldiron.deck.render import named
from coldiron.engine.pool import Lost, WorkerPool
from coldiron.sweep.cache import Cache, NoCache
from coldiron.sweep.case_result import CaseResult, Failure
from coldiron.sweep.cases import tasks
from coldiron.sweep.keys import case_key
from coldiron.sweep.worker import Work, run_work

CASE_DEADLINE_S = 60.0


@dataclass(frozen=True)
class FinishedCase:
    """One finished case."""

    case: Case
    result: CaseResult

    @property
    def decks(self) -> dict[str, str]:
        """Decks by their labels as a person is shown them, with the names of lamp, study and variant."""
        case = self.case
        return {
            label: named(text, lamp=case.lamp.name, study=case.study, variant=case.variant)
            for label, text in self.result.decks.items()
        }


def run_cases(
    cases: Sequence[Case],
    pool: WorkerPool,
    *,
    cache: Cache | None = None,
    keep_waves: bool = False,
    readings_only: bool = False,
    case_deadline_s: float = CASE_DEADLINE_S,
    finished: Callable[[FinishedCase], None] = lambda done: None,
    recalled: Callable[[int], None] = lambda count: None,
) -> list[FinishedCase]:
    """Run cases and return them in the order given, whatever order they finished in.

    A task that was lost is run again case by case, so that only the case that kills a worker is lost. Cases
    that differ by their names only are run once.

    Parameters
    ----------
    cases : sequence of Case
    pool : WorkerPool
        Where to run them.
    cache : Cache, optional
        What was computed before; every result goes into it as soon as it is there.
    keep_waves : bool
        Whether to bring home the vectors behind the pictures.
    readings_only : bool
        Whether to leave the decks behind; the cache has to be of the same mind.
    case_deadline_s : float
        Longest time for one case [s].
    finished : callable
        Told of each finished case, as it comes.
    recalled : callable
        Told once, before anything is computed, how many of the cases were recalled.
    """
    cache = cache or NoCache()
    done: dict[int, FinishedCase] = {}

    def collect(number: int, result: CaseResult) -> None:
        done[number] = FinishedCase(cases[number], result)
        finished(done[number])

    for number, case in enumerate(cases):
        known = cache.recall(case, with_waves=keep_waves)
        if known is not None:
            collect(number, known)
    recalled(len(done))
    alike: dict[str, list[int]] = {}
    for number, case in enumerate(cases):
        if number not in done:
            alike.setdefault(case_key(case), []).append(number)
    numbers = {id(cases[same[0]]): same for same in alike.values()}
    works = [
        Work(group, keep_waves, readings_only) for group in tasks([cases[same[0]] for same in alike.values()])
    ]
    while works:
        again: list[Work] = []
        for found in _run_works(works, pool, case_deadline_s, again):
            cache.keep(found)
            for case, result in found:
                for number in numbers[id(case)]:
                    collect(number, result)
        works = again
    return [done[number] for number in range(len(cases))]


def _run_works(
    works: Sequence[Work], pool: WorkerPool, case_deadline_s: float, again: list[Work]
) -> Iterator[list[tuple[Case, CaseResult]]]:
    """Yield what each task gave; what has to be tried once more is added to `again`."""

    def deadline_s(work: Work) -> float:
        return case_deadline_s * len(work.cases)

    for outcome in pool.run_all(run_work, works, deadline_s):
        work = works[outcome.index]
        if not isinstance(outcome.result, Lost):
            yield list(zip(work.cases, outcome.result, strict=False))
            left = work.cases[len(outcome.result) :]
            if left:
                again.append(replace(work, cases=left))
        elif len(work.cases) > 1:
            again.extend(replace(work, cases=(case,)) for case in work.cases)
        else:
            [case] = work.cases
            words = outcome.result.words or outcome.result.why
            yield [(case, CaseResult({}, {}, Failure("no answer", words, certain=False)))]
