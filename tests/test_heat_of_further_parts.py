"""Thermistors and thermal cut-outs in the heat loop: against their fixed point and against closed forms."""

from __future__ import annotations

import math
from typing import Any

import pytest
from scipy.optimize import brentq

from coldiron.heat.network import Network
from coldiron.heat.outcomes import BLINKS
from coldiron.heat.own_seats import settled_c
from coldiron.heat.shut_off import BOARD, ShutOff, heat_switches
from coldiron.lamp.body import HeatPath
from coldiron.lamp.further import FurtherPart
from coldiron.lamp.topologies.linear_sinks import LinearSinksLamp as Lamp
from coldiron.parts.thermal_cutout import ThermalCutoutValues
from coldiron.parts.thermistor import Thermistor, ThermistorValues
from heat_rig import averages
from judging import judged
from laboratory import Laboratory, case_of, changed
from lamps import load_lamp, plain_lamp, reservoir

B_K, LOSS_W_PER_K, HEAT_J_PER_K = 2800.0, 0.006, 0.12


def thermistor(r25_ohm: float, heat_j_per_k: float = HEAT_J_PER_K) -> FurtherPart:
    values = ThermistorValues(
        r25_ohm=r25_ohm, beta_k=B_K, loss_w_per_k=LOSS_W_PER_K, heat_j_per_k=heat_j_per_k
    )
    return FurtherPart(name="NTC1", kind="thermistor", way="after", where="line_fusing", values=values)


def cut_out(opens_c: float, closes_c: float) -> FurtherPart:
    values = ThermalCutoutValues(opens_at_c=opens_c, closes_at_c=closes_c)
    return FurtherPart(name="TC1", kind="thermal cut-out", way="after", where="line_fusing", values=values)


def fitted(lamp: Lamp, *parts: FurtherPart) -> Lamp:
    return lamp.model_copy(update={"further": parts})


@pytest.mark.ngspice
def test_a_thermistor_in_a_lamp_stands_at_its_fixed_point(laboratory: Laboratory) -> None:
    # Fixed point of T = Tb + I² R25 exp(B (1/T - 1/298.15)) / δ, solved here from the run's r.m.s. current.
    lamp = fitted(load_lamp("pantry-bulb"), thermistor(47.0))
    readings = laboratory.readings(lamp, "heat")
    board_c, rms_a = readings["board_C"], readings["NTC1_rms_A"]

    def ohm(at_c: float) -> float:
        return 47.0 * math.exp(B_K * (1.0 / (273.15 + at_c) - 1.0 / 298.15))

    expected_c = brentq(lambda c: board_c + rms_a**2 * ohm(c) / LOSS_W_PER_K - c, board_c, 300.0)
    assert expected_c > board_c + 1.0
    assert readings["NTC1_C"] == pytest.approx(expected_c, abs=0.1)
    assert readings["NTC1_W"] == pytest.approx(rms_a**2 * ohm(expected_c), rel=2e-3)
    # Its watts warm the board as well: what goes in comes out as heat or light.
    bare = laboratory.readings(fitted(lamp), "heat")
    assert readings["board_C"] != bare["board_C"]


@pytest.mark.ngspice
def test_a_warm_thermistor_lets_through_what_its_warm_resistance_lets_through(laboratory: Laboratory) -> None:
    # A lamp with a reservoir; the same inrush with a plain resistor of the resistance at that temperature.
    bulb = changed(load_lamp("pantry-bulb"), reservoir=reservoir(10e-6))
    cold = laboratory.readings(fitted(bulb, thermistor(47.0)), "switch-on")["inrush_peak_A"]
    warm = laboratory.readings(fitted(bulb, thermistor(47.0)), "heat")
    assert cold < 0.95 * warm["inrush_restruck_A"]
    assert warm["inrush_restruck_A"] <= warm["inrush_warm_A"]
    ohm = 47.0 * math.exp(B_K * (1.0 / (273.15 + warm["NTC1_C"]) - 1.0 / 298.15))
    assert bulb.line_fusing is not None
    plain = changed(bulb, line_fusing={"resistance_ohm": bulb.line_fusing.resistance_ohm + ohm})
    # The inrush itself warms it by a few kelvin more, and a fusing resistor has an inductance of its own.
    assert warm["inrush_warm_A"] == pytest.approx(
        laboratory.readings(plain, "switch-on")["inrush_peak_A"], rel=0.05
    )
    # One of a tenth of the heat capacity has cooled to its board in that second.
    light = laboratory.readings(fitted(bulb, thermistor(47.0, HEAT_J_PER_K / 10.0)), "heat")
    assert light["NTC1_C"] == pytest.approx(warm["NTC1_C"], abs=0.1)
    assert light["inrush_restruck_A"] < warm["inrush_restruck_A"] - 0.01


def test_across_the_mains_a_thermistor_that_gains_faster_than_it_loses_runs_away() -> None:
    # At a fixed voltage V its watts V²/R grow with its temperature: no balance where B V²/(R δ T²) > 1.
    values = ThermistorValues(r25_ohm=1000.0, beta_k=B_K, loss_w_per_k=LOSS_W_PER_K)
    across, in_a_rail = (Thermistor("NTC1", ("a", "b"), values, seat=seat) for seat in ("shunt", "series"))
    assert settled_c(across, 25.0, 1.0, 25.0) == 300.0
    assert 25.0 < settled_c(in_a_rail, 25.0, 1.0, 25.0) < 25.0 + 1.0 / LOSS_W_PER_K


@pytest.mark.parametrize("hysteresis_k", [10.0, 30.0])
@pytest.mark.parametrize("over", [1.2, 2.0])
def test_a_board_that_warms_alone_blinks_at_its_closed_form(hysteresis_k: float, over: float) -> None:
    # Closed form as for dies: one heat capacity C behind one resistance R to a housing that stays cold.
    ohm, capacity, opens_c, ambient_c = 5.0, 80.0, 105.0, 25.0
    heat = HeatPath(
        die_to_board_k_per_w=0.1, die_j_per_k=1e-3, string_to_board_k_per_w=0.01, string_j_per_k=1e-3,
        board_j_per_k=capacity, board_to_housing_k_per_w=ohm, housing_to_ambient_k_per_w=0.01,
        housing_j_per_k=1e5,
    )  # fmt: skip
    lamp = changed(plain_lamp(heat=heat), string={"radiant_ratio": 0.0})
    lamp = fitted(lamp, cut_out(opens_c, opens_c - hysteresis_k))
    [switch] = heat_switches(lamp)
    assert switch == (BOARD, opens_c, opens_c - hysteresis_k)
    watts = over * (opens_c - ambient_c) / ohm
    cycle = ShutOff(Network(lamp, ambient_c), lambda d, s: averages(others_w=watts), averages(), switch)
    first, rhythm = cycle.first(), cycle.rhythm()
    assert first is not None
    assert rhythm is not None
    tau_s, far_c, on_c = ohm * capacity, ambient_c + ohm * watts, opens_c - hysteresis_k
    assert first.length_s == pytest.approx(
        tau_s * math.log((far_c - ambient_c) / (far_c - opens_c)), rel=0.01
    )
    assert rhythm.lit.length_s == pytest.approx(
        tau_s * math.log((far_c - on_c) / (far_c - opens_c)), rel=0.01
    )
    assert rhythm.dark.length_s == pytest.approx(
        tau_s * math.log((opens_c - ambient_c) / (on_c - ambient_c)), rel=0.01
    )
    assert rhythm.hottest.board_c == pytest.approx(opens_c, abs=1e-3)


@pytest.mark.ngspice
def test_a_cut_out_on_a_hot_board_makes_a_lamp_blink_and_says_so(laboratory: Laboratory) -> None:
    flood = load_lamp("kerbside-flood")
    board_c = laboratory.readings(flood, "heat")["board_C"]
    lamp = fitted(flood, cut_out(board_c - 10.0, board_c - 25.0))
    [found] = laboratory.take(case_of(lamp, "heat"))
    readings: dict[str, Any] = dict(found.readings)
    assert readings["heat_outcome"] == BLINKS
    assert readings["board_C"] == pytest.approx(board_c - 10.0, abs=0.1)
    assert 0.0 < readings["blink_lit_pct"] < 100.0
    [verdict] = [v for v in judged(readings, lamp=lamp, bench="heat") if v.clause == "TC1.opens_at"]
    assert verdict.verdict == "over"
    # Well above what the board ever reaches it changes nothing.
    idle = laboratory.readings(fitted(flood, cut_out(board_c + 30.0, board_c + 10.0)), "heat")
    assert idle["heat_outcome"] == "settled"
    assert idle["board_C"] == pytest.approx(board_c, abs=0.2)
