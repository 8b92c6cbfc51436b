"""Ratings of parts: which reading is held to which, and what a short pulse may do."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldiron.benches.pulses import pulse_width_s
from coldiron.benches.stress import Rated, ratings, weakest
from coldiron.lamp.parts import FilmCapacitor, FusingResistor, LedString, ReservoirCapacitor
from coldiron.lamp.topologies.linear_sinks import LinearSinksLamp as Lamp
from coldiron.lamp.varistor import Varistor
from coldiron.parts.part import short_pulse_ratio
from coldiron.study.disturbances import Burst, Leakage, Sag
from judging import judged
from laboratory import Laboratory, changed
from lamps import load_lamp, plain_lamp, reservoir

PULSE = {
    "drain_peak_V": 450.0, "sink_excess_mJ": 1.0, "sink_peak_A": 0.2, "string_peak_A": 0.5,
    "string_pulse_us": 25.0, "bridge_peak_A": 20.0, "bridge_pulse_us": 20.0, "bridge_i2t_A2s": 0.01,
    "bus_peak_V": 500.0, "reservoir_peak_V": 400.0,
    "varistor_energy_J": 1.0, "varistor_peak_A": 100.0, "line_fusing_J": 0.1, "neutral_fusing_J": 0.1,
}  # fmt: skip


def pulse(prefix: str) -> dict[str, float | str]:
    return {f"{prefix}_{name}": value for name, value in PULSE.items()}


def by_part(lamp: Lamp, prefix: str) -> dict[str, Rated]:
    return {rated.part: rated for rated in ratings(lamp, pulse(prefix), 50.0)}


FULL = plain_lamp(
    neutral_fusing=FusingResistor(resistance_ohm=10.0, power_w=1.0, pulse_energy_j=3.0),
    reservoir=reservoir(22e-6, voltage_v=400.0, ripple_current_a=0.1),
)


@pytest.mark.parametrize("prefix", ["surge", "burst", "inrush", "dip", "sag"])
def test_every_rated_part_is_held_on_every_disturbance(prefix: str) -> None:
    held = by_part(FULL, prefix)
    assert {part.partition(",")[0] for part in held} == {
        "sinks", "string", "bridge", "varistor", "line fusing", "neutral fusing", "reservoir", "film",
    }  # fmt: skip
    assert all(rated.reading.startswith(prefix) for rated in held.values())


def test_a_part_that_is_not_there_has_no_rating() -> None:
    bare = plain_lamp(line_fusing=None, varistor=None, film=None, bleed=None)
    parts = {part.partition(",")[0] for part in by_part(bare, "surge")}
    assert parts == {"sinks", "string", "bridge"}


@pytest.mark.parametrize(
    # IEC 60384-4, surge voltage: 1.15 times up to 315 V, 1.1 times above; from memory.
    ("rated_v", "surge_v"), [(200.0, 230.0), (315.0, 362.25), (400.0, 440.0), (450.0, 495.0)]
)  # fmt: skip
def test_surge_voltage_of_an_electrolytic(rated_v: float, surge_v: float) -> None:
    part = ReservoirCapacitor(capacitance_f=1e-5, voltage_v=rated_v)
    assert part.surge_voltage_v == pytest.approx(surge_v)


def test_proof_voltage_of_a_film_capacitor() -> None:
    # IEC 60384-16, voltage proof between terminals: 1.6 times the rated voltage; from memory.
    assert FilmCapacitor(capacitance_f=1e-7, voltage_v=400.0).proof_voltage_v == pytest.approx(640.0)


def test_bridge_i2t_of_a_half_sine() -> None:
    # Closed form: half a wave of 60 Hz with the peak IFSM carries IFSM² · 8.3 ms / 2.
    held = by_part(FULL, "surge")["bridge, I²t"]
    assert held.most == pytest.approx(30.0**2 * 8.3e-3 / 2)
    assert held.provenance == "from memory"


def test_given_and_typical_ratings_say_so() -> None:
    held = by_part(FULL, "surge")
    assert held["line fusing, pulse energy"].provenance == "from memory"
    assert held["neutral fusing, pulse energy"].most == 3.0
    assert held["varistor, energy"].provenance == "from memory"
    flood = load_lamp("kerbside-flood")
    assert by_part(flood, "surge")["varistor, energy"].provenance == "data sheet"


def test_a_verdict_on_a_typical_rating_says_so() -> None:
    [verdict] = [v for v in judged({"bus_highest_V": 350.0}) if v.clause == "film.voltage"]
    assert (verdict.verdict, verdict.limit, verdict.provenance) == ("ok", 400.0, "typical")
    assert "not this part's own" in verdict.note


def test_steady_ratings() -> None:
    readings: dict[str, float | str] = {
        "line_fusing_W": 1.9, "neutral_fusing_W": 1.1, "bridge_mean_A": 0.9, "reservoir_highest_V": 401.0,
        "bleed_W": 0.2, "reservoir_ripple_A": 0.096, "sink_worst_W": 1.0, "drain_highest_V": 100.0,
        "input_voltage_V": 230.0,
    }  # fmt: skip
    verdicts = {v.what: v.verdict for v in judged(readings, lamp=FULL)}
    assert verdicts["line fusing, watts"] == "close"
    assert verdicts["neutral fusing, watts"] == "over"
    # With a reservoir behind it a bridge carries 80 % of its mean current (catalogue note).
    assert verdicts["bridge, mean current"] == "over"
    assert verdicts["reservoir, voltage"] == "over"
    # A ripple rating for 120 Hz counts 95 % at 100 Hz (catalogue table).
    assert verdicts["reservoir, ripple current"] == "over"
    assert verdicts["sinks, watts of one"] == "ok"


def test_continuous_current_of_the_leds() -> None:
    # 118 mA through LEDs of 60 mA: no catalogue rates them for twice their test current.
    string = LedString(series=80, forward_voltage_v=3.0, forward_current_a=0.06, slope_ohm=3.2)
    [verdict] = judged({"led_held_A": 0.118}, lamp=plain_lamp(string=string))
    assert (verdict.verdict, verdict.limit_id) == ("over", "rating.string.continuous_current")
    # Unset it is 1.2 times the test current (20 to 25 mA, 150 to 180 mA in catalogues, from memory).
    assert verdict.limit == pytest.approx(0.072)
    assert verdict.provenance == "from memory"
    assert "test current" in verdict.note
    # Side by side they share the current; a rating of its own counts as such.
    rated = string.model_copy(update={"parallel": 3, "continuous_current_a": 0.08})
    for current_a, word in ((0.2, "ok"), (0.23, "close"), (0.241, "over")):
        [verdict] = judged({"led_held_A": current_a}, lamp=plain_lamp(string=rated))
        assert verdict.verdict == word
        assert verdict.limit == pytest.approx(0.24)


def disc(ac_rating_v: float) -> Varistor:
    return Varistor(
        ac_rating_v=ac_rating_v,
        one_milliamp_voltage_v=430.0,
        clamping_voltage_v=710.0,
        clamping_current_a=25.0,
    )


def test_parts_below_the_highest_mains_of_the_study_are_over_without_a_run_of_it() -> None:
    # Closed form: 230 V + 10 % is 253 V, its crest √2 times that, 357.8 V.
    lamp = plain_lamp(varistor=disc(250.0), reservoir=reservoir(10e-6, voltage_v=350.0))
    found = judged({"svm": 0.1}, lamp=lamp, mains=["nominal", "+10 %", "-10 %"])
    over = {v.limit_id: v for v in found if v.verdict == "over"}
    assert set(over) == {"rating.varistor.ac_rating", "rating.reservoir.voltage"}
    assert over["rating.varistor.ac_rating"].value == pytest.approx(253.0)
    assert over["rating.reservoir.voltage"].value == pytest.approx(357.8, abs=0.05)
    assert all(v.conditions == "253 V 50 Hz" and "not run" in v.note for v in over.values())
    # A study that never leaves the rated mains does not say so, nor one whose run of that mains tells itself.
    assert all(v.verdict != "over" for v in judged({"svm": 0.1}, lamp=lamp))
    read = {"input_voltage_V": 252.6, "bus_highest_V": 349.0}
    ran = judged(read, lamp=lamp, mains=["nominal", "+10 %"], voltage_v=1.1 * 230.0)
    assert {v.value for v in ran if v.verdict == "over"} == {252.6}


def test_a_reservoir_below_the_crest_is_over_whatever_benches_are_run() -> None:
    # Closed form: 230 V has a crest of 325.3 V. The capacitor's surge voltage of 345 V is for half a minute.
    lamp = plain_lamp(reservoir=reservoir(10e-6, voltage_v=300.0))
    found = judged({"inrush_peak_A": 1.0}, lamp=lamp, bench="switch-on")
    [over] = [v for v in found if v.verdict == "over"]
    assert over.limit_id == "rating.reservoir.voltage"
    assert over.value == pytest.approx(325.27, abs=0.01)


@pytest.mark.parametrize(("frequency_hz", "limit_a"), [(50.0, 0.095), (60.0, 0.1)])
def test_ripple_is_derated_by_the_mains_of_the_case(frequency_hz: float, limit_a: float) -> None:
    # A rating for 120 Hz counts 95 % at 100 Hz (catalogue of 400 V types), whatever the lamp was made for.
    for own_hz in (50.0, 60.0):
        lamp = changed(FULL, mains={"frequency_hz": own_hz})
        [verdict] = judged({"reservoir_ripple_A": 0.05}, lamp=lamp, frequency_hz=frequency_hz)
        assert verdict.limit == pytest.approx(limit_a)


def test_fusing_is_held_with_the_tolerances_that_make_it_hotter() -> None:
    # Closed forms: at a set current the watts go with R, so 5 % more R leaves 2 W/1.05 to a nominal one; what
    # a filling capacitor leaves in a resistor goes with ½CV², so 20 % more C leaves 1/1.2 of the energy.
    held = {rated.part: rated for rated in ratings(FULL, {"line_fusing_W": 1.0}, 50.0)}
    assert held["line fusing, watts"].most == pytest.approx(2.0 / 1.05)
    tight = changed(FULL, line_fusing={"tolerance_ratio": 0.0})
    [rated] = ratings(tight, {"line_fusing_W": 1.0}, 50.0)
    assert (rated.most, rated.note) == (2.0, "")
    for name, most_j in (("inrush", 3.0 / 1.2), ("surge", 3.0)):
        assert by_part(FULL, name)["neutral fusing, pulse energy"].most == pytest.approx(most_j)
    assert by_part(changed(FULL, reservoir=None), "inrush")["neutral fusing, pulse energy"].most == 3.0


def test_square_root_rule_for_short_pulses() -> None:
    # Common practice, no source: heat of a short pulse spreads as the square root of time.
    assert short_pulse_ratio(1e-4, 25e-6, 3.0) == pytest.approx(2.0)
    assert by_part(FULL, "surge")["string, pulse current"].most == pytest.approx(
        2 * FULL.string.pulse_limit_a
    )


@given(
    rated_s=st.floats(1e-6, 1.0),
    width_s=st.floats(0.0, 10.0),
    shorter=st.floats(0.0, 1.0),
    most=st.floats(1.0, 20.0),
)
def test_a_shorter_pulse_never_may_less(rated_s: float, width_s: float, shorter: float, most: float) -> None:
    ratio = short_pulse_ratio(rated_s, width_s, most)
    assert 1.0 <= ratio <= most
    assert short_pulse_ratio(rated_s, shorter * width_s, most) >= ratio


@given(st.floats(0.1, 1e3), st.floats(1.0, 1e3))
def test_a_higher_rating_never_leaves_less_margin(seen: float, factor: float) -> None:
    low, high = (Rated("part", "x", most, "", "") for most in (10.0, 10.0 * factor))
    assert high.margin_pct({"x": seen}) >= low.margin_pct({"x": seen})
    assert weakest([high, low], {"x": seen})[1] == low.margin_pct({"x": seen})


def test_width_of_a_triangle() -> None:
    # Closed form: a triangle's area is half its base times its height.
    time_s = np.array([0.0, 3.0, 4.0])
    assert pulse_width_s(time_s, np.array([0.0, 5.0, 0.0])) == pytest.approx(2.0)


@pytest.mark.ngspice
@pytest.mark.parametrize(
    ("bench", "prefix"),
    [
        ("switch-on", "inrush_"),
        ("steady", "steady_"),
        ("surge", ""),
        ("burst", "burst_"),
        ("dip", "dip_"),
        ("unplug", "unplug_"),
        ("off-glow", "off_"),
    ],
)
def test_every_bench_names_its_weakest_part(laboratory: Laboratory, bench: str, prefix: str) -> None:
    lamp = changed(load_lamp("kerbside-flood"), reservoir=reservoir(10e-6))
    conditions = {
        "burst": Burst(pulses=2),
        "sag": Sag(fall_s=0.02, hold_s=0.02, rise_s=0.02),
        "leakage": Leakage(cable_length_m=5.0),
    }
    readings = laboratory.readings(lamp, bench, **conditions)
    part, margin_pct = weakest(ratings(lamp, readings, 50.0), readings)
    assert readings[f"{prefix}weakest_part"] == part
    assert readings[f"{prefix}weakest_margin_pct"] == pytest.approx(margin_pct)
    assert math.isfinite(margin_pct)


@pytest.mark.ngspice
def test_excess_energy_is_none_in_normal_work_and_the_avalanche_in_a_surge(laboratory: Laboratory) -> None:
    lamp = changed(load_lamp("pantry-bulb"), sinks={"spread_ratio": 0.0})
    quiet = laboratory.readings(lamp, "surge", surge_level_v=50.0)
    assert quiet["surge_sink_excess_mJ"] < 0.05 * quiet["surge_sink_energy_mJ"]
    loud = laboratory.readings(lamp, "surge", surge_level_v=1000.0)
    assert loud["surge_drain_peak_V"] > lamp.sinks.drain_voltage_v
    assert loud["surge_sink_excess_mJ"] > 0.8 * loud["surge_sink_energy_mJ"]
