"""`coldiron spread`: tolerances, what decides, what it takes to pass, for single variants of a study."""

from __future__ import annotations

import argparse

from coldiron.answer.answer import answer
from coldiron.cli.arguments import CAUTION
from coldiron.cli.main import say_error
from coldiron.cli.running import run_with_progress
from coldiron.cli.select import check_names, selected_cases
from coldiron.cli.spreading import Spreads, spreads, worth_a_spread
from coldiron.cli.study import asked_study, exit_status, files_words, say, terminal_width
from coldiron.errors import CannotWrite
from coldiron.limits import check_replacements, judge
from coldiron.spread.values import check_tolerances
from coldiron.study.model import Study
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
    found = None
    names = list(dict.fromkeys(args.variant or ()))
    if not names:
        done = run_with_progress(selected_cases(study, None, args.bench), args)
        found = answer(study, Results(done), judge(study, done))
        names = worth_a_spread(found)
    folder = folder_of(args.out, study, args.variant, args.bench) / "spread"
    with RunFolder(folder, say_error) as run:
        spread = spreads(study, names, args, asked, found)
        width = terminal_width()
        lines = [line for one in spread.each for line in (*spread_screen(one, width), "")]
        for sway in spread.sways:
            lines += wrapped(sway.text, width)
        try:
            run.finish(manifest(study, spread, asked), write_spread(run.part, spread.each))
        except CannotWrite as failure:
            run.lose(str(failure))
        lines += wrapped(files_words(run), width)
        say([*lines, *wrapped(CAUTION, width)])
        return exit_status(run, failed=spread.failed > 0)


def manifest(study: Study, spread: Spreads, asked: Spread) -> dict[str, object]:
    """What was run and with what."""
    return {
        "study": study.name,
        "lamp": study.lamp.name,
        "variants": [one.variant for one in spread.each],
        "benches": list(spread.each[0].margins.drawing.benches),
        "spread": asked.model_dump(mode="json"),
        "cases": sum(one.margins.cases for one in spread.each),
        "failed": spread.failed,
        **provenance(study),
    }
