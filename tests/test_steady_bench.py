"""The steady bench: watts add up, sinks do not wind up, and what every practitioner sees on the bench."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings

from coldiron.lamp.topologies.linear_sinks import LinearSinksLamp as Lamp
from laboratory import Laboratory, case_of, changed
from lamps import lamps, load_lamp, plain_lamp, reservoir

pytestmark = pytest.mark.ngspice
DEMO_LAMPS = ("kerbside-flood", "pantry-bulb", "corridor-panel")


@settings(
    max_examples=30,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(lamp=lamps())
def test_the_watts_add_up(laboratory: Laboratory, lamp: Lamp) -> None:
    # Conservation of energy: the input is the sum of what the parts turn into heat and light.
    readings = laboratory.readings(lamp, "steady")
    assert abs(readings["power_balance_pct"]) < 0.5
    parts = ("string_W", "sinks_W", "fusing_W", "bridge_W", "bleed_W", "reservoir_W", "varistor_W")
    assert all(readings[part] >= -1e-6 for part in parts)


@settings(
    max_examples=15,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(lamp=lamps())
def test_sinks_saturate_but_do_not_wind_up(laboratory: Laboratory, lamp: Lamp) -> None:
    # An error amplifier that integrates without bound while the bus is below the string lets several times
    # the set current through when the bus comes back; ours stays near the set value at every half cycle.
    readings = laboratory.readings(lamp, "steady")
    assert readings["led_peak_A"] < 1.3 * lamp.sinks.set_current_a
    # Closed form: once a string conducts the sinks hold their set current; an overshoot of their loop is no
    # current that an LED would have to carry for hours. What the drain's capacitance takes comes on top:
    # at most C dV/dt of a mains that the drain follows, 0.4 mA with 4.2 nF without a reservoir.
    drain_f = (lamp.sinks.drain_capacitor_f or 0.0) + lamp.sinks.count * lamp.sinks.output_capacitance_f
    slope_v_per_s = 2 * np.pi * lamp.mains.frequency_hz * np.sqrt(2) * lamp.mains.voltage_v
    assert readings["led_held_A"] <= 1.02 * lamp.sinks.set_current_a + drain_f * slope_v_per_s


@pytest.mark.parametrize("name", DEMO_LAMPS)
def test_separate_sinks_share_by_their_sense_voltages(laboratory: Laboratory, name: str) -> None:
    # Ohm's law at each sense resistor while all sinks are in regulation.
    lamp = changed(load_lamp(name), reservoir=reservoir(100e-6))
    [result] = laboratory.take(case_of(lamp, "steady"), keep_waves=True)
    assert result.waves is not None
    waves = result.waves["steady"]
    last = waves["time"] > waves["time"][-1] / 2
    spread = lamp.sinks.spread_ratio if lamp.sinks.count > 1 else 0.0
    for number in (1, lamp.sinks.count):
        wanted_v = lamp.sinks.sense_voltage_v * (1 - spread if number == 1 else 1 + spread)
        assert np.median(waves[f"v(sense{number})"][last]) == pytest.approx(wanted_v, rel=2e-3)


def test_without_reservoir_the_light_is_fully_modulated_at_twice_mains(laboratory: Laboratory) -> None:
    # common practice, no source
    [result] = laboratory.take(case_of(plain_lamp(), "steady"), keep_waves=True)
    assert float(result.readings["flicker_pct"]) > 99
    assert result.waves is not None
    waves = result.waves["steady"]
    last = waves["time"] > waves["time"][-1] - 0.02
    lit = waves["i(vstring)"][last] > 0.5 * plain_lamp().sinks.set_current_a
    assert np.count_nonzero(np.diff(lit.astype(int)) == 1) == 2


def test_a_reservoir_cuts_flicker_lifts_the_bus_and_heats_the_sinks(laboratory: Laboratory) -> None:
    # common practice, no source: a 230 to 240 V lamp's bus stands at some 320 to 350 V with a reservoir
    bare = laboratory.readings(plain_lamp(), "steady")
    held = laboratory.readings(
        plain_lamp(line_fusing=None, reservoir=reservoir(47e-6)), "steady", voltage_v=240.0
    )
    assert 320 < held["bus_highest_V"] < 350
    assert held["flicker_pct"] < 0.05 * bare["flicker_pct"]
    assert held["sinks_W"] > 2 * bare["sinks_W"]


def test_more_mains_voltage_goes_into_the_sinks(laboratory: Laboratory) -> None:
    # common practice, no source: linear sinks turn what the string does not need into heat
    lamp = plain_lamp(reservoir=reservoir(47e-6))
    watts = [laboratory.readings(lamp, "steady", voltage_v=v)["sinks_W"] for v in (207.0, 230.0, 253.0)]
    assert watts[0] < watts[1] < watts[2]


def test_settled_is_measured(laboratory: Laboratory) -> None:
    # A longer run of the same lamp must not read differently: the settled cycle is followed by its like.
    lamp = plain_lamp(reservoir=reservoir(220e-6))
    once = laboratory.readings(lamp, "steady")
    slow = laboratory.readings(changed(lamp, reservoir={"capacitance_f": 221e-6}), "steady")
    assert once["sinks_W"] == pytest.approx(slow["sinks_W"], rel=2e-3)
