"""Running the cases of a study through a crew and collecting what they gave, in the order of the study."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from coldiron.benches.base import Case
from coldiron.engine.pool import Crew, Lost
from coldiron.sweep.cases import tasks
from coldiron.sweep.worker import Failure, Finding, Work, run_work

CASE_DEADLINE_S = 60.0


@dataclass(frozen=True)
class Done:
    """One finished case."""

    case: Case
    finding: Finding


def run_cases(
    cases: Sequence[Case],
    crew: Crew,
    *,
    keep_waves: bool = False,
    case_deadline_s: float = CASE_DEADLINE_S,
    finished: Callable[[Done], None] = lambda done: None,
) -> list[Done]:
    """Run cases and return them in the order given, whatever order they finished in.

    A task whose worker died is run again case by case, so that only the case that kills a worker is lost.

    Parameters
    ----------
    cases : sequence of Case
    crew : Crew
        Where to run them.
    keep_waves : bool
        Whether to bring home the vectors behind the pictures.
    case_deadline_s : float
        Longest time for one case [s].
    finished : callable
        Told of each finished case, as it comes.
    """
    done: dict[int, Done] = {}
    numbers = {id(case): number for number, case in enumerate(cases)}

    def collect(found: Iterator[tuple[Case, Finding]]) -> None:
        for case, finding in found:
            done[numbers[id(case)]] = Done(case, finding)
            finished(done[numbers[id(case)]])

    works = [Work(group, keep_waves) for group in tasks(cases)]
    again: list[Work] = []
    collect(_run_works(works, crew, case_deadline_s, again))
    collect(_run_works(again, crew, case_deadline_s, None))
    return [done[number] for number in range(len(cases))]


def _run_works(
    works: Sequence[Work], crew: Crew, case_deadline_s: float, again: list[Work] | None
) -> Iterator[tuple[Case, Finding]]:
    if not works:
        return

    def deadline_s(work: Work) -> float:
        return case_deadline_s * len(work.cases)

    for outcome in crew.run_all(run_work, works, deadline_s):
        work = works[outcome.index]
        if not isinstance(outcome.result, Lost):
            yield from zip(work.cases, outcome.result, strict=True)
        elif again is not None and len(work.cases) > 1:
            again.extend(replace(work, cases=(case,)) for case in work.cases)
        else:
            for case in work.cases:
                yield case, Finding({}, {}, Failure("no answer", outcome.result.why))
