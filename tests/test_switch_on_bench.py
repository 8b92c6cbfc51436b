"""The switch-on bench: the worst angle is really the worst, and a cold start is a cold start."""

from __future__ import annotations

import math

import numpy as np
import pytest

from coldiron.benches.switch_on import PULSE, has_risen, switch_on_deck
from coldiron.lamp.parts import FusingResistor
from coldiron.lamp.topologies.linear_sinks import LinearSinksLamp as Lamp
from coldiron.sweep.worker import Work, run_work
from laboratory import Laboratory, case_of, changed
from lamps import load_lamp, plain_lamp, reservoir
from wide_lamps import wide_lamp

pytestmark = pytest.mark.ngspice
SEED = 1
LAMPS = {
    "flood": load_lamp("kerbside-flood"),
    "flood, 47 µF": changed(load_lamp("kerbside-flood"), reservoir=reservoir(47e-6)),
    "bulb": load_lamp("pantry-bulb"),
    "panel": load_lamp("corridor-panel"),
    "nothing but mains impedance": plain_lamp(line_fusing=None, reservoir=reservoir(100e-6, esr_ohm=0.1)),
}


@pytest.mark.parametrize("name", LAMPS)
def test_no_angle_of_a_fine_sweep_is_worse(laboratory: Laboratory, name: str) -> None:
    # Exhaustive search over the whole cycle in steps of 10 degrees; 0.5 % is what the search may miss.
    lamp: Lamp = LAMPS[name]
    case = case_of(lamp, "switch-on")
    found_a = laboratory.readings(lamp, "switch-on")["inrush_peak_A"]
    for angle_deg in range(0, 360, 10):
        waves = laboratory.run(
            switch_on_deck(case, float(angle_deg), 0.6 / lamp.mains.frequency_hz, PULSE[1])
        )
        peak_a = float(np.abs(waves["i(vinput)"]).max())
        assert peak_a <= 1.005 * found_a, angle_deg


def test_a_larger_fusing_resistor_lowers_peak_and_i2t_but_not_the_energy(laboratory: Laboratory) -> None:
    # Closed form: charging C to V through R turns CV²/2 into heat in R whatever R; I²t is V²C/(2R).
    readings = {}
    for ohm in (33.0, 100.0):
        lamp = plain_lamp(
            line_fusing=FusingResistor(resistance_ohm=ohm, power_w=3.0),
            reservoir=reservoir(22e-6, esr_ohm=0.01),
        )
        readings[ohm] = laboratory.readings(lamp, "switch-on")
    assert readings[100.0]["inrush_peak_A"] < 0.4 * readings[33.0]["inrush_peak_A"]
    assert readings[100.0]["inrush_i2t_A2s"] < 0.5 * readings[33.0]["inrush_i2t_A2s"]
    ratio = readings[100.0]["inrush_line_fusing_J"] / readings[33.0]["inrush_line_fusing_J"]
    assert ratio == pytest.approx(1.0, abs=0.15)


def test_light_comes_later_with_a_reservoir_behind_a_large_resistor(laboratory: Laboratory) -> None:
    # common practice, no source: the reservoir has to fill before the string conducts
    slow = plain_lamp(
        line_fusing=FusingResistor(resistance_ohm=100.0, power_w=3.0), reservoir=reservoir(47e-6)
    )
    assert (
        laboratory.readings(slow, "switch-on")["first_light_ms"]
        > laboratory.readings(plain_lamp(), "switch-on")["first_light_ms"] + 1.0
    )


@pytest.mark.parametrize("number", range(8))
def test_the_bus_rises_to_where_it_stands(laboratory: Laboratory, number: int) -> None:
    # A lamp that was followed to its end has seen the bus of its steady work, and lights if it does then.
    lamp = wide_lamp(SEED, number)
    on, settled = (laboratory.readings(lamp, bench) for bench in ("switch-on", "steady"))
    assert on["bus_peak_V"] >= 0.999 * settled["bus_mean_V"]
    lit = settled["led_current_A"] > 0.2 * lamp.sinks.set_current_a
    assert not lit or math.isfinite(on["first_light_ms"])


def test_a_bus_that_creeps_for_seconds_is_told(laboratory: Laboratory) -> None:
    # 10 mF behind 2 kOhm take a minute to charge: nothing that is read at switch-on would be true.
    edge = plain_lamp(
        line_fusing=FusingResistor(resistance_ohm=2000.0, power_w=3.0), reservoir=reservoir(10e-3)
    )
    [result] = laboratory.call(run_work, Work((case_of(edge, "switch-on"),)))
    assert result.failure is not None
    assert "the bus still rises" in result.failure.why
    assert "reservoir of 10 mF behind 2 kΩ" in result.failure.why


def test_a_rise_that_dies_away_is_foreseen() -> None:
    # Closed form: a charge through a resistance rises by a like share less each half cycle.
    rising = np.array([300.0 * (1.0 - 0.9**n) for n in range(1, 80)])
    ends = next(n for n in range(6, 80) if has_risen(rising[:n]))
    assert rising[ends - 1] == pytest.approx(300.0, rel=1.5e-3)
    assert rising[ends - 1] < 300.0 * (1 - 2e-4), "no longer than it needs"
