"""Random faults of random lamps: every one has an end, in one of few words, and breaks no law of physics."""

from __future__ import annotations

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from coldiron.answer.final_state import WORDS, final_state
from coldiron.benches.base import Case
from coldiron.faults import Fault, single_faults
from coldiron.sweep.faults import Followed
from coldiron.sweep.run import FinishedCase
from laboratory import Laboratory, case_of
from lamps import lamps


def _one(data: st.DataObject, laboratory: Laboratory) -> Followed:
    lamp = data.draw(lamps())
    fault: Fault = data.draw(st.sampled_from(single_faults(lamp)))
    healthy, faulty = (case_of(one, "fault") for one in (lamp, fault.applied(lamp)))
    done = [FinishedCase(case, laboratory.take(case)[0]) for case in (healthy, faulty)]
    return Followed("as found", fault, done[1], done[0])


def _holds(found: Followed) -> None:
    state = final_state(found)
    assert state.word in WORDS[:-1], found.fault.name
    case: Case = found.done.case
    readings = found.readings
    # The mains gives no more than it has into nothing but its own resistance.
    most_a = math.sqrt(2.0) * case.conditions.voltage_v / case.lamp.mains.resistance_ohm
    lost = ("supply", "neutral lost") in found.fault.pairs
    assert found.number("fault_peak_A") <= (2.1 if lost else 1.05) * most_a
    balance_w = 0.01 * found.number("power_balance_pct") * found.number("input_power_W")
    assert abs(balance_w) < 2e-3 + 0.01 * abs(found.number("input_power_W")), found.fault.name
    if "end_opens_fast_s" in readings:
        fast_s, slow_s = state.opens_s
        assert 0.0 < fast_s <= slow_s
        assert readings["end_opened"] != "nothing"
    if found.number("end_light_A") > 0.02 * float(found.was["end_light_A"]):
        assert "live_this" not in readings or ("supply", "neutral switched") in found.fault.pairs


@settings(max_examples=12)
@given(st.data())
def test_a_random_fault_of_a_random_lamp_has_an_end(laboratory: Laboratory, data: st.DataObject) -> None:
    _holds(_one(data, laboratory))


@pytest.mark.slow
@settings(max_examples=300)
@given(st.data())
def test_many_random_faults_have_an_end(laboratory: Laboratory, data: st.DataObject) -> None:
    _holds(_one(data, laboratory))
