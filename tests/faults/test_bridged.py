"""Bridged LEDs: the closed forms against an integration and against the lamp."""

from __future__ import annotations

import math

import numpy as np
import pytest

from coldiron.faults.bridged import Bridged
from coldiron.lamp.load import load_lamp
from coldiron.sweep.bridged import bridged_cases, bridged_lamp
from coldiron.sweep.run import FinishedCase
from coldiron.tables.bridged import bridged_lines
from laboratory import Laboratory, case_of

FLOOD = Bridged(27, 9.1, 325.0, 0.154, False)


@pytest.mark.parametrize("bridged", [0, 1, 5])
def test_the_closed_forms_are_the_integral_over_the_sine(bridged: int) -> None:
    """(v - V)·I while v is above V, summed point by point."""
    sine_v = 325.0 * np.sin(np.linspace(0.0, math.pi, 200001))
    held_a = 0.154 / FLOOD.conducting(0)
    string_v = (27 - bridged) * 9.1
    lit = sine_v > string_v
    assert FLOOD.conducting(bridged) == pytest.approx(float(lit.mean()), abs=1e-4)
    taken_w = float(np.mean(np.where(lit, (sine_v - string_v) * held_a, 0.0)))
    assert FLOOD._sinks_w(bridged) == pytest.approx(taken_w, rel=1e-3)


def test_a_smoothed_lamp_leaves_each_led_its_volts_times_the_mean_current() -> None:
    smoothed = Bridged(80, 3.0, 325.0, 0.06, True)
    assert smoothed.sinks_more_w(2) == pytest.approx(2 * 3.0 * 0.06)
    assert smoothed.most_for_sinks(0.54 + 1e-9) == 3


@pytest.mark.parametrize("name", ["kerbside-flood", "pantry-bulb"])
def test_the_lamp_keeps_to_the_closed_forms(name: str, laboratory: Laboratory) -> None:
    """The watts of a sink within 8 % of its rating; how many it stands within one."""
    lamp = load_lamp(name)
    conditions = case_of(lamp, "steady").conditions
    cases = [case for case in bridged_cases(lamp, conditions, "test") if case.bench == "steady"][:7]
    done = [FinishedCase(case, laboratory.take(case)[0]) for case in cases]
    found = bridged_lamp(lamp, done)
    assert found is not None
    for step in found.steps:
        assert step.sink_w == pytest.approx(step.sink_closed_w, abs=0.08 * found.sink_most_w), step
        assert step.light_ratio == pytest.approx(step.light_closed_ratio, abs=0.06), step
    assert found.for_sinks is not None
    assert abs(found.for_sinks - found.for_sinks_closed) <= 1
    lines = bridged_lines(found)
    assert any("closed form" in line for line in lines)
    assert max(map(len, lines)) <= 100


def test_a_lamp_without_regulators_has_nothing_to_leave_the_volts_to() -> None:
    lamp = load_lamp("landing-candle")
    assert bridged_cases(lamp, case_of(lamp, "steady").conditions, "test") == []
