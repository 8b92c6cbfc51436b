"""A study with more variants than anyone reads on a terminal: tables that grow while it runs."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence

from coldiron.benches.base import Case
from coldiron.cli.running import run_in_batches
from coldiron.errors import SimulationFailed
from coldiron.study.model import Study
from coldiron.tables.growing import GrowingTable

BATCH_CASES = 2000


def run_large(study: Study, cases: Sequence[Case], args: argparse.Namespace) -> int:
    """Run a large study and return 0, or 3 when some cases gave no answer."""
    folder = args.out / study.name
    with GrowingTable(folder) as table:
        for done in run_in_batches(cases, args, most=BATCH_CASES):
            table.add(done)
    sys.stdout.write(
        f"{len(study.variants)} variants, {len(cases)} cases, {table.failed} failed\n"
        "no pictures, decks or verdicts for a study of this size; for one variant: --variant, coldiron deck\n"
        f"files: {folder} (readings.csv, readings.parquet, variants.csv)\n"
    )
    return SimulationFailed.exit_status if table.failed else 0
