"""The switch-on bench: the worst angle is really the worst, and a cold start is a cold start."""

from __future__ import annotations

import numpy as np
import pytest

from coldiron.benches.switch_on import PULSE, switch_on_deck
from coldiron.lamp.lamp import Lamp
from coldiron.lamp.load import load_lamp
from coldiron.lamp.parts import FusingResistor
from laboratory import Laboratory, case_of, changed
from lamps import plain_lamp, reservoir

pytestmark = pytest.mark.ngspice
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
            switch_on_deck(case, float(angle_deg), 0.6 / lamp.mains.frequency_hz, PULSE[-2])
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
