"""A small finished study for tests of what a person sees: run once a process, by real ngspice."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

from coldiron.answer.answer import Answer, answer
from coldiron.engine.local_pool import shared_pool
from coldiron.lamp.topologies.linear_sinks import LinearSinksLamp as Lamp
from coldiron.limits import Verdict, judge
from coldiron.study.conditions import Conditions
from coldiron.study.model import AS_FOUND, Study, Variant
from coldiron.sweep.case_result import CaseResult, Failure
from coldiron.sweep.cases import study_cases
from coldiron.sweep.results import Results
from coldiron.sweep.run import FinishedCase, run_cases
from coldiron.sweep.worker import start_worker
from lamps import linear, plain_lamp, reservoir

BENCHES = ("switch-on", "steady", "surge", "unplug")


def small_study(
    found: Lamp | None = None, names: tuple[str, ...] = ("22 µF", "no varistor", "two sinks")
) -> Study:
    """As found and three variants; the names of the variants can be given."""
    lamp = found or plain_lamp()
    lamps = (
        lamp.model_copy(update={"reservoir": reservoir(22e-6)}),
        lamp.model_copy(update={"varistor": None}),
        lamp.model_copy(update={"sinks": lamp.sinks.model_copy(update={"count": 2})}),
    )
    variants = [Variant(name=name, changes=(), lamp=each) for name, each in zip(names, lamps, strict=True)]
    return Study(
        name="small study",
        lamp=lamp,
        variants=(Variant(name=AS_FOUND, changes=(), lamp=lamp), *variants),
        benches=BENCHES,
        conditions=Conditions(surge_angle_deg=(90.0,)),
    )


@cache
def finished() -> tuple[Study, Results, tuple[Verdict, ...]]:
    """The small study with its results, their waves, and verdicts."""
    study = small_study()
    done = run_cases(list(study_cases(study)), shared_pool(2, start_worker), keep_waves=True)
    assert not any(one.result.failure for one in done)
    return study, Results(done), tuple(judge(study, done))


def answered(study: Study, results: Results, verdicts: tuple[Verdict, ...]) -> tuple[Study, Results, Answer]:
    """What the pictures of a study are drawn from."""
    return study, results, answer(study, results, verdicts)


def with_failure(why: str, engine_words: str) -> tuple[Study, Results, tuple[Verdict, ...]]:
    """The small study, but one case has failed: "22 µF" on the bench "steady"."""
    study, done, _ = finished()
    lost = tuple(
        FinishedCase(one.case, CaseResult({}, {}, Failure(why, engine_words)))
        if (one.case.variant, one.case.bench) == ("22 µF", "steady")
        else one
        for one in done
    )
    return study, Results(lost), tuple(judge(study, lost))


def renamed(lamp_name: str, names: tuple[str, str, str]) -> tuple[Study, Results, tuple[Verdict, ...]]:
    """The small study with other names for the lamp and the variants; the results are the same."""
    study, done, _ = finished()
    lamp = linear(study.lamp).model_copy(update={"name": lamp_name})
    called = dict(zip([variant.name for variant in study.variants], (AS_FOUND, *names), strict=True))
    other = small_study(lamp, names)
    again = tuple(
        FinishedCase(replace(one.case, variant=called[one.case.variant]), one.result) for one in done
    )
    return other, Results(again), tuple(judge(other, again))
