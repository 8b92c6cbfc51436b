"""`coldiron spread`: tolerances, what decides, what it takes to pass, for single variants of a study."""

from __future__ import annotations

import argparse
from collections.abc import Sequence

from coldiron.answer.answer import answer
from coldiron.cli.arguments import CAUTION
from coldiron.cli.fit import run_in_worker
from coldiron.cli.main import say_error
from coldiron.cli.running import CaseRunner, run_with_progress
from coldiron.cli.select import check_names, selected_cases
from coldiron.cli.study import asked_study, exit_status, files_words, say, terminal_width
from coldiron.errors import CannotWrite
from coldiron.fit.solve import Fit, FitWork
from coldiron.limits import check_replacements, judge
from coldiron.spread.values import check_tolerances
from coldiron.spread.whole import SpreadOf, spread_of
from coldiron.study.model import AS_FOUND, Study
from coldiron.study.spread import Spread
from coldiron.sweep.results import Results
from coldiron.tables.columns import wrapped
from coldiron.tables.files import provenance
from coldiron.tables.run_folder import RunFolder, folder_of
from coldiron.tables.spread import spread_screen, write_spread


def main(args: argparse.Namespace) -> int:
    """Spread the variants that were asked for, leave the files, show it; 3 when some cases gave no answer."""
    study = asked_study(args.study, args.out)
    check_replacements(study)
    check_names("--variant", args.variant or (), [variant.name for variant in study.variants])
    check_names("--bench", args.bench or (), study.benches)
    asked = study.spread or Spread()
    if args.runs:
        asked = asked.model_copy(update={"runs": args.runs})
    check_tolerances(study, asked)
    names = list(dict.fromkeys(args.variant)) if args.variant else worth_a_spread(study, args)
    folder = folder_of(args.out, study, args.variant, args.bench) / "spread"
    with RunFolder(folder, say_error) as run:
        found = spreads(study, names, args, asked)
        width = terminal_width()
        lines = [line for one in found for line in (*spread_screen(one, width), "")]
        try:
            run.finish(manifest(study, found, asked), write_spread(run.part, found))
        except CannotWrite as failure:
            run.lose(str(failure))
        lines += wrapped(files_words(run), width)
        say([*lines, *wrapped(CAUTION, width)])
        return exit_status(run, failed=any(one.failed for one in found))


def spreads(study: Study, names: Sequence[str], args: argparse.Namespace, asked: Spread) -> list[SpreadOf]:
    """Spread of each variant named."""

    def fit(work: FitWork) -> Fit:
        """In a worker process, as every run of the engine."""
        return run_in_worker(work, args.deadline)

    with CaseRunner(args) as run:
        return [
            spread_of(study, name, run, fit, benches=args.bench, spread=asked, said=run.say) for name in names
        ]


def worth_a_spread(study: Study, args: argparse.Namespace) -> list[str]:
    """The lamp as found, and whom the answer of the study names: it is run for that, or recalled."""
    done = run_with_progress(selected_cases(study, None, args.bench), args)
    return named_in(study, Results(done))


def named_in(study: Study, results: Results) -> list[str]:
    """The lamp as found, and whom the answer names."""
    found = answer(study, results, judge(study, results))
    named = [
        one.ranked.candidate.name for one in (found.named, *(corner for _, corner in found.corners)) if one
    ]
    return list(dict.fromkeys([AS_FOUND, *named]))


def manifest(study: Study, found: Sequence[SpreadOf], asked: Spread) -> dict[str, object]:
    """What was run and with what."""
    return {
        "study": study.name,
        "lamp": study.lamp.name,
        "variants": [one.variant for one in found],
        "benches": list(found[0].margins.drawing.benches) if found else [],
        "spread": asked.model_dump(mode="json"),
        "cases": sum(one.margins.cases for one in found),
        "failed": sum(one.failed for one in found),
        **provenance(study),
    }
