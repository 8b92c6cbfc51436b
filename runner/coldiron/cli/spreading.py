"""Spreads for a command: of which variants, through which pool and store, and what that changes."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from dataclasses import dataclass, replace

from coldiron.answer.answer import Answer
from coldiron.cli.fit import run_in_worker
from coldiron.cli.running import CaseRunner
from coldiron.fit.solve import Fit, FitWork
from coldiron.spread.sways import Sway, swaying
from coldiron.spread.whole import SpreadOf, spread_of
from coldiron.study.model import AS_FOUND, Study
from coldiron.study.spread import Spread


@dataclass(frozen=True)
class Spreads:
    """Spreads of some variants, and the assumptions that change whom the answer names."""

    each: tuple[SpreadOf, ...]
    sways: tuple[Sway, ...]

    @property
    def failed(self) -> int:
        """Cases of their lamps that gave no answer."""
        return sum(one.failed for one in self.each)


def spreads(
    study: Study,
    names: Sequence[str],
    args: argparse.Namespace,
    asked: Spread,
    found: Answer | None = None,
) -> Spreads:
    """Spread of each variant named; with an answer also which assumption changes it."""

    def fit(work: FitWork) -> Fit:
        """In a worker process, as every run of the engine."""
        return run_in_worker(work, args.deadline)

    with CaseRunner(args) as run:
        each = [
            spread_of(
                study,
                name,
                run,
                fit,
                benches=args.bench,
                spread=asked,
                sobol=getattr(args, "sobol", False),
                said=run.say,
            )
            for name in names
        ]
        sways: list[Sway] = []
        if found is not None:
            run.say("whether that changes the answer")
            chosen = tuple(bench for bench in study.benches if not args.bench or bench in args.bench)
            sways = swaying(
                study.model_copy(update={"benches": chosen}),
                found,
                {one.variant: one.deciding for one in each},
                run,
            )
    return Spreads(tuple(each), tuple(sways))


def worth_a_spread(found: Answer) -> list[str]:
    """The lamp as found, and whom the answer names."""
    named = [one for one in (found.named, *(corner for _, corner in found.corners)) if one]
    return list(dict.fromkeys([AS_FOUND, *(one.ranked.candidate.name for one in named)]))


def leaning(found: Answer, spread: Spreads) -> Answer:
    """The answer with the assumptions that change it."""
    return replace(found, sways=tuple(sway.text for sway in spread.sways))
