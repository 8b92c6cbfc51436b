"""`coldiron deck`: run one case and print the deck that decides its readings."""

from __future__ import annotations

import argparse
import sys

from coldiron.cli.select import one_case
from coldiron.engine.local_pool import shared_pool
from coldiron.errors import FileProblems, Problem, SimulationFailed
from coldiron.study.load import load_study
from coldiron.sweep.run import run_cases
from coldiron.sweep.worker import FAILED_DECK, start_worker


def main(args: argparse.Namespace) -> int:
    """Print the deck of one variant on one bench, whether or not the study has that bench."""
    study = load_study(args.study)
    case = one_case(study, args.variant, args.bench)
    [done] = run_cases([case], shared_pool(1, start_worker))
    decks, failure = done.decks, done.result.failure
    if done.result.not_applicable:
        raise FileProblems(
            [Problem("--bench", "", args.bench, f"a bench this lamp can go on: {done.result.not_applicable}")]
        )
    if failure:
        # The deck that gave no answer is what a person wants to look at.
        sys.stdout.write(decks.get(FAILED_DECK, ""))
        raise SimulationFailed(failure.why, failure.last_words)
    label = args.label or list(decks)[-1]
    if label not in decks:
        raise FileProblems([Problem("--label", "", repr(label), "one of " + ", ".join(decks))])
    sys.stdout.write(decks[label])
    return 0
