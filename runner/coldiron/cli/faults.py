"""`coldiron faults`: follow single faults of a lamp to their ends, the worst first."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from typing import Any

from coldiron.cli.arguments import CAUTION
from coldiron.cli.following import follow, follow_bridged, say_failed
from coldiron.cli.main import say_error
from coldiron.cli.select import check_names
from coldiron.cli.study import exit_status, files_words, say, terminal_width
from coldiron.errors import CannotWrite
from coldiron.faults import EVERY
from coldiron.lamp.load import lamp_from
from coldiron.lamp.toml_file import find_file, read_toml
from coldiron.study.load import is_lamp, load_study, make_study
from coldiron.study.model import AS_FOUND, Study
from coldiron.sweep.bridged import BridgedLamp
from coldiron.sweep.faults import Followed
from coldiron.tables.bridged import bridged_lines
from coldiron.tables.columns import wrapped
from coldiron.tables.fault_files import fault_manifest, write_faults
from coldiron.tables.faults import fault_lines, line_words
from coldiron.tables.files import file_stem
from coldiron.tables.run_folder import RunFolder


def main(args: argparse.Namespace) -> int:
    """Follow faults and return 0, or 3 when some cases gave no answer."""
    study = asked_faults(args.lamp, args.mains, args.variant)
    names = tuple(args.fault or study.faults or (EVERY,))
    with RunFolder(args.out / study.name / "faults", say_error) as run:
        found = follow(study, names, args)
        try:
            files = write_faults(run.part, found)
            if not args.no_pictures:
                from coldiron.pictures.faults import draw_faults

                files += draw_faults(run.part / "pictures", found)
            run.finish(fault_manifest(study, found), files)
        except CannotWrite as failure:
            run.lose(str(failure))
        bridged = follow_bridged(study, found, args) if args.bridged else None
        say(_lines(study, found, bridged, args, files_words(run)))
        return exit_status(run, failed=say_failed(found))


def asked_faults(path_or_name: str, mains: Sequence[str] | None, variants: Sequence[str] | None) -> Study:
    """Study whose faults are asked for: one of a file, or a lamp as found.

    Raises
    ------
    FileProblems
        With everything that is wrong with the file, the mains or the names.
    """
    path = find_file(path_or_name, "lamps", "studies")
    table = read_toml(path)
    conditions: dict[str, Any] = {"conditions": {"mains": list(mains)}} if mains else {}
    if is_lamp(table):
        study = make_study(
            lamp_from(table, path), name=file_stem(path.stem), benches=["steady"], **conditions
        )
    else:
        study = load_study(path_or_name)
        if mains:
            asked = make_study(study.lamp, **conditions).conditions.mains
            study = study.model_copy(
                update={"conditions": study.conditions.model_copy(update={"mains": asked})}
            )
    names = [variant.name for variant in study.variants]
    check_names("--variant", variants or (), names)
    keep = {AS_FOUND, *variants} if variants else set(names)
    return study.model_copy(update={"variants": tuple(one for one in study.variants if one.name in keep)})


def _lines(
    study: Study,
    found: Sequence[Followed],
    bridged: BridgedLamp | None,
    args: argparse.Namespace,
    files: str,
) -> list[str]:
    width = terminal_width()
    lines = fault_lines(study.lamp, found, width, everything=args.all)
    if args.bridged:
        lines += ["", *(bridged_lines(bridged) if bridged else ["no string of LEDs on regulators to bridge"])]
    if args.lines:
        lines += ["", *(line for text in line_words() for line in wrapped(text, width))]
    lines += wrapped(f"{files} More: --all, --lines, --fault NAME, --mains '+10 %'.", width)
    return [*lines, *wrapped(CAUTION, width)]
