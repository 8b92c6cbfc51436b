"""Real ngspice on lamps of nearly ideal parts, against closed forms."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray
from pvlib.pvsystem import i_from_v
from scipy.constants import elementary_charge, k, zero_Celsius
from scipy.integrate import quad
from scipy.optimize import brentq

from coldiron.lamp.parts import BleedResistor, Bridge, FusingResistor, LedString, Mains, Sinks
from coldiron.lamp.topologies.linear_sinks import LinearSinksLamp as Lamp
from laboratory import Laboratory, case_of, changed
from lamps import load_lamp, plain_lamp, reservoir

pytestmark = pytest.mark.ngspice
SET_A = 0.06
THERMAL_V = k * (zero_Celsius + 25.0) / elementary_charge


def sharp_string(volt: float) -> LedString:
    """A string that carries the set current at a voltage, e times less each 0.4 % below."""
    each_v = volt / math.ceil(volt / 35.0)
    emission = each_v / (240.0 * THERMAL_V)
    return LedString(
        series=math.ceil(volt / 35.0),
        forward_voltage_v=each_v,
        forward_current_a=SET_A,
        emission=emission,
        slope_ohm=1.001 * emission * THERMAL_V / SET_A,
    )


def ideal_lamp(
    *,
    mains_v: float = 230.0,
    mains_hz: float = 50.0,
    mains_ohm: float = 0.001,
    string_v: float = 345.0,
    diode_v: float = 0.7,
    diode_a: float = SET_A,
    **parts: Any,
) -> Lamp:
    """A stiff supply, small diodes with a known drop at a current, one sink, a string with a sharp knee.

    The string is above the mains peak unless told otherwise: then nothing loads the bus.
    """
    nearly_ideal: dict[str, Any] = {
        "mains": Mains(voltage_v=mains_v, frequency_hz=mains_hz, resistance_ohm=mains_ohm, inductance_h=1e-6),
        "line_fusing": None,
        "varistor": None,
        "bridge": Bridge(
            forward_voltage_v=diode_v,
            forward_current_a=diode_a,
            series_resistance_ohm=1e-3,
            junction_capacitance_f=1e-12,
            storage_time_s=1e-9,
        ),
        "film": None,
        "bleed": None,
        "string": sharp_string(string_v),
        "sinks": Sinks(count=1, sense_voltage_v=0.6, sense_resistor_ohm=10.0, on_resistance_ohm=0.05),
    }
    return plain_lamp(**(nearly_ideal | parts))


@pytest.mark.parametrize("voltage_ratio", [0.5, 0.75, 0.8, 0.9])
def test_without_reservoir_the_current_is_a_block(laboratory: Laboratory, voltage_ratio: float) -> None:
    # Closed form: a constant current I flows while |v| is above the string voltage r·Vpk, θ = asin r:
    # duty D = 1 - 2θ/π, mean I·D, rms I·√D, power factor (2√2/π)·cos θ/√D, nth harmonic |cos nθ|/(n·cos θ),
    # so h3 = |1 - 4r²|/3 and h5 = |1 - 12r² + 16r⁴|/5; flicker index of a block 1 - D.
    peak_v = math.sqrt(2.0) * 230.0
    diodes_v, sink_v = 2 * 0.7, 0.6
    # The knee: below the string voltage the current fades by e each 1/240 of it; in the sink it grows from
    # nothing to the set current over the sense voltage. The block of equal charge starts in between; its
    # square is up to 1 % more than that of the real current with its soft edges.
    string_v = (voltage_ratio * peak_v - diodes_v - sink_v / 2) / (1 - 1 / 240)
    readings = laboratory.readings(ideal_lamp(string_v=string_v), "steady")
    angle = math.asin(voltage_ratio)
    duty = 1 - 2 * angle / math.pi
    assert readings["led_current_A"] == pytest.approx(SET_A * duty, rel=2e-3)
    assert readings["input_current_A"] == pytest.approx(SET_A * math.sqrt(duty), rel=0.01)
    assert readings["power_factor"] == pytest.approx(
        2 * math.sqrt(2) / math.pi * math.cos(angle) / math.sqrt(duty), rel=0.01
    )
    assert readings["flicker_index"] == pytest.approx(1 - duty, abs=0.01)
    assert readings["flicker_pct"] == pytest.approx(100, abs=0.5)
    for order in (3, 5, 7):
        wanted = 100 * abs(math.cos(order * angle)) / (order * math.cos(angle))
        assert readings[f"harmonic_{order}_pct"] == pytest.approx(wanted, abs=0.3), order


@pytest.mark.parametrize(
    ("mains_v", "mains_hz", "capacitance_f"),
    [(230.0, 50.0, 4.7e-6), (230.0, 50.0, 10e-6), (230.0, 50.0, 47e-6), (120.0, 60.0, 10e-6)],
)
def test_capacitor_input_with_a_constant_current_load(
    laboratory: Laboratory, mains_v: float, mains_hz: float, capacitance_f: float
) -> None:
    # Closed form: with k = I/(ωC·Vpk) the diodes turn off at b = acos(-k), the capacitor falls on a straight
    # line and they turn on at a, sin b - k(π + a - b) = sin a; between a and b the mains gives
    # I + ωC·Vpk·cos. The drop of the two diodes is taken off the peak and put back into the power.
    omega = 2 * math.pi * mains_hz
    diodes_v = 2 * 0.7
    peak_v = math.sqrt(2.0) * mains_v - diodes_v
    swing_a = omega * capacitance_f * peak_v
    off = math.acos(-SET_A / swing_a)
    on = brentq(
        lambda a: math.sin(off) - SET_A / swing_a * (math.pi + a - off) - math.sin(a), 0.0, math.pi / 2
    )

    def ampere(angle: float) -> float:
        return SET_A + swing_a * math.cos(angle)

    rms_a = math.sqrt(quad(lambda x: ampere(x) ** 2, on, off)[0] / math.pi)
    watt = quad(lambda x: (peak_v * math.sin(x) + diodes_v) * ampere(x), on, off)[0] / math.pi

    # An ideal supply would step to the turn-on current. Ours has 1 µH and just the resistance that keeps the
    # step from ringing; with the slope of the diodes it rounds the tall narrow pulse of a large capacitor.
    lamp = ideal_lamp(
        mains_v=mains_v,
        mains_hz=mains_hz,
        mains_ohm=1.4 * math.sqrt(1e-6 / capacitance_f),
        string_v=0.5 * peak_v,
        diode_a=0.5,
        reservoir=reservoir(capacitance_f, esr_ohm=1e-3, esr_100khz_ohm=1e-3),
    )
    [result] = laboratory.take(case_of(lamp, "steady"), keep_waves=True)
    readings: dict[str, Any] = dict(result.readings)
    assert readings["led_current_A"] == pytest.approx(SET_A, rel=2e-3)
    assert readings["bus_ripple_V"] == pytest.approx(peak_v * (1 - math.sin(on)), rel=0.01)
    assert readings["conduction_start_deg"] == pytest.approx(math.degrees(on), abs=0.5)
    assert readings["input_power_W"] == pytest.approx(watt, rel=0.01)
    assert readings["input_current_A"] == pytest.approx(rms_a, rel=0.03)
    assert readings["power_factor"] == pytest.approx(watt / (mains_v * rms_a), rel=0.03)
    assert result.waves is not None
    last = result.waves["steady"]["time"] > result.waves["steady"]["time"][-1] - 1 / mains_hz
    peak_a = np.abs(result.waves["steady"]["i(vinput)"][last]).max()
    assert peak_a == pytest.approx(ampere(on), rel=0.05)


def step_peak_a(volt: float, ohm: float, henry: float, farad: float) -> float:
    """Peak of the current after a step onto R, L and C in series: V/(L·w)·e^(-at)·sin(wt), or sinh."""
    alpha = ohm / (2 * henry)
    squared = 1 / (henry * farad) - alpha**2
    w = math.sqrt(abs(squared))
    if squared > 0:
        at_s = math.atan2(w, alpha) / w
        return volt / (henry * w) * math.exp(-alpha * at_s) * math.sin(w * at_s)
    at_s = math.atanh(w / alpha) / w
    return volt / (henry * w) * math.exp(-alpha * at_s) * math.sinh(w * at_s)


@pytest.mark.parametrize(
    ("fusing_ohm", "mains_ohm", "henry", "farad", "about_a"),
    [
        (10.0, 0.001, 1e-6, 10e-6, 32.5),  # RC: V/R
        (10.0, 0.4, 795.8e-6, 10e-6, 18.5),
        (None, 0.4, 795.8e-6, 10e-6, 35.2),
        (None, 0.4, 795.8e-6, 47e-6, 73.4),
    ],
)
def test_the_inrush_of_an_empty_reservoir(
    laboratory: Laboratory,
    fusing_ohm: float | None,
    mains_ohm: float,
    henry: float,
    farad: float,
    about_a: float,
) -> None:
    # Closed form: step response of a series RLC circuit; the sine stands still for the length of the pulse.
    lamp = ideal_lamp(
        diode_v=1.0,
        diode_a=about_a,
        line_fusing=FusingResistor(resistance_ohm=fusing_ohm, power_w=3.0) if fusing_ohm else None,
        reservoir=reservoir(farad, esr_ohm=1e-3),
    )
    lamp = changed(lamp, mains={"resistance_ohm": mains_ohm, "inductance_h": henry})
    readings = laboratory.readings(lamp, "switch-on")
    small_ohm = 1e-3 + 2e-3
    volt = math.sqrt(2.0) * 230.0 - 2.0
    wanted_a = step_peak_a(volt, (fusing_ohm or 0.0) + mains_ohm + small_ohm, henry, farad)
    assert readings["inrush_peak_A"] == pytest.approx(wanted_a, rel=5e-3)
    assert wanted_a == pytest.approx(about_a, rel=0.02), "the drop of the diodes is only known there"


@pytest.mark.parametrize("ohm", [2.2, 10.0, 47.0])
def test_the_fusing_resistor_takes_half_cv2_whatever_its_ohms(laboratory: Laboratory, ohm: float) -> None:
    # Closed form: C charged to V through R leaves C·V²/2 in R, and the I²t is V²·C/(2R).
    lamp = ideal_lamp(
        diode_v=0.9,
        diode_a=3.0,
        line_fusing=FusingResistor(resistance_ohm=ohm, power_w=3.0),
        reservoir=reservoir(2.2e-6, esr_ohm=1e-3),
    )
    readings = laboratory.readings(lamp, "switch-on")
    volt = math.sqrt(2.0) * 230.0 - 2 * 0.9
    assert readings["inrush_line_fusing_J"] == pytest.approx(2.2e-6 * volt**2 / 2, rel=5e-3)
    assert readings["inrush_line_fusing_i2t_A2s"] == pytest.approx(2.2e-6 * volt**2 / (2 * ohm), rel=5e-3)


@pytest.mark.parametrize(("farad", "ohm"), [(0.47e-6, 1e6), (10e-6, 100e3)])
def test_a_bus_empties_along_an_exponential(laboratory: Laboratory, farad: float, ohm: float) -> None:
    # Closed form: t = R·C·ln(V0/V), stored C·V0²/2.
    lamp = ideal_lamp(reservoir=reservoir(farad, esr_ohm=1e-3), bleed=BleedResistor(resistance_ohm=ohm))
    readings = laboratory.readings(lamp, "unplug")
    start_v = readings["unplug_bus_V"]
    assert start_v == pytest.approx(math.sqrt(2.0) * 230.0, abs=1.5)
    assert readings["stored_energy_J"] == pytest.approx(farad * start_v**2 / 2, rel=1e-6)
    for level_v in (60, 34):
        wanted_s = ohm * farad * math.log(start_v / level_v)
        assert readings[f"discharge_{level_v}V_s"] == pytest.approx(wanted_s, rel=1e-3)


def test_the_largest_time_constant_for_a_plug_takes_its_second(laboratory: Laboratory) -> None:
    # IEC 60598-1, 8.2.7: at most 34 V 1 s after unplugging; from the peak of 230 V that is R·C of 0.4428 s.
    lamp = ideal_lamp(reservoir=reservoir(1e-6, esr_ohm=1e-3), bleed=BleedResistor(resistance_ohm=442.8e3))
    assert laboratory.readings(lamp, "unplug")["discharge_34V_s"] == pytest.approx(1.0, abs=3e-3)


STRINGS = {
    "flood": load_lamp("kerbside-flood").string,
    "bulb": load_lamp("pantry-bulb").string,
    "panel": load_lamp("corridor-panel").string,
    # A junction far steeper than any real one: its saturation current is below what the engine takes.
    "sharp": sharp_string(240.0),
}


def pvlib_a(string: LedString, volt: NDArray[np.float64]) -> NDArray[np.float64]:
    """Current of a string by pvlib: a solar cell in the dark, its current counted the other way."""
    dark_a = i_from_v(
        voltage=volt,
        photocurrent=0.0,
        saturation_current=string.led_saturation_a * string.parallel,
        resistance_series=string.led_series_ohm * string.series / string.parallel,
        resistance_shunt=np.inf,
        nNsVth=string.emission * string.series * THERMAL_V,
        method="lambertw",
    )
    return np.asarray(-dark_a)


@pytest.mark.parametrize("name", STRINGS)
def test_the_string_in_the_engine_is_pvlibs_single_diode(laboratory: Laboratory, name: str) -> None:
    # pvlib's single-diode solution, from a microampere to the top of the half wave.
    string = STRINGS[name]
    own = string.voltage_v(string.forward_current_a * string.parallel)
    lamp = plain_lamp(string=string, mains=Mains(voltage_v=0.9 * own, frequency_hz=50.0))
    [result] = laboratory.take(case_of(lamp, "steady"), keep_waves=True)
    assert result.waves is not None
    waves = result.waves["steady"]
    volt, ampere = waves["v(bus)"] - waves["v(drain)"], waves["i(vstring)"]
    lit = ampere > 1e-6
    assert lit.sum() > 100
    assert ampere[lit] == pytest.approx(pvlib_a(string, volt[lit]), rel=2e-3)


@pytest.mark.parametrize("name", STRINGS)
def test_the_string_shows_its_data_sheet_point(name: str) -> None:
    # pvlib's single-diode solution with our parameters: the voltage and the slope the data sheet gives.
    string = STRINGS[name]
    test_v = string.series * string.forward_voltage_v
    step_v = 1e-4 * test_v
    below_a, at_a, above_a = pvlib_a(string, np.array([test_v - step_v, test_v, test_v + step_v]))
    assert at_a == pytest.approx(string.forward_current_a * string.parallel, rel=1e-6)
    slope_ohm = 2 * step_v / (above_a - below_a)
    assert slope_ohm == pytest.approx(string.dynamic_ohm * string.series / string.parallel, rel=1e-3)
