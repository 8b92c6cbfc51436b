"""The bench "heat" on real ngspice runs: balance, warm-up and rooms held to each other and to direct runs."""

from __future__ import annotations

import math
from typing import Any

import pytest

from coldiron.study.load import load_study
from coldiron.study.surroundings import Surroundings
from coldiron.sweep.results import Results
from coldiron.sweep.run import FinishedCase
from coldiron.tables.tidy import wide
from heat_rig import all_rooms, cold_start, settle
from laboratory import Laboratory, case_of, changed
from lamps import load_lamp, plain_lamp, reservoir
from wide_lamps import wide_lamp

pytestmark = pytest.mark.ngspice

HOT_LAMPS = {
    "no reservoir": (plain_lamp(), 25.0),
    "folding back": (changed(load_lamp("kerbside-flood"), reservoir=reservoir(47e-6)), 25.0),
    "hot room": (changed(load_lamp("pantry-bulb"), reservoir=reservoir(10e-6)), 45.0),
    "geometry": (changed(load_lamp("kerbside-flood"), heat={"housing_area_m2": 0.05}), 25.0),
}


@pytest.mark.parametrize("name", HOT_LAMPS)
def test_balance_holds_and_ends_the_warm_up(laboratory: Laboratory, name: str) -> None:
    lamp, ambient_c = HOT_LAMPS[name]
    case = case_of(lamp, "heat", ambient_c=ambient_c)
    found, along = laboratory.call(settle, case)
    at, power = found.temperatures, found.averages
    assert found.outcome == "settled"
    # A fixed point that takes ten is too slow (3.4 on average over 90 lamps and rooms).
    assert found.runs <= 6
    # Equilibrium is the end of the warm-up within 0.2 K.
    assert max(abs(a - b) for a, b in zip(found.warm_up.end, at, strict=True)) < 0.2
    # Closed form: resistance times power, with the powers of the last run.
    heat_w = power.sinks_w + power.others_w + power.string_w * (1 - lamp.string.radiant_ratio)
    assert at.die_c - at.board_c == pytest.approx(
        lamp.heat.die_to_board_k_per_w / lamp.sinks.count * power.sinks_w, abs=1e-6
    )
    assert at.board_c - at.housing_c == pytest.approx(lamp.heat.board_to_housing_k_per_w * heat_w, abs=1e-6)
    # A run from nothing at the reported temperatures takes the reported power.
    assert laboratory.call(cold_start, case, at.die_c, at.string_c) == pytest.approx(power.input_w, rel=1e-3)
    # On the way the interpolated power is that of direct runs.
    assert along == pytest.approx([1.0] * 3, rel=5e-3)


def test_rooms_between_follow_from_the_ends(laboratory: Laboratory) -> None:
    lamp = changed(load_lamp("kerbside-flood"), reservoir=reservoir(22e-6))
    swept, alone = laboratory.call(all_rooms, case_of(lamp, "heat"))
    assert None not in swept
    standing = [room for room in swept if room is not None]
    dies = [room[0].die_c for room in standing]
    lights = [room[1].light_a for room in standing]
    # A warmer room makes a warmer lamp, and a dimmer one: the string droops and the sinks fold back.
    assert dies == sorted(dies)
    assert lights == sorted(lights, reverse=True)
    for room, direct in zip((standing[2], standing[5]), alone, strict=True):
        assert room[0].die_c == pytest.approx(direct.temperatures.die_c, abs=0.3)
        assert room[1].light_a == pytest.approx(direct.averages.light_a, rel=0.01)


def test_readings_hot_stand_beside_those_cold(laboratory: Laboratory) -> None:
    lamp = changed(load_lamp("kerbside-flood"), reservoir=reservoir(22e-6, ripple_current_a=0.2))
    cases = [case_of(lamp, "steady"), case_of(lamp, "heat", rooms_c=(-10.0, 25.0, 60.0))]
    results = laboratory.take(*cases, keep_waves=True)
    cold: dict[str, Any] = dict(results[0].readings)
    hot_readings: dict[str, Any] = dict(results[1].readings)
    assert set(cold) <= set(hot_readings)
    assert hot_readings["heat_outcome"] == "settled"
    # Heat lowers the forward voltage, so the sinks take more of the same current.
    assert hot_readings["sinks_W"] > cold["sinks_W"]
    assert abs(hot_readings["power_balance_pct"]) < 0.5
    # Reported margins and life are those of the reported temperatures (rule of ten kelvin; core rise 5 K at
    # rated ripple, common practice).
    ripple = hot_readings["reservoir_ripple_A"] / (0.2 * 0.95)
    core = hot_readings["board_C"] + 5.0 * ripple**2
    assert hot_readings["reservoir_core_C"] == pytest.approx(core)
    assert hot_readings["reservoir_life_h"] == pytest.approx(2000.0 * 2 ** ((110.0 - core) / 10))
    assert hot_readings["string_margin_K"] == pytest.approx(125.0 - hot_readings["string_C"])
    assert hot_readings["foldback_pct"] == pytest.approx(
        max(0.0, 1.5 * (hot_readings["sink_die_C"] - 120.0)), abs=0.01
    )
    waves = results[1].waves
    assert waves is not None
    assert waves["warm-up"]["time"][0] == 0.0
    assert waves["warm-up"]["die_C"][0] == 25.0
    assert waves["ambient sweep"]["time"].tolist() == [-10.0, 25.0, 60.0]
    found = Results([FinishedCase(c, f) for c, f in zip(cases, results, strict=True)])
    row = wide(found).iloc[0]
    assert row["steady", "input_power_W"] == cold["input_power_W"]
    assert row["heat", "input_power_W"] == hot_readings["input_power_W"]
    assert row["heat", "light_pct"] == 100.0
    assert row["steady", "light_pct"] == pytest.approx(100 * (cold["light_A"] / hot_readings["light_A"]))


def test_a_closed_fitting_and_a_hot_room_make_it_hotter(laboratory: Laboratory) -> None:
    lamp = plain_lamp()
    closed = Surroundings.read("closed fitting")
    dies = [
        laboratory.readings(lamp, "heat", **conditions)["housing_C"]
        for conditions in (
            {},
            {"surroundings": closed.label, "fitting_k_per_w": closed.fitting_k_per_w(lamp)},
            {"surroundings": "hot room 45 °C", "ambient_c": 45.0},
        )
    ]
    # Closed form: the fitting's resistance times the heat, 25 K at rated power (30 W); the room's 20 K.
    assert 0.3 * 25.0 < dies[1] - dies[0] < 25.0
    assert dies[2] - dies[0] == pytest.approx(20.0, abs=1.5)


def test_runaway_is_an_outcome_and_not_a_failure(laboratory: Laboratory) -> None:
    # 100 K/W and no foldback: no balance below 300 °C.
    lamp = changed(
        plain_lamp(), heat={"housing_to_ambient_k_per_w": 100.0}, sinks={"foldback_slope_per_k": 0.0}
    )
    results = laboratory.take(case_of(lamp, "steady"), case_of(lamp, "heat"))
    cold, readings = (dict(f.readings) for f in results)
    # The hottest run can be printed and run by hand.
    assert list(results[1].decks) == ["heat"]
    assert readings["heat_outcome"] == "thermal runaway"
    # Closed form with the heat of the cold lamp and all capacities as one: t = -RC ln(1 - 275 K / (R P)).
    # The dies pass first, some 40 K ahead of the housing, and the power grows on the way.
    heat_w = float(cold["input_power_W"]) - 0.3 * float(cold["string_W"])
    capacity = 400.0 + 60.0 + 2.0 + 3 * 0.05
    lumped_s = -100.6 * capacity * math.log(1 - 275.0 / (100.6 * heat_w))
    assert 0.6 < float(readings["runaway_min"]) / (lumped_s / 60) < 1.0
    assert "sink_die_C" not in readings
    # Cut off above what the dies stand, so a verdict finds it over and not merely unread.
    assert float(readings["sink_die_worst_C"]) > lamp.sinks.maximum_die_c


def test_floor_of_the_foldback_is_an_outcome(laboratory: Laboratory) -> None:
    lamp = changed(
        plain_lamp(),
        heat={"housing_to_ambient_k_per_w": 10.0},
        sinks={"foldback_floor_ratio": 0.5, "foldback_slope_per_k": 0.1, "foldback_knee_c": 80.0},
    )
    readings = laboratory.readings(lamp, "heat")
    assert readings["heat_outcome"] == "the sinks hold at the floor of their foldback"
    assert readings["foldback_pct"] == 50.0


@pytest.mark.parametrize("name", ["recap", *(f"wide {n}" for n in (2, 8, 9, 10, 12, 21))])
def test_a_light_that_stands_still_cold_stands_still_warm(laboratory: Laboratory, name: str) -> None:
    # Without stroboscopic visibility there is no flicker, whatever the run before it was warmed to.
    if name == "recap":
        study = load_study("corridor-recap")
        lamp = next(variant.lamp for variant in study.variants if variant.name == "22 µF")
    else:
        lamp = wide_lamp(1, int(name.removeprefix("wide ")))
    for result in laboratory.take(case_of(lamp, "steady"), case_of(lamp, "heat")):
        readings: dict[str, Any] = dict(result.readings)
        if readings["svm"] < 0.01:
            assert readings["flicker_pct"] < 1.0
            assert readings["led_peak_A"] < 1.01 * readings["led_current_A"]
