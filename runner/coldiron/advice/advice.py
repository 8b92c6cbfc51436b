"""Advice: a search thinned to what a person can read, tried harder, with why the others lose."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Final

from coldiron.advice.dominance import thinned
from coldiron.advice.losers import Eased, Loser, counted, eased, lost, nearest_losers
from coldiron.advice.runs import Aim, Bench
from coldiron.advice.search import Found, Search
from coldiron.advice.space import Space
from coldiron.answer.use import Topic, Use, worst_uses
from coldiron.benches.base import Case
from coldiron.engine.pool import WorkerPool
from coldiron.limits import judge
from coldiron.limits.verdict import Verdict
from coldiron.spread.margins import margins
from coldiron.spread.population import Drawing
from coldiron.spread.values import varied
from coldiron.spread.yields import Yield
from coldiron.study.conditions import MainsCondition
from coldiron.study.model import AS_FOUND, KNOWN_BENCHES, Study, Variant
from coldiron.study.spread import Spread
from coldiron.sweep.cache import Cache
from coldiron.sweep.cases import study_cases
from coldiron.sweep.results import Results
from coldiron.sweep.run import FinishedCase, run_cases

HARDER: Final = ("nominal", "+10 %", "-10 %")
"""Mains that the few candidates which are shown are tried on, and warm, besides the conditions of the
study."""


@dataclass(frozen=True)
class Chosen:
    """A candidate that is shown: aims, the limit it uses most of, and what it breaks on harder conditions.

    `lamps` is the limit that the fewest lamps of its tolerances keep, and how many do, where that was asked.
    """

    number: int
    variant: Variant
    values: tuple[float, ...]
    closest: Use | None
    harder: tuple[Use, ...] = ()
    lamps: tuple[Yield, Topic] | None = None


@dataclass(frozen=True)
class Advice:
    """What a study is advised.

    `chosen` stand for the set: of each box of `box_steps` readable steps one, where the set is larger than a
    person reads. `best` are all of it, by number. Without any, `chosen` are the nearest that miss, and
    `is_empty`. `shortlist` is a study of them with `results` and `verdicts` on harder conditions.
    """

    study: Study
    found: Found
    chosen: tuple[Chosen, ...]
    box_steps: int
    counts: tuple[tuple[Topic, int, int], ...]
    lost: int
    eased: tuple[Eased, ...]
    nearest: tuple[Loser, ...]
    shortlist: Study
    results: Results
    verdicts: tuple[Verdict, ...] = field(repr=False)

    @property
    def is_empty(self) -> bool:
        """Whether no candidate keeps every limit."""
        return not self.found.best

    @property
    def aims(self) -> tuple[Aim, ...]:
        """What the set is weighed by."""
        return self.found.aims

    def __str__(self) -> str:
        """Say it in the lines that the terminal shows."""
        from coldiron.advice.words import advice_lines

        return "\n".join(advice_lines(self))


def advise(
    study: Study,
    pool: WorkerPool,
    cache: Cache | None = None,
    *,
    shortlist_cache: Cache | None = None,
    case_deadline_s: float = 60.0,
    tell: Callable[[str, int, int], None] = lambda stage, done, left: None,
    finished: Callable[[str], None] = lambda bench: None,
    keep_waves: bool = False,
    spread: Spread | None = None,
) -> Advice:
    """Search the catalogue for a lamp, and say what to buy and why not the others.

    Parameters
    ----------
    study : Study
        Its [advise] says what may be bought; its benches, conditions and limits hold for every candidate.
    pool : WorkerPool
    cache, shortlist_cache : Cache, optional
        What was computed before, of candidates and of the shortlist.
    case_deadline_s : float
    tell : callable
        Told the stage, how many candidates are decided and how many are left.
    finished : callable
        Told the bench of each case that has an answer.
    keep_waves : bool
        Whether to bring home the waves of the shortlist.
    spread : Spread, optional
        Lamps of their tolerances to draw of each candidate that is shown.

    Raises
    ------
    FileProblems
        If the study asks for what its lamp cannot have, leaves nothing to choose, or too much.
    """
    space = Space(study)
    bench = Bench(space, pool, cache, case_deadline_s=case_deadline_s, finished=finished)
    found = Search(space, bench, tell).run()
    tell("why the others lose", int((found.fate > 0).sum()), 0)
    admits = eased(found)
    nearest = nearest_losers(found)
    rows, steps = thinned(found.grains(found.best)) if found.best else ([], 1)
    numbers = [found.best[row] for row in rows] or [one.number for one in nearest]
    tell("shortlist", int((found.fate > 0).sum()), 0)
    shortlist, done = _tried_harder(
        space, numbers, pool, shortlist_cache, case_deadline_s, keep_waves, finished
    )
    verdicts = judge(shortlist, done)
    uses = worst_uses(verdicts)
    chosen = []
    for number in numbers:
        variant = space.variant(number)
        assert variant is not None
        own = bench.of(number)
        newly = tuple(
            use
            for topic, use in sorted(uses.get(variant.name, {}).items(), key=lambda pair: -pair[1].ratio)
            if use.over
            and not study.advise.sets_aside(use.verdict.limit_id)
            and not (topic in own.uses and own.uses[topic].over)
        )
        values = tuple(found.value(number, aim) for aim in found.aims)
        lamps = None
        if spread is not None:
            tell(f"tolerances of {variant.name}", int((found.fate > 0).sum()), 0)
            lamps = _fewest_kept(study, variant, spread, pool, cache, case_deadline_s, finished)
        chosen.append(Chosen(number, variant, values, own.closest(study), newly, lamps))
    return Advice(
        study,
        found,
        tuple(chosen),
        steps,
        tuple(counted(found)),
        lost(found),
        tuple(admits),
        tuple(nearest),
        shortlist,
        Results(done),
        tuple(verdicts),
    )


def _fewest_kept(
    study: Study,
    variant: Variant,
    spread: Spread,
    pool: WorkerPool,
    cache: Cache | None,
    case_deadline_s: float,
    finished: Callable[[str], None],
) -> tuple[Yield, Topic] | None:
    """Limit that the fewest lamps of a candidate's tolerances keep."""

    def run(cases: Sequence[Case]) -> list[FinishedCase]:
        return run_cases(
            cases,
            pool,
            cache=cache,
            case_deadline_s=case_deadline_s,
            finished=lambda one: finished(one.case.bench),
            readings_only=True,
        )

    of = tuple(varied(variant.lamp, study.benches, spread))
    asked = study.model_copy(
        update={"variants": (Variant(name=AS_FOUND, changes=(), lamp=study.lamp), variant)}
    )
    spread_out = margins(Drawing(asked, variant.name, variant.lamp, spread, study.benches, of), run)
    held = [one for one in spread_out.limits if not study.advise.sets_aside(one.worst_verdict.limit_id)]
    fewest = min(held, key=lambda one: one.yielded.ratio, default=None)
    return None if fewest is None else (fewest.yielded, fewest.topic)


def _tried_harder(
    space: Space,
    numbers: list[int],
    pool: WorkerPool,
    cache: Cache | None,
    case_deadline_s: float,
    keep_waves: bool,
    finished: Callable[[str], None],
) -> tuple[Study, list[FinishedCase]]:
    """The few candidates and the lamp as found as a study of its own: mains from low to high, and warm."""
    study = space.study
    variants = {0: Variant(name=AS_FOUND, changes=(), lamp=study.lamp)}
    for number in numbers:
        variant = space.variant(number)
        if variant is not None and number:
            variants[number] = variant
    own = study.conditions.mains
    harder = tuple(mains for mains in map(MainsCondition.read, HARDER) if mains not in own)
    shortlist = study.model_copy(
        update={
            "variants": tuple(variants.values()),
            "benches": tuple(b for b in KNOWN_BENCHES if b in study.benches or b == "heat"),
            "conditions": study.conditions.model_copy(update={"mains": (*own, *harder)}),
        }
    )
    done = run_cases(
        list(study_cases(shortlist)),
        pool,
        cache=cache,
        keep_waves=keep_waves,
        case_deadline_s=case_deadline_s,
        finished=lambda one: finished(one.case.bench),
    )
    return shortlist, done
