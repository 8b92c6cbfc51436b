"""Faults followed to their end on real ngspice: openings against integrations, end states, live points."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from coldiron.faults import fault_named
from coldiron.heat import fusing
from coldiron.lamp.lamp import Lamp
from coldiron.lamp.load import load_lamp
from coldiron.parts.part import SHORT_OHM
from coldiron.readings.catalogue import kind_of
from coldiron.study.load import make_study
from coldiron.sweep.case_result import CaseResult
from fault_currents import drop_v, quasi_static_a
from laboratory import Laboratory, case_of, changed


def followed(laboratory: Laboratory, lamp: Lamp, name: str, **conditions: Any) -> CaseResult:
    """What a fault of a lamp gives."""
    case = case_of(fault_named(lamp, name).applied(lamp), "fault", **conditions)
    [result] = laboratory.take(case, keep_waves=True)
    return result


def heated(lamp: Lamp, ohm: float, angle_deg: float, speed: fusing.Speed, loop_ohm: float) -> Any:
    """Loop of the mains, its inductance and one heating resistor, solved in time: θ and current over time."""
    law, mains = fusing.curve(2.0, speed), lamp.mains
    omega = 2 * math.pi * mains.frequency_hz

    def slopes(t: float, y: np.ndarray) -> list[float]:
        current_a, theta_k = y
        volt = mains.peak_v * math.sin(omega * t + math.radians(angle_deg))
        hot_ohm = ohm * (1.0 + fusing.TEMPCO_PER_K * min(theta_k, fusing.OPENS_K))
        return [
            (volt - (loop_ohm + hot_ohm) * current_a) / mains.inductance_h,
            (current_a**2 * hot_ohm - fusing.loss_w(law, theta_k)) / law.heat_j_per_k,
        ]

    def melts(_: float, y: np.ndarray) -> float:
        return float(y[1] - fusing.OPENS_K)

    return solve_ivp(
        slopes, (0.0, 0.1), [0.0, 0.0], events=melts, rtol=1e-8, atol=1e-9, max_step=5e-5, dense_output=True
    )


def gone_s(solved: Any) -> float:
    """First zero of the current after the resistor has melted [s]."""
    melted_s = float(solved.t_events[0][0])
    later_s = np.linspace(melted_s, 0.1, 20001)
    current_a = solved.sol(later_s)[0]
    return float(later_s[np.flatnonzero(np.sign(current_a) != np.sign(current_a[0]))[0]])


def test_a_shorted_varistor_opens_its_resistor_when_an_integration_says(laboratory: Laboratory) -> None:
    """Fast and slow curve, from 0° and 90°, to the current zero; I²t up to there (solve_ivp, no SPICE)."""
    lamp = load_lamp("kerbside-flood")
    found = followed(laboratory, lamp, "varistor short").readings
    loop_ohm = lamp.mains.resistance_ohm + SHORT_OHM
    fast = [heated(lamp, 4.7, angle, "fast", loop_ohm) for angle in (0.0, 90.0)]
    slow = [heated(lamp, 4.7, angle, "slow", loop_ohm) for angle in (0.0, 90.0)]
    assert found["end_opened"] == "line_fusing"
    assert float(found["end_opens_fast_s"]) == pytest.approx(min(map(gone_s, fast)), rel=0.02)
    assert float(found["end_opens_slow_s"]) == pytest.approx(max(map(gone_s, slow)), rel=0.02)
    first = min(fast, key=gone_s)
    time_s = np.linspace(0.0, gone_s(first), 20001)
    i2t = float(np.trapezoid(first.sol(time_s)[0] ** 2, time_s))
    assert float(found["end_fast_i2t_A2s"]) == pytest.approx(i2t, rel=0.03)


def test_what_opens_within_cycles_takes_its_adiabatic_energy(laboratory: Laboratory) -> None:
    """300 J of a slow 2 W part to 1000 K, less what R(θ) and the loss do in 40 ms; more up to the zero."""
    lamp = load_lamp("kerbside-flood")
    found = followed(laboratory, lamp, "varistor short").readings
    ohm_mean = 4.7 * (1.0 + 0.5 * fusing.TEMPCO_PER_K * fusing.OPENS_K)
    assert 300.0 <= ohm_mean * float(found["end_slow_i2t_A2s"]) <= 1.25 * 300.0


def test_no_part_opens_at_full_current(laboratory: Laboratory) -> None:
    """Opened at a zero of its current nothing flies up: the lamp sees at most 1.3 times the mains peak."""
    lamp = load_lamp("kerbside-flood")
    for name in ("varistor short", "film short", "bridge line-plus short"):
        result = followed(laboratory, lamp, name)
        assert result.waves is not None
        after = result.waves["after"]
        line_v = np.abs(after["v(line)"] - after["v(neutral)"])
        assert line_v.max() < 1.3 * lamp.mains.peak_v, name
        opened = str(result.readings["end_left"]).split()[0]
        assert np.abs(after["i(vinput)"][after["time"] > 1e-3]).max() < 0.02, (name, opened)


def test_equal_resistors_of_one_loop_are_named_together(laboratory: Laboratory) -> None:
    found = followed(laboratory, load_lamp("kerbside-flood"), "film short").readings
    assert found["end_opened"] == "line_fusing or neutral_fusing"
    larger = changed(
        load_lamp("kerbside-flood"),
        line_fusing={"resistance_ohm": 6.8, "element": "wirewound"},
        neutral_fusing={"element": "wirewound"},
    )
    assert followed(laboratory, larger, "film short").readings["end_opened"] == "line_fusing"


def test_near_the_least_overload_averages_keep_to_an_integration(laboratory: Laboratory) -> None:
    """A string on shorted sinks behind 15 Ω of 1 W: seconds, and its watts rise while it heats."""
    lamp = changed(load_lamp("kerbside-flood"), line_fusing={"resistance_ohm": 15.0, "power_w": RATED_W})
    found = followed(laboratory, lamp, "sinks short").readings
    assert found["end_opened"] == "line_fusing"
    ohm = lamp.mains.resistance_ohm + 4.7 + SHORT_OHM
    taken_w = [_string_w(lamp, ohm, 15.0 * (1 + fusing.TEMPCO_PER_K * over_k)) for over_k in fusing_at()]
    alone_s = [fusing.opens_after_s(fusing.curve(RATED_W, s), fusing_at(), taken_w) for s in fusing.SPEEDS]
    # Cold watts alone would say far longer.
    cold_s = fusing.opens_after_s(fusing.curve(RATED_W, "slow"), (0.0, 1000.0), [taken_w[0]] * 2)
    assert cold_s > 1.15 * alone_s[1]
    assert float(found["end_opens_slow_s"]) == pytest.approx(alone_s[1], rel=0.05)
    assert float(found["end_opens_fast_s"]) == pytest.approx(alone_s[0], rel=0.1, abs=0.02)


def test_below_nine_times_its_watts_a_part_may_glow_on(laboratory: Laboratory) -> None:
    """Makers' parts glow for minutes at 5 to 9 times their watts: the band has no end there."""
    lamp = changed(load_lamp("kerbside-flood"), line_fusing={"resistance_ohm": 15.0, "power_w": 1.3})
    assert math.isinf(float(followed(laboratory, lamp, "sinks short").readings["end_opens_slow_s"]))


RATED_W = 1.0


def fusing_at() -> tuple[float, ...]:
    return tuple(np.linspace(0.0, 1000.0, 6))


def _string_w(lamp: Lamp, rest_ohm: float, own_ohm: float) -> float:
    """Watts of a resistor in series with the string on a rectified sine, point by point [W]."""
    loop_ohm = rest_ohm + own_ohm
    current_a = quasi_static_a(
        lamp.mains.peak_v, lambda i: loop_ohm * i + 2 * drop_v(lamp, i) + lamp.circuit.light_v(i)
    )
    return own_ohm * float(np.mean(current_a**2))


def test_every_reading_of_a_followed_fault_is_in_the_catalogue(laboratory: Laboratory) -> None:
    """Those of the settled end are those of bench steady, and the watts of whatever parts there are."""
    for name in ("varistor short", "joint loose", "supply neutral lost", "sinks one short"):
        found = followed(laboratory, load_lamp("kerbside-flood"), name).readings
        steady = laboratory.readings(load_lamp("kerbside-flood"), "steady")
        own = [r for r in found if (r not in steady and not r.endswith("_W")) or r.startswith("fault_")]
        unknown = [reading for reading in own if kind_of(reading).benches != ("fault",)]
        assert unknown == [], name
        assert all(kind_of(r).is_word == isinstance(found[r], str) for r in own)


def test_a_sink_from_drain_to_source_ends_as_a_quiet_open(laboratory: Laboratory) -> None:
    found = followed(laboratory, load_lamp("kerbside-flood"), "sinks one short").readings
    assert found["end_opened"] == "sinks sense"
    assert float(found["fault_input_W"]) == pytest.approx(172.0, rel=0.02)
    assert float(found["input_power_W"]) == pytest.approx(37.2, rel=0.02)


def test_nothing_in_the_lamp_opens_for_a_varistor_at_its_terminals(laboratory: Laboratory) -> None:
    """Ohm's law of the house wiring: 0.4 Ω and 0.25 Ω; only the breaker ends it, at once."""
    lamp = load_lamp("corridor-panel")
    found = followed(laboratory, lamp, "varistor short").readings
    mains = lamp.mains
    ohm = complex(mains.resistance_ohm + SHORT_OHM, 2 * math.pi * mains.frequency_hz * mains.inductance_h)
    assert found["end_opened"] == "nothing"
    assert float(found["fault_input_A"]) == pytest.approx(mains.voltage_v / abs(ohm), rel=5e-3)
    assert (found["breaker_fast_s"], found["breaker_slow_s"]) == (0.005, 0.1)


def test_a_fuse_melts_by_its_integral(laboratory: Laboratory) -> None:
    """A 1 A slow fuse before a shorted varistor: ∫i²dt of the first half wave passes 2 A²s within it."""
    fuse = {"part": {"F1": {"kind": "fuse", "before": "line_fusing", "rated_current": "1 A"}}}
    lamp = make_study("kerbside-flood", {"fused": fuse}).variants[1].lamp
    found = followed(laboratory, lamp, "varistor short + line_fusing bridged").readings
    assert found["end_opened"] == "F1"
    assert float(found["end_opens_fast_s"]) <= 0.0155
    assert float(found["end_fast_i2t_A2s"]) >= 2.0


@pytest.mark.parametrize(
    ("name", "this", "swapped"),
    [
        ("line_fusing open", "none", "line_f, neutral_f, bus, minus, drain"),
        ("neutral_fusing open", "line_f, neutral_f, bus, minus, drain", "none"),
    ],
)
def test_a_dark_lamp_is_live_one_way_round(
    name: str, this: str, swapped: str, laboratory: Laboratory
) -> None:
    """The open leg isolates what is behind it only where the live pole is on it; 2 kΩ take 325 V, 163 mA."""
    found = followed(laboratory, load_lamp("kerbside-flood"), name).readings
    assert (found["live_this"], found["live_swapped"]) == (this, swapped)
    live_a = max(float(found["live_this_A"]), float(found["live_swapped_A"]))
    assert live_a == pytest.approx(math.sqrt(2) * 230.0 / 2000.0, rel=0.01)


@pytest.mark.parametrize("name", ["string open", "sinks open"])
def test_a_lamp_that_is_dark_by_its_string_is_live_either_way(name: str, laboratory: Laboratory) -> None:
    found = followed(laboratory, load_lamp("pantry-bulb"), name).readings
    assert {"bus", "minus"} <= set(str(found["live_this"]).split(", "))
    assert {"bus", "minus"} <= set(str(found["live_swapped"]).split(", "))


@pytest.mark.parametrize("name", ["sinks open", "sinks one sense open"])
def test_a_lamp_whose_only_sink_is_open_is_dark_and_live(name: str, laboratory: Laboratory) -> None:
    """A lamp of one sink: its set current is no measure of darkness once it is gone."""
    found = followed(laboratory, load_lamp("shed-lantern"), name).readings
    assert "bus" in str(found["live_this"])
    assert "minus" in str(found["live_swapped"])


def test_a_lost_neutral_gives_the_varistor_what_the_power_law_says(laboratory: Laboratory) -> None:
    """400 V behind 4.7 Ω: ∫ v·i over the sine, with the drop of the disc's own current (UL 1449, table)."""
    lamp = load_lamp("kerbside-flood")
    [steady] = laboratory.take(
        replace(
            case_of(lamp, "steady"), conditions=replace(case_of(lamp, "steady").conditions, voltage_v=400.0)
        ),
        keep_waves=True,
    )
    values = lamp.circuit["varistor"].values
    one_v, exponent = values.voltages_v("nominal")[0], values.exponent("nominal")
    assert steady.waves is not None
    cycle = steady.waves["steady"]
    volt = np.abs(cycle["v(line_f)"] - cycle["v(neutral)"])
    last = cycle["time"] >= cycle["time"][-1] - 0.02
    power = 1e-3 * volt * (volt / one_v) ** exponent
    expected_w = float(np.trapezoid(power[last], cycle["time"][last]) / 0.02)
    assert float(steady.readings["varistor_W"]) == pytest.approx(expected_w, rel=0.06)
    found = followed(laboratory, lamp, "supply neutral lost").readings
    assert str(found["end_opened"]).startswith("varistor")
    assert float(found["end_opens_fast_s"]) == pytest.approx(22.0 / expected_w, rel=0.08)


def test_an_arc_takes_its_volts_times_the_current(laboratory: Laboratory) -> None:
    lamp = load_lamp("pantry-bulb")
    result = followed(laboratory, lamp, "string one LED arcing")
    assert result.waves is not None
    cycle = result.waves["end"]
    last = cycle["time"] >= cycle["time"][-1] - 1 / 60
    current_a = cycle["i(vstring)"][last]
    expected_w = float(np.trapezoid(20.0 * current_a + 30.0 * current_a**2, cycle["time"][last]) * 60)
    assert float(result.readings["arc_W"]) == pytest.approx(expected_w, rel=0.01)
    assert float(result.readings["arc_left_V"]) > 20.0


@pytest.mark.parametrize("leds", [1, 3])
def test_bridged_leds_leave_their_watts_to_the_sinks(leds: int, laboratory: Laboratory) -> None:
    """k·Vf·Iavg more in the sinks; the string conducts longer besides, which adds up to a tenth."""
    lamp = load_lamp("kerbside-flood")
    string = lamp.circuit.lights[0].values
    bridged = changed(lamp, string={"series": string.series - leds})
    was = laboratory.readings(lamp, "steady")
    now = laboratory.readings(bridged, "steady")
    each_v = string.voltage_v(0.3) / string.series
    expected_w = leds * each_v * float(was["led_current_A"])
    assert float(now["sinks_W"]) - float(was["sinks_W"]) == pytest.approx(expected_w, rel=0.1)
