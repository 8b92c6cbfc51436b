"""`coldiron deck`: run one case and print the deck that decides its readings."""

from __future__ import annotations

import argparse
import sys

from coldiron.cli.select import one_case
from coldiron.engine.pool import LocalCrew
from coldiron.errors import FileProblems, Problem, SimulationFailed
from coldiron.study.load import load_study
from coldiron.sweep.run import run_cases
from coldiron.sweep.worker import start_worker


def main(args: argparse.Namespace) -> int:
    """Print the deck of one variant on one bench."""
    study = load_study(args.study)
    case = one_case(study, args.variant, args.bench)
    [done] = run_cases([case], LocalCrew(1, start_worker))
    if done.finding.failure:
        raise SimulationFailed(done.finding.failure.why, done.finding.failure.engine_words)
    decks = done.finding.decks
    label = args.label or list(decks)[-1]
    if label not in decks:
        raise FileProblems([Problem("--label", "", repr(label), "one of " + ", ".join(decks))])
    sys.stdout.write(decks[label])
    return 0
