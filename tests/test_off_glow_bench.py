"""The off-glow bench against closed forms: what a capacitance, a resistance or an indicator lets through."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import brentq

from coldiron.lamp.parts import BleedResistor
from coldiron.lamp.topologies.linear_sinks import LinearSinksLamp as Lamp
from coldiron.study.disturbances import Leakage
from coldiron.sweep.worker import Work, run_work
from laboratory import Laboratory, case_of, changed
from lamps import load_lamp, plain_lamp, reservoir

pytestmark = pytest.mark.ngspice

# Without a varistor (its capacitance takes a share), and with a bridge of little capacitance of its own.
BARE = changed(plain_lamp(varistor=None, bleed=None), bridge={"junction_capacitance_f": 1e-12})
PEAK_V = math.sqrt(2.0) * 230.0


def string_v(lamp: Lamp, current_a: float) -> float:
    """Voltage of the string, two diodes of the bridge included, at a current."""
    return lamp.string.voltage_v(current_a) + 1.0


@pytest.mark.parametrize("leak_f", [0.5e-9, 1e-9, 2e-9, 5e-9])
def test_current_through_a_capacitance(laboratory: Laboratory, leak_f: float) -> None:
    # Closed form: a capacitance gives 4 f C (Vpk - Vs) to a bridge with the voltage Vs behind it.
    readings = laboratory.readings(BARE, "off-glow", leakage=Leakage(capacitance_f=leak_f))
    seen_a = 1e-6 * readings["off_string_uA"]
    closed_a = 4 * 50.0 * leak_f * (PEAK_V - string_v(BARE, seen_a))
    assert seen_a == pytest.approx(closed_a, rel=0.03)


def test_cable_is_capacitance_by_length(laboratory: Laboratory) -> None:
    # 10 m of 120 pF/m are 1.2 nF; shorted they would let 86.7 uA through at 230 V 50 Hz (closed form w C V).
    cable, stated = (
        laboratory.readings(BARE, "off-glow", leakage=leakage)
        for leakage in (Leakage(cable_length_m=10.0), Leakage(capacitance_f=1.2e-9))
    )
    assert cable == stated
    assert cable["off_leakage_uA"] < 86.7


def test_current_at_120_v_60_hz(laboratory: Laboratory) -> None:
    # The same closed form on the other mains; its film capacitor is small, the bus ripples.
    lamp = changed(load_lamp("pantry-bulb"), bleed=None, bridge={"junction_capacitance_f": 1e-12})
    readings = laboratory.readings(lamp, "off-glow", leakage=Leakage(capacitance_f=1e-9))
    seen_a = 1e-6 * readings["off_string_uA"]
    closed_a = 4 * 60.0 * 1e-9 * (math.sqrt(2.0) * 120.0 - string_v(lamp, seen_a))
    assert seen_a == pytest.approx(closed_a, rel=0.04)


def test_current_through_a_resistance(laboratory: Laboratory) -> None:
    # Closed form: the mean of what stands above the string over half a wave, divided by the resistance.
    readings = laboratory.readings(BARE, "off-glow", leakage=Leakage(resistance_ohm=1e6))
    seen_a = 1e-6 * readings["off_string_uA"]
    phase = np.linspace(0.0, math.pi, 20001)
    above_v = np.maximum(PEAK_V * np.sin(phase) - string_v(BARE, seen_a), 0.0)
    assert seen_a == pytest.approx(above_v.mean() / 1e6, rel=0.03)


def test_a_neon_keeps_its_voltage_and_lets_the_rest_through(laboratory: Laboratory) -> None:
    # Closed form as above, 65 V less of the wave and 150 kohm, both from memory.
    readings = laboratory.readings(BARE, "off-glow", leakage=Leakage(indicator="neon"))
    seen_a = 1e-6 * readings["off_string_uA"]
    phase = np.linspace(0.0, math.pi, 20001)
    above_v = np.maximum(PEAK_V * np.sin(phase) - 65.0 - string_v(BARE, seen_a), 0.0)
    assert seen_a == pytest.approx(above_v.mean() / 150e3, rel=0.05)
    assert readings["glows"] == "yes"


def test_a_bleed_resistor_ends_the_glow(laboratory: Laboratory) -> None:
    # 1 nF with 1 Mohm behind the bridge: the string sees less than 98 V and less than 1 nA (closed form: all
    # of 4 f C Vpk, 65 uA, in 1 Mohm would be 65 V).
    bled = changed(BARE, bleed=BleedResistor(resistance_ohm=1e6))
    readings = laboratory.readings(bled, "off-glow", leakage=Leakage(capacitance_f=1e-9))
    assert readings["off_bus_V"] < 98.0
    assert readings["off_string_uA"] < 1e-3
    assert readings["glows"] == "no"
    unbled = laboratory.readings(BARE, "off-glow", leakage=Leakage(capacitance_f=1e-9))
    assert readings["off_string_unbled_uA"] == pytest.approx(unbled["off_string_uA"], rel=0.02)


def test_a_reservoir_does_not_change_the_current_in_the_end(laboratory: Laboratory) -> None:
    # A capacitor carries no direct current: it only takes long to charge, here over a minute.
    with_one = laboratory.readings(
        changed(BARE, reservoir=reservoir(47e-6)), "off-glow", leakage=Leakage(capacitance_f=1e-9)
    )
    without = laboratory.readings(BARE, "off-glow", leakage=Leakage(capacitance_f=1e-9))
    assert with_one["off_string_uA"] == pytest.approx(without["off_string_uA"], rel=0.02)


@pytest.mark.parametrize("beside_f", [100e-12, 200e-12, 1e-9])
def test_a_varistor_takes_its_share(laboratory: Laboratory, beside_f: float) -> None:
    # Closed form: until the bridge conducts the leak has to turn the varistor round, from -Vs to Vs, twice a
    # cycle; what is left is 4 f [C Vpk - (C + Cv) Vs], solved for the current with the string's own Vs.
    lamp = changed(BARE, varistor=plain_lamp().varistor)
    lamp = changed(lamp, varistor={"capacitance_f": beside_f})
    readings = laboratory.readings(lamp, "off-glow", leakage=Leakage(capacitance_f=1e-9))

    def too_much_a(ampere: float) -> float:
        return ampere - 4 * 50.0 * (1e-9 * PEAK_V - (1e-9 + beside_f) * string_v(lamp, ampere))

    closed_a = brentq(too_much_a, 1e-12, 1e-3)
    assert 1e-6 * readings["off_string_uA"] == pytest.approx(closed_a, rel=0.03, abs=5e-8)


def test_a_string_above_the_peak_stays_dark(laboratory: Laboratory) -> None:
    # Closed form: no current where Vs >= Vpk.
    lamp = changed(BARE, string={"series": 108})
    assert lamp.string.voltage_v(1e-9) < PEAK_V * 1.1
    readings = laboratory.readings(lamp, "off-glow", voltage_v=120.0, leakage=Leakage(capacitance_f=1e-9))
    assert readings["off_string_uA"] < 0.01
    assert readings["glows"] == "no"


def test_the_threshold_is_that_of_one_led(laboratory: Laboratory) -> None:
    # Four rows side by side share the current.
    leakage = Leakage(capacitance_f=1e-9, glow_threshold_a=5e-6)
    readings = laboratory.readings(BARE, "off-glow", leakage=leakage)
    assert readings["off_led_uA"] == pytest.approx(readings["off_string_uA"] / 4)
    assert readings["glows"] == ("yes" if readings["off_led_uA"] >= 5.0 else "no")


def test_without_a_path_the_bench_says_what_is_missing(laboratory: Laboratory) -> None:
    cases = tuple(case_of(BARE, bench) for bench in ("off-glow", "steady"))
    skipped, steady = laboratory.call(run_work, Work(cases))
    assert skipped.failure is None
    assert "cable_length" in skipped.not_applicable
    assert steady.readings
