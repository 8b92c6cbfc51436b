"""Following the faults of a study for a command: through the store, with waves for what is drawn."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from dataclasses import replace

from coldiron.answer.final_state import drawn_moments
from coldiron.cli.main import say_error
from coldiron.cli.running import run_with_progress
from coldiron.errors import FileProblems, Problem
from coldiron.faults import UnknownFault
from coldiron.study.model import Study
from coldiron.sweep.bridged import BridgedLamp, bridged_cases, bridged_lamp
from coldiron.sweep.faults import Followed, fault_cases, followed
from coldiron.wording import as_written


def follow(study: Study, names: Sequence[str], args: argparse.Namespace) -> list[Followed]:
    """Follow faults of every variant of a study; those that a picture is made of come with their waves.

    Raises
    ------
    FileProblems
        For a fault that no variant can have.
    """
    try:
        cases = fault_cases(study, names)
    except UnknownFault as unknown:
        problem = Problem("--fault", "", as_written(unknown.name), unknown.expected, unknown.nearest)
        raise FileProblems([problem]) from None
    found = followed(cases, run_with_progress([one.case for one in cases], args))
    if args.no_pictures:
        return found
    drawn = drawn_moments(found)
    waves = dict(
        zip(drawn, run_with_progress([found[n].done.case for n in drawn], args, keep_waves=True), strict=True)
    )
    return [replace(one, done=waves.get(number, one.done)) for number, one in enumerate(found)]


def follow_bridged(study: Study, found: Sequence[Followed], args: argparse.Namespace) -> BridgedLamp | None:
    """Lamp as found with more and more LEDs bridged, on the first supply."""
    if not found:
        return None
    cases = bridged_cases(study.lamp, found[0].healthy.case.conditions, study.name)
    return bridged_lamp(study.lamp, run_with_progress(cases, args)) if cases else None


def say_failed(found: Sequence[Followed]) -> bool:
    """Say which faults gave no answer; whether any did."""
    failed = [one.done for one in found if one.done.result.failure]
    for one in failed:
        assert one.result.failure is not None
        say_error(f"failed: {one.case.variant} | {one.case.conditions.label}: {one.result.failure.why}")
    return bool(failed)
