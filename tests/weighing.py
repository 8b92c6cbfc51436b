"""Answers from numbers put in by hand: no engine runs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from coldiron.answer.answer import Answer, answer
from coldiron.lamp.topologies.linear_sinks import LinearSinksLamp as Lamp
from coldiron.limits import judge
from coldiron.study.aims import Aims
from coldiron.study.change import Change
from coldiron.study.conditions import Conditions, MainsCondition
from coldiron.study.model import AS_FOUND, Study, Variant
from coldiron.sweep.results import Results
from coldiron.sweep.run import FinishedCase
from coldiron.tables.screen import screen
from judging import done_of
from lamps import plain_lamp

Readings = Mapping[str, float | str]


@dataclass(frozen=True)
class Tried:
    """One variant by hand: what each bench reads of it, and its changes."""

    name: str = AS_FOUND
    benches: Mapping[str, Readings] = field(default_factory=dict)
    lamp: Lamp = field(default_factory=plain_lamp)
    made: tuple[Change, ...] = (Change(part="part", values={"value": 1.0}, text="set", label="set"),)

    @property
    def changes(self) -> tuple[Change, ...]:
        """None as found."""
        return () if self.name == AS_FOUND else self.made


def study_of(tried: Sequence[Tried], want: Sequence[str] = (), keep: Sequence[str] = ()) -> Study:
    """A study of what was tried, as found first."""
    return Study(
        name="by hand",
        lamp=tried[0].lamp,
        variants=tuple(Variant(name=one.name, changes=one.changes, lamp=one.lamp) for one in tried),
        benches=tuple(dict.fromkeys(bench for one in tried for bench in one.benches)),
        conditions=Conditions(mains=(MainsCondition.read("nominal"), MainsCondition.read("+10 %"))),
        aim=Aims.model_validate({"want": tuple(want), "keep": tuple(keep)}),
    )


def finished(tried: Sequence[Tried]) -> list[FinishedCase]:
    """Every case of what was tried."""
    return [
        done_of(readings, lamp=one.lamp, bench=bench, variant=one.name)
        for one in tried
        for bench, readings in one.benches.items()
    ]


def answered(tried: Sequence[Tried], want: Sequence[str] = (), keep: Sequence[str] = ()) -> Answer:
    """What the variants come to."""
    study, done = study_of(tried, want, keep), finished(tried)
    return answer(study, Results(done), judge(study, done))


def screened(tried: Sequence[Tried], width: int, want: Sequence[str] = ()) -> list[str]:
    """Lines of the screen of what was tried."""
    study, done = study_of(tried, want), finished(tried)
    results = Results(done)
    return screen(study, results, answer(study, results, judge(study, done)), width)


def order(said: Answer) -> list[str]:
    """Names by rank."""
    return [one.candidate.name for one in said.ranked]
