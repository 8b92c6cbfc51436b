"""Every bench at +10 % and -10 % mains and on another mains system: readings, and laws of supply."""

from __future__ import annotations

import math

import pytest

from coldiron.benches import BENCHES
from coldiron.readings.catalogue import kind_of
from coldiron.study.disturbances import Burst, Leakage, Sag
from coldiron.study.model import KNOWN_BENCHES
from laboratory import Laboratory, case_of
from lamps import load_lamp

pytestmark = pytest.mark.ngspice
OTHER_SYSTEM = {
    "kerbside-flood": (120.0, 60.0),
    "pantry-bulb": (240.0, 50.0),
    "corridor-panel": (277.0, 60.0),
}


def test_every_bench_that_a_study_may_name_can_be_run() -> None:
    assert list(BENCHES) == list(KNOWN_BENCHES)


@pytest.mark.parametrize("supply", ["+10 %", "-10 %", "other system"])
@pytest.mark.parametrize("name", list(OTHER_SYSTEM))
def test_every_bench_on_every_supply(laboratory: Laboratory, name: str, supply: str) -> None:
    lamp = load_lamp(name)
    voltage_v, frequency_hz = lamp.mains.voltage_v, lamp.mains.frequency_hz
    if supply == "other system":
        voltage_v, frequency_hz = OTHER_SYSTEM[name]
    else:
        voltage_v *= 1.1 if supply == "+10 %" else 0.9
    case = {
        "voltage_v": voltage_v,
        "frequency_hz": frequency_hz,
        "burst": Burst(pulses=3),
        "sag": Sag(fall_s=0.02, hold_s=0.02, rise_s=0.02),
        "leakage": Leakage(cable_length_m=5.0),
    }
    # What a hand, an earth or a breaker asks of a lamp hangs little on the supply: once is enough.
    once = {"live", "touch", "surge-earth", "insulation", "shared-circuit"}
    benches = [bench for bench in BENCHES if bench not in once or (name, supply) == ("pantry-bulb", "+10 %")]
    results = laboratory.take(*(case_of(lamp, bench, **case) for bench in benches))
    assert not any(result.not_applicable for result in results)
    for bench, result in zip(benches, results, strict=True):
        unknown = [reading for reading in result.readings if bench not in kind_of(reading).benches]
        assert unknown == [], f"{bench} gives readings that the catalogue does not know as its own"
        words = [reading for reading, value in result.readings.items() if isinstance(value, str)]
        assert words == [reading for reading in result.readings if kind_of(reading).is_word]
    steady = results[benches.index("steady")].readings
    # The peak of a sine behind two diodes is the most that a bus can settle to.
    assert float(steady["bus_highest_V"]) < math.sqrt(2.0) * voltage_v
    # The lamp's own current makes the voltage at its terminals a little less than that of the supply.
    assert float(steady["input_voltage_V"]) == pytest.approx(voltage_v, rel=0.01)


@pytest.mark.parametrize("bench", ["switch-on", "steady", "surge", "unplug"])
@pytest.mark.parametrize("name", ["kerbside-flood", "pantry-bulb"])
def test_more_mains_is_more_stress(laboratory: Laboratory, name: str, bench: str) -> None:
    # Common sense of a supply: voltages and watts rise with it.
    lamp = load_lamp(name)
    rising = {
        "switch-on": ("inrush_peak_A", "bus_peak_V"),
        "steady": ("input_power_W", "bus_highest_V", "sinks_W"),
        "surge": ("surge_bus_peak_V",),
        "unplug": ("unplug_bus_V", "stored_energy_J"),
    }[bench]
    low, nominal, high = (
        laboratory.readings(lamp, bench, voltage_v=share * lamp.mains.voltage_v) for share in (0.9, 1.0, 1.1)
    )
    for reading in rising:
        # A varistor that clamps holds the surge where it is.
        slack = 0.995 if bench == "surge" else 1.0
        assert slack * low[reading] <= nominal[reading]
        assert slack * nominal[reading] <= high[reading]
