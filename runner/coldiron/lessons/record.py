"""Running what a lesson runs: in a worker, with every vector at hand for its claims and strips."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

from coldiron.benches import steady, surge
from coldiron.benches.base import Case, Simulator
from coldiron.benches.cycle import Window
from coldiron.benches.steady_readings import steady_readings
from coldiron.benches.surge_readings import discs_of
from coldiron.engine.local_pool import LocalPool
from coldiron.engine.waves import Array, Waveforms
from coldiron.errors import NotApplicable, SimulationFailed
from coldiron.lamp.lamp import Lamp
from coldiron.lamp.load import load_lamp
from coldiron.lessons.model import Lesson, Run
from coldiron.strips.spread import Axis, joined
from coldiron.strips.vectors import vector
from coldiron.study.load import make_study
from coldiron.sweep import worker
from coldiron.sweep.cases import study_cases
from coldiron.sweep.worker import Work, run_work

RUN_DEADLINE_S = 120.0


@dataclass(frozen=True)
class Recorded:
    """One run of a lesson: its lamp, the whole run on its bench's clock, and its readings."""

    case: Case
    waves: Waveforms
    axis: Axis
    readings: Mapping[str, float | str]

    @cached_property
    def window(self) -> Window:
        """The whole run, as parts may be asked of it."""
        time_s = self.waves.time_s
        return Window(self.case.lamp, self.waves, float(time_s[0]), float(time_s[-1]))

    @property
    def lamp(self) -> Lamp:
        """The lamp that was run."""
        return self.case.lamp

    def vector(self, name: str) -> Array:
        """One vector of it by its name."""
        return vector(self.window, name)


@dataclass(frozen=True)
class _Task:
    case: Case
    warm: Case | None
    at: Mapping[str, str]


def case_of(lesson: Lesson, run: Run) -> Case:
    """Case of a run, as a study of the lesson's lamp would have it."""
    conditions: dict[str, Any] = {"surge_angle": [run.angle], "surge_polarity": [run.polarity]}
    if run.leakage:
        conditions["leakage"] = run.leakage
    variants = {"changed": run.change} if run.change else {}
    study = make_study(
        load_lamp(lesson.lamp), variants, benches=[run.bench], conditions=conditions, name="lesson"
    )
    return list(study_cases(study))[-1]


def record(lesson: Lesson, pool: LocalPool) -> dict[str, Recorded]:
    """Run everything that a lesson runs.

    Raises
    ------
    SimulationFailed
        If one of its runs gives no answer.
    FileProblems
        If its changes cannot be.
    """
    pending = {}
    for name, run in lesson.runs.items():
        case = case_of(lesson, run)
        warm = replace(case, bench="heat") if run.at else None
        pending[name] = pool.submit(take, _Task(case, warm, run.at), RUN_DEADLINE_S)
    return {name: each.result() for name, each in pending.items()}


def take(task: _Task) -> Recorded:
    """Run one case on the engine of this worker and keep all its vectors."""
    case = task.case
    if task.warm is not None:
        return _steady_at(case, task.warm, task.at)
    if case.bench == "surge":
        return _one_surge(case)
    [result] = run_work(Work((case,), keep_waves=True))
    if result.failure:
        raise SimulationFailed(result.failure.why, result.failure.last_words)
    if result.not_applicable or result.waves is None:
        raise NotApplicable(result.not_applicable or "nothing to show")
    return _recorded(case, result.waves, result.readings)


def _one_surge(case: Case) -> Recorded:
    """One surge with the varistor's disc that lets most through, as the live page draws it."""
    lab: Simulator = worker.fresh_lab()
    before = surge.settled(case, lab, case.conditions.operating_point())
    angle_deg, polarity = case.conditions.surge_angles_deg[0], case.conditions.surge_polarities[0]
    run = surge.fired(case, lab, before, angle_deg, polarity, discs_of(case.lamp)[0])
    runs = {
        label: {"time": waves.time_s, **waves.vectors}
        for label, waves in {"before": before.waves, "surge": run.window.waves}.items()
    }
    return _recorded(case, runs, run.readings)


def _steady_at(case: Case, warm: Case, at: Mapping[str, str]) -> Recorded:
    """A settled cycle at temperatures that no lamp has: one cause at a time."""
    [hot] = run_work(Work((warm,)))
    if not isinstance(hot.readings.get("string_C"), float):
        raise SimulationFailed("the lamp finds no settled state")
    lab: Simulator = worker.fresh_lab()
    point = case.conditions.operating_point()
    string_c, die_c = float(hot.readings["string_C"]), float(hot.readings["sink_die_C"])
    point = replace(
        point,
        string_c=string_c if at.get("string") == "warm" else point.string_c,
        die_c=die_c if at.get("dies") == "warm" else point.die_c,
    )
    run = steady.settled(case, lab, point)
    runs = {"steady": {"time": run.waves.time_s, **run.waves.vectors}}
    return _recorded(case, runs, steady_readings(case.lamp, point, run))


def _recorded(
    case: Case, runs: Mapping[str, Mapping[str, Array]], readings: Mapping[str, float | str]
) -> Recorded:
    waves, axis = joined(case, runs)
    plain = {key: value if isinstance(value, str) else float(value) for key, value in readings.items()}
    return Recorded(case, waves, axis, plain)
