"""Bridged LEDs as cases: the lamp with none, one, two ... of every row bridged, settled and in its surge."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from coldiron.benches.base import Case, TestConditions
from coldiron.benches.stress import ratings
from coldiron.faults.bridged import MOST_BRIDGED, Bridged
from coldiron.lamp.lamp import Lamp
from coldiron.study.model import default_surge_level_v
from coldiron.sweep.faults import number_of
from coldiron.sweep.run import FinishedCase

LEAST_LIGHT_RATIO = 0.9
"""Light below which a person sees that something is wrong (our choice)."""


@dataclass(frozen=True)
class BridgedStep:
    """A lamp with so many LEDs of every row bridged: what it reads, and what closed forms say.

    `surge_over` names the part that a surge takes over its rating, empty where none is, None where the lamp
    has no surge to stand.
    """

    bridged: int
    sink_w: float
    sink_closed_w: float
    light_ratio: float
    light_closed_ratio: float
    surge_margin_pct: float | None
    surge_part: str


@dataclass(frozen=True)
class BridgedLamp:
    """All steps of a lamp, and how many may be bridged before each bound is passed (None: all tried)."""

    steps: tuple[BridgedStep, ...]
    sink_most_w: float
    for_sinks: int | None
    for_sinks_closed: int
    for_light: int | None
    for_surge: int | None


def bridged_cases(lamp: Lamp, conditions: TestConditions, study: str) -> list[Case]:
    """Cases of a lamp with none to some LEDs of every row bridged; none where it has no string of its own."""
    string: Any = getattr(lamp, "string", None)
    if string is None or string.series < 2 or not lamp.circuit.regulators:
        return []
    most = min(string.series - 1, MOST_BRIDGED)
    level_v = default_surge_level_v(lamp)
    cases = []
    for number in range(most + 1):
        own = lamp.model_copy(update={"string": string.model_copy(update={"series": string.series - number})})
        exposed = TestConditions(
            conditions.voltage_v, conditions.frequency_hz, conditions.ambient_c, surge_level_v=level_v
        )
        for bench in ("steady", "surge") if level_v else ("steady",):
            cases.append(Case(study, f"{number} bridged", own, bench, exposed))
    return cases


def bridged_lamp(lamp: Lamp, done: Sequence[FinishedCase]) -> BridgedLamp | None:
    """What came of the cases; None where the whole lamp gave no answer."""
    steady = [one for one in done if one.case.bench == "steady"]
    surges = {one.case.variant: one for one in done if one.case.bench == "surge"}
    if not steady or not steady[0].result.readings:
        return None
    was = steady[0].result.readings
    [sink, *_] = lamp.circuit.regulators
    string: Any = lamp.string  # type: ignore[attr-defined]
    peak_v = 2**0.5 * steady[0].case.conditions.voltage_v
    closed = Bridged(
        string.series,
        string.voltage_v(lamp.lit_a) / string.series,
        peak_v,
        number_of(was, "led_current_A"),
        lamp.circuit.is_smoothed,
    )
    count = sum(one.count for one in lamp.circuit.regulators)
    steps = []
    for number, one in enumerate(steady):
        r = one.result.readings
        if not r:
            break
        surge = surges.get(one.case.variant)
        margin_pct, part = _surge_margin(surge)
        light = number_of(r, "light_A") * (string.series - number) / string.series
        steps.append(
            BridgedStep(
                number,
                number_of(r, "sink_worst_W"),
                number_of(was, "sink_worst_W") + closed.sinks_more_w(number) / count,
                light / number_of(was, "light_A") if number_of(was, "light_A") else 0.0,
                closed.light_ratio(number),
                margin_pct,
                part,
            )
        )
    room_w = count * (sink.each_power_w - number_of(was, "sink_worst_W"))
    return BridgedLamp(
        tuple(steps),
        sink.each_power_w,
        _most([step.sink_w <= sink.each_power_w for step in steps]),
        closed.most_for_sinks(room_w) if room_w >= 0.0 else -1,
        _most([step.light_ratio >= LEAST_LIGHT_RATIO for step in steps]),
        _most([step.surge_margin_pct is None or step.surge_margin_pct >= 0.0 for step in steps]),
    )


def _surge_margin(one: FinishedCase | None) -> tuple[float | None, str]:
    """Least margin of a part to its rating in a surge [%], and that part."""
    if one is None or not one.result.readings:
        return None, ""
    held = ratings(one.case.lamp, one.result.readings, one.case.conditions.frequency_hz)
    if not held:
        return None, ""
    worst = min(held, key=lambda rated: rated.margin_pct(one.result.readings))
    return worst.margin_pct(one.result.readings), worst.part


def _most(kept: Sequence[bool]) -> int | None:
    """How many steps in a row keep a bound: -1 where the whole lamp does not, None where all do.

    Examples
    --------
    >>> _most([True, True, False]), _most([False]), _most([True])
    (1, -1, None)
    """
    for number, one in enumerate(kept):
        if not one:
            return number - 1
    return None
