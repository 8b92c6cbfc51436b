"""Hard thermal shut-off: the slow blink against closed forms, a matrix exponential, and real runs."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.linalg import expm

from coldiron.answer.candidate import Candidate
from coldiron.heat.network import Network
from coldiron.heat.outcomes import BLINKS, STAYS_DARK
from coldiron.heat.shut_off import ShutOff, blink
from coldiron.lamp.body import HeatPath
from coldiron.lamp.topologies.linear_sinks import LinearSinksLamp as Lamp
from coldiron.tables.variants import _worst_use
from heat_rig import FakeCircuit, averages
from judging import judged
from laboratory import Laboratory, case_of, changed
from lamps import load_lamp, plain_lamp

STIFF = {
    "string_to_board_k_per_w": 0.01, "board_to_housing_k_per_w": 0.01, "housing_to_ambient_k_per_w": 0.01,
    "board_j_per_k": 1e4, "housing_j_per_k": 1e4,
}  # fmt: skip


def lamp_of(heat: dict[str, Any], **sinks: Any) -> Lamp:
    lamp = plain_lamp(heat=HeatPath(**heat))
    return changed(lamp, string={"radiant_ratio": 0.0}, sinks={"foldback_slope_per_k": 0.0, **sinks})


@settings(max_examples=20, deadline=None)
@given(
    ohm=st.floats(20.0, 60.0),
    capacity=st.floats(0.02, 1.0),
    over=st.floats(1.1, 3.0),
    hysteresis=st.floats(5.0, 60.0),
    count=st.integers(1, 4),
)
def test_dies_on_a_board_that_stays_cold_blink_at_their_closed_form(
    ohm: float, capacity: float, over: float, hysteresis: float, count: int
) -> None:
    # Closed form, one heat capacity behind one resistance: lit τ ln((T∞ - Ton)/(T∞ - Toff)), dark
    # τ ln((Toff - Ta)/(Ton - Ta)), first τ ln((T∞ - Ta)/(T∞ - Toff)); τ = R C of one die, T∞ = Ta + R P.
    off, ambient = 135.0, 25.0
    lamp = lamp_of(
        {**STIFF, "die_to_board_k_per_w": ohm, "die_j_per_k": capacity},
        count=count, shut_off_c=off, restart_c=off - hysteresis,
    )  # fmt: skip
    each_w = over * (off - ambient) / ohm
    far, on, tau = ambient + ohm * each_w, off - hysteresis, ohm * capacity
    sinks = ShutOff(Network(lamp, ambient), lambda d, s: averages(sinks_w=count * each_w), averages())
    first, rhythm = sinks.first(), sinks.rhythm()
    assert first is not None
    assert rhythm is not None
    # The board is not quite cold: up to 0.03 K a watt, of some hundred kelvin.
    assert first.length_s == pytest.approx(tau * math.log((far - ambient) / (far - off)), rel=0.05)
    lit_s, dark_s = (tau * math.log(r) for r in ((far - on) / (far - off), (off - ambient) / (on - ambient)))
    assert rhythm.lit.length_s == pytest.approx(lit_s, rel=0.05)
    assert rhythm.dark.length_s == pytest.approx(dark_s, rel=0.05)
    assert rhythm.period_s == pytest.approx(lit_s + dark_s, rel=0.05)
    assert rhythm.hottest.die_c == pytest.approx(off, abs=1e-4)


def test_the_typical_hysteresis_is_30_kelvin() -> None:
    # A maker's table of a 100 mA part: off at 135 °C, back at 105 °C.
    lamp = lamp_of(STIFF, shut_off_c=135.0)
    assert lamp.sinks.restarts_c == 105.0
    rhythm = ShutOff(Network(lamp, 25.0), lambda d, s: averages(sinks_w=40.0), averages()).rhythm()
    assert rhythm is not None
    assert np.ptp(rhythm.lit.nodes_c[0]) == pytest.approx(30.0, abs=1e-3)


def test_the_rhythm_is_where_the_whole_network_ends_by_itself() -> None:
    # Independent: the network written once more as dx/dt = A x + B u, stepped by its matrix exponential from
    # cold through hundreds of shut-offs, until they repeat.
    heat = {
        "die_to_board_k_per_w": 18.0, "string_to_board_k_per_w": 0.7, "board_to_housing_k_per_w": 0.9,
        "housing_to_ambient_k_per_w": 1.6, "die_j_per_k": 0.3, "string_j_per_k": 3.0, "board_j_per_k": 6.0,
        "housing_j_per_k": 20.0,
    }  # fmt: skip
    lamp = lamp_of(heat, count=2, shut_off_c=110.0, restart_c=90.0)
    lit_w, ambient, step_s = np.array([6.0, 20.0, 1.0, 0.0]), 25.0, 2e-3
    capacity = np.array([2 * 0.3, 3.0, 6.0, 20.0])
    g = np.zeros((4, 4))
    for a, b, conductance in ((0, 2, 2 / 18.0), (1, 2, 1 / 0.7), (2, 3, 1 / 0.9)):
        g[[a, b], [a, b]] -= conductance
        g[[a, b], [b, a]] += conductance
    g[3, 3] -= 1 / 1.6
    matrix = g / capacity[:, None]
    forward = expm(matrix * step_s)
    settled = np.linalg.solve(-matrix, lit_w / capacity)
    rise, lit, times = np.zeros(4), True, []
    for n in range(300_000):
        rise = forward @ (rise - settled * lit) + settled * lit
        if (lit and rise[0] >= 85.0) or (not lit and rise[0] <= 65.0):
            lit = not lit
            times.append(n * step_s)
    lasted = np.diff(times)[-2:]
    lit_s, dark_s = lasted if lit else lasted[::-1]
    sinks = ShutOff(
        Network(lamp, ambient), lambda d, s: averages(sinks_w=6.0, string_w=20.0, others_w=1.0), averages()
    )
    rhythm = sinks.rhythm()
    assert rhythm is not None
    assert rhythm.lit.length_s == pytest.approx(lit_s, abs=0.01)
    assert rhythm.dark.length_s == pytest.approx(dark_s, abs=0.01)
    # Law: over a period no heat stays anywhere, so the mean rise of each node is that of the mean heat.
    mean_w = rhythm.lit_ratio * lit_w
    expected = ambient + np.linalg.solve(-g, mean_w)
    seen = [
        (rhythm.lit.mean(a) * rhythm.lit.length_s + rhythm.dark.mean(b) * rhythm.dark.length_s)
        / rhythm.period_s
        for a, b in zip(rhythm.lit.nodes_c, rhythm.dark.nodes_c, strict=True)
    ]
    assert seen == pytest.approx(expected.tolist(), abs=0.05)


def test_sinks_that_never_cool_to_the_restart_stay_dark() -> None:
    # A room of 60 °C and a restart at 50 °C: nothing cools below its room.
    lamp = lamp_of({}, shut_off_c=90.0, restart_c=50.0)
    circuit = FakeCircuit(lamp, lambda d, s: averages(sinks_w=30.0))
    found = blink(Network(lamp, 60.0), circuit.at, lambda s: averages(), [circuit.at(60.0, 60.0)])
    assert found is not None
    assert (found.outcome, found.rhythm) == (STAYS_DARK, None)


def test_a_lamp_that_stays_below_its_shut_off_is_left_to_the_balance() -> None:
    lamp = lamp_of({}, shut_off_c=200.0)
    circuit = FakeCircuit(lamp, lambda d, s: averages(sinks_w=6.0, string_w=20.0))
    assert blink(Network(lamp, 25.0), circuit.at, lambda s: averages(), [circuit.at(25.0, 25.0)]) is None


def test_power_that_grows_warm_is_looked_up_where_it_is_burnt() -> None:
    # Foreseen from the cold run alone the lit stretch would be too long: power rises by 1 % a kelvin.
    lamp = lamp_of({}, count=1, shut_off_c=100.0)
    circuit = FakeCircuit(lamp, lambda d, s: averages(sinks_w=4.0 * (1 + 0.01 * (s - 25.0)), string_w=20.0))
    found = blink(Network(lamp, 25.0), circuit.at, lambda s: averages(), [circuit.at(25.0, 25.0)])
    assert found is not None
    assert found.rhythm is not None
    middle = found.rhythm.lit
    string_c = middle.mean(middle.nodes_c[1])
    assert found.lit(middle.mean(middle.nodes_c[0]), string_c).sinks_w == pytest.approx(
        4.0 * (1 + 0.01 * (string_c - 25.0)), rel=2e-3
    )


@pytest.mark.parametrize(
    ("outcome", "said"),
    [(BLINKS, "blinks"), (STAYS_DARK, "shuts off"), ("thermal runaway", "runs away")],
)
def test_a_table_says_what_a_lamp_without_balance_does(outcome: str, said: str) -> None:
    one = Candidate(0, "as found", plain_lamp(), words={"heat_outcome": outcome}, runs_away=True)
    assert _worst_use(one) == said


@pytest.mark.ngspice
def test_a_lamp_that_blinks_claims_no_settled_state(laboratory: Laboratory) -> None:
    lamp = changed(load_lamp("pantry-bulb"), sinks={"shut_off_c": 85.0, "restart_c": 70.0})
    [found] = laboratory.take(case_of(lamp, "heat"), keep_waves=True)
    readings: dict[str, Any] = dict(found.readings)
    assert readings["heat_outcome"] == "thermal shut-off and restart, a slow blink"
    for settled in (
        "settle_min",
        "sink_die_C",
        "input_power_W",
        "svm",
        "light_60C_to_minus10C_pct",
    ):
        assert settled not in readings
    assert readings["sink_die_worst_C"] == pytest.approx(85.0, abs=1e-3)
    assert readings["die_swing_K"] == pytest.approx(15.0, abs=1e-3)
    # The light comes and goes: no less than 30 K below the junctions of the lit lamp it keeps 95 %.
    assert 0.9 < readings["light_hot_pct"] / readings["blink_lit_pct"] < 1.0
    waves = found.waves
    assert waves is not None
    way = waves["warm-up"]
    dark = way["light_A"] < 1e-6
    assert dark.any()
    assert way["input_W"][dark].max() < 0.05 < 5.0 < way["input_W"][~dark].min()
    assert (np.diff(way["time"]) >= 0.0).all()
    # What follows the first shut-off goes on from there: no node jumps.
    assert np.abs(np.diff(way["die_C"])).max() < 5.0
    assert np.abs(np.diff(way["housing_C"])).max() < 1.5
    # A lamp that goes dark is inside no limit: its dies reach what the chips do not stand for long.
    [verdict] = [v for v in judged(readings, lamp=lamp, bench="heat") if v.clause == "sinks.shut_off"]
    assert verdict.verdict == "over"
    # Off, the deck holds the gates down and the whole bus on the drains.
    assert "shut off" in found.decks


@pytest.mark.ngspice
def test_a_shut_off_out_of_reach_changes_nothing(laboratory: Laboratory) -> None:
    bulb = load_lamp("pantry-bulb")
    plain = laboratory.readings(bulb, "heat")
    far = laboratory.readings(changed(bulb, sinks={"shut_off_c": 160.0}), "heat")
    assert set(far) == set(plain)
    assert far["heat_outcome"] == "settled"
    assert far["sink_die_C"] == pytest.approx(plain["sink_die_C"], abs=0.1)
