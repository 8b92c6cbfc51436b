"""`coldiron waves`: draw one case, two laid over each other, or a surge at all angles, or write vectors."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import pandas as pd

from coldiron.benches.base import Case
from coldiron.cli.running import run_with_progress
from coldiron.cli.select import check_names
from coldiron.errors import FileProblems, Problem, SimulationFailed
from coldiron.pictures import rooms
from coldiron.pictures.case import case_picture
from coldiron.pictures.ink import Picture, pdf_bytes, png_bytes
from coldiron.pictures.lay import Lay, alone
from coldiron.pictures.window import open_window, show
from coldiron.study.load import load_study
from coldiron.study.model import Study
from coldiron.sweep.cases import study_cases
from coldiron.sweep.run import FinishedCase
from coldiron.tables.columnar import has_parquet
from coldiron.tables.files import write_whole
from coldiron.tables.tidy import number_text
from coldiron.tables.waves import waves_frame

ENDINGS = (".svg", ".pdf", ".png", ".csv", ".parquet")


def main(args: argparse.Namespace) -> int:
    """Draw or write the run of one variant, or of two."""
    study = load_study(args.study)
    window = _target(args.to)
    cases = _cases(study, args)
    if args.all_angles:
        cases = [each for case in cases for each in _at_all_angles(case)]
    done = run_with_progress(cases, args, keep_waves=True)
    for one in done:
        if one.result.failure:
            why = f"{one.case.variant}, {one.case.bench}: {one.result.failure.why}"
            raise SimulationFailed(why, one.result.failure.last_words)
    label = _label(done, args)
    if args.to.suffix in (".csv", ".parquet"):
        _write_frame(args.to, done, label)
    else:
        shown = _numbered(done) if args.all_angles else _lays(study, done)
        _give_picture(args.to, window, case_picture(alone(shown), label))
    if window is None:
        sys.stdout.write(f"{args.to}\n")
    return 0


def _target(to: Path) -> Any:
    """Make sure before the run that its picture can go somewhere; returns the window, if it is one."""
    if str(to) == "window":
        window = open_window()
        window.withdraw()
        return window
    if to.suffix == ".parquet" and not has_parquet():
        expected = "another ending, such as .csv: pyarrow is not installed (pip install 'coldiron[parquet]')"
        raise FileProblems([Problem("--to", "", f'"{to}"', expected)])
    if to.suffix in ENDINGS:
        return None
    expected = f'a file that ends in {", ".join(ENDINGS)}, or "window"'
    raise FileProblems([Problem("--to", "", f'"{to}"', expected)])


def _cases(study: Study, args: argparse.Namespace) -> list[Case]:
    """The cases asked for, under the study's first conditions or those named."""
    names = list(dict.fromkeys(name for name in (args.variant, args.against) if name))
    known = [variant.name for variant in study.variants]
    check_names("--variant", [args.variant], known)
    check_names("--against", [args.against] if args.against else [], known)
    check_names("--bench", [args.bench], study.benches)
    alone = names if args.label == rooms.LABEL else ()
    cases = [case for case in study_cases(study, alone) if case.bench == args.bench]
    if args.conditions:
        labels = list(dict.fromkeys(case.conditions.label for case in cases))
        check_names("--conditions", [args.conditions], labels)
        cases = [case for case in cases if case.conditions.label == args.conditions]
    return [next(case for case in cases if case.variant == name) for name in names]


def _at_all_angles(case: Case) -> list[Case]:
    """One case for each angle and polarity of a surge, named for it."""
    if case.bench != "surge":
        words = "a surge, which comes at several; other benches search the worst or have none"
        raise FileProblems([Problem("--all-angles", "", f'bench "{case.bench}"', words)])
    conditions = case.conditions
    return [
        replace(
            case,
            variant=f"{case.variant}, {'+' if polarity > 0 else '−'} at {angle_deg:g}°",
            conditions=replace(conditions, surge_angles_deg=(angle_deg,), surge_polarities=(polarity,)),
        )
        for angle_deg in conditions.surge_angles_deg
        for polarity in conditions.surge_polarities
    ]


def _numbered(done: Sequence[FinishedCase]) -> list[Lay]:
    """Cases that are no variants, numbered from 1."""
    return [
        Lay(number, one.case, one.result.readings, one.result.waves or {})
        for number, one in enumerate(done, start=1)
    ]


def _label(done: Sequence[FinishedCase], args: argparse.Namespace) -> str:
    """Which run of the bench: the one asked for, or that which decides the readings."""
    labels = list(done[0].result.waves or {})
    if not labels:
        lacking = "a bench that applies to this lamp"
        raise FileProblems([Problem("--bench", "", f'"{args.bench}"', lacking)])
    if args.label:
        check_names("--label", [args.label], labels)
        return str(args.label)
    return args.bench if args.bench in labels else labels[-1]


def _lays(study: Study, done: Sequence[FinishedCase]) -> list[Lay]:
    numbers = {variant.name: number for number, variant in enumerate(study.variants)}
    return [
        Lay(numbers[one.case.variant], one.case, one.result.readings, one.result.waves or {}) for one in done
    ]


def _write_frame(to: Path, done: Sequence[FinishedCase], label: str) -> None:
    frames = [waves_frame((one.result.waves or {})[label], label).reset_index() for one in done]
    if len(frames) > 1:
        for one, frame in zip(done, frames, strict=True):
            frame.insert(0, "variant", one.case.variant)
    frame = pd.concat(frames, ignore_index=True)
    if to.suffix == ".csv":
        if "variant" in frame:
            frame["variant"] = frame["variant"].map(number_text)
        write_whole(to, frame.to_csv(index=False, lineterminator="\n", float_format="%.9g"))
    else:
        write_whole(to, frame.to_parquet(index=False))


def _give_picture(to: Path, window: Any, picture: Picture) -> None:
    if window is not None and picture.figure is not None:
        show(window, picture.figure, picture.title)
    elif to.suffix == ".svg":
        write_whole(to, picture.labelled)
    elif to.suffix == ".pdf" and picture.figure is not None:
        to.parent.mkdir(parents=True, exist_ok=True)
        to.write_bytes(pdf_bytes(picture.figure))
    elif picture.figure is not None:
        write_whole(to, png_bytes(picture.figure))
