"""What further parts do in a whole lamp, against closed forms. Sources stand beside the checks."""

from __future__ import annotations

import cmath
import math
from pathlib import Path

import numpy as np
import pytest

from coldiron.benches.cycle import Window
from coldiron.engine.waves import Waveforms
from coldiron.lamp.lamp import Lamp
from ideal_lamps import ideal_sinks, with_parts
from laboratory import Laboratory, case_of
from random_places import demo

pytestmark = pytest.mark.ngspice
FILE = Path("study.toml")
PEAK_V = math.sqrt(2.0) * 230.0


def steady_window(laboratory: Laboratory, lamp: Lamp) -> tuple[Window, dict[str, float]]:
    """Last settled cycle of a lamp on its own mains, and its readings."""
    case = case_of(lamp, "steady")
    [result] = laboratory.take(case, keep_waves=True)
    assert result.waves is not None
    vectors = {name: np.asarray(values) for name, values in result.waves["steady"].items()}
    waves = Waveforms(vectors.pop("time"), vectors)
    stop_s = float(waves.time_s[-1])
    cycle_s = case.conditions.operating_point().cycle_s
    readings = {name: value for name, value in result.readings.items() if isinstance(value, float)}
    return Window(
        lamp, waves, stop_s - cycle_s, stop_s, case.conditions.operating_point().part_conditions()
    ), readings


def test_a_capacitor_over_the_string_smooths_as_two_exponentials(laboratory: Laboratory) -> None:
    # Closed form: the string and its capacitor take I for the share D of a half cycle, nothing for the rest;
    # through the slope resistance r the current of the LEDs follows with τ = r C. Circuit theory.
    lamp = demo("kerbside-flood")
    _, bare = steady_window(laboratory, lamp)
    for farad in (150e-6, 330e-6):
        table = {
            "kind": "electrolytic",
            "across": "string",
            "capacitance": farad,
            "esr": 0.1,
            "esr_100khz": 0.1,
        }
        smoothed = with_parts(lamp, FILE, ("C9", table))
        window, got = steady_window(laboratory, smoothed)
        fed_a = window.current_a("string") + window.current_a("C9")
        set_a = lamp.lit_a
        duty = window.mean(fed_a) / set_a
        string = lamp.circuit.lights[0]
        mean_a = got["led_current_A"]
        slope_ohm = (string.voltage_v(1.02 * mean_a) - string.voltage_v(0.98 * mean_a)) / (0.04 * mean_a)
        tau, half_s = slope_ohm * farad, 0.01
        high = set_a * (1 - math.exp(-duty * half_s / tau)) / (1 - math.exp(-half_s / tau))
        low = high * math.exp(-(1 - duty) * half_s / tau)
        expected = 100 * (high - low) / (high + low)
        assert got["flicker_pct"] == pytest.approx(expected, rel=0.1), farad
        assert got["flicker_pct"] < bare["flicker_pct"] / 2


def test_a_capacitor_over_the_string_hardly_changes_the_inrush(laboratory: Laboratory) -> None:
    # It charges through the sinks, which let no more through than their set current.
    lamp = demo("kerbside-flood")
    table = {"kind": "electrolytic", "across": "string", "capacitance": "100 µF"}
    bare = laboratory.readings(lamp, "switch-on")
    smoothed = laboratory.readings(with_parts(lamp, FILE, ("C9", table)), "switch-on")
    stored = {**table, "across": ["bus", "minus"], "esr": 0.5, "esr_100khz": 0.5}
    reservoir = laboratory.readings(with_parts(lamp, FILE, ("C9", stored)), "switch-on")
    # What is left of a change: the drain now rises with the bus and charges its own capacitance.
    more_a = smoothed["inrush_peak_A"] - bare["inrush_peak_A"]
    assert 0.0 <= more_a < 0.2 * bare["inrush_peak_A"]
    assert more_a < 0.1 * (reservoir["inrush_peak_A"] - bare["inrush_peak_A"])
    # While it is empty, the sinks hold the whole bus: their load is at its highest.
    assert smoothed["inrush_drain_peak_V"] > 0.9 * PEAK_V > bare["inrush_drain_peak_V"]


def test_a_half_wave_lamp_is_lit_for_the_arc_of_one_half(laboratory: Laboratory) -> None:
    # Closed form: lit while the sine is above string, diode and sinks: (π - 2 asin(V/Vpk)) / 2π of a cycle.
    lamp, needed_v = ideal_sinks("half wave", 180.0)
    window, got = steady_window(laboratory, lamp)
    duty = (math.pi - 2 * math.asin(needed_v / PEAK_V)) / (2 * math.pi)
    lit = window.string_a > 0.5 * lamp.lit_a
    share = float(np.trapezoid(lit.astype(float), window.time_s) / np.ptp(window.time_s))
    assert share == pytest.approx(duty, rel=0.01)
    assert got["led_current_A"] == pytest.approx(duty * lamp.lit_a, rel=0.01)
    # One half wave only: even harmonics, and a mean that a bridge would not have.
    assert got["harmonic_2_pct"] > 20.0


def test_a_valley_fill_holds_half_the_peak(laboratory: Laboratory) -> None:
    # Two capacitors charge in series to half of the peak each, and feed side by side: circuit theory.
    lamp = demo("stairwell-dome")
    window, _ = steady_window(laboratory, lamp)
    bus_v = window.v("bus")
    drops_v = 2 * 0.9 + 0.9
    # Between the crests they lose I t / 2C: at most 10 mA for a whole half cycle of each microfarad pair.
    sag_v = lamp.lit_a * 0.01 / (2 * 10e-6)
    assert PEAK_V / 2 - drops_v - sag_v < bus_v.min() < PEAK_V / 2
    for name in ("upper", "lower"):
        held_v = window.part(name).dielectric_v(window)  # type: ignore[union-attr]
        assert held_v.max() == pytest.approx((PEAK_V - drops_v) / 2, rel=0.03)
    # The mains feeds the string from 30 to 150 degrees of each half: published for the circuit, from memory.
    current_a = np.abs(window.input_a)
    lit = current_a > 0.3 * lamp.lit_a
    share = float(np.trapezoid(lit.astype(float), window.time_s) / np.ptp(window.time_s))
    assert share == pytest.approx(120 / 180, abs=0.06)


def test_a_snubber_in_a_lamp_leaks_omega_c_v(laboratory: Laboratory) -> None:
    # ω C V = 0.72 mA per 10 nF at 230 V 50 Hz (circuit theory).
    table = {
        "kind": "RC snubber",
        "across": ["line", "neutral"],
        "resistance": "100 Ω",
        "capacitance": "10 nF",
    }
    lamp = with_parts(demo("kerbside-flood"), FILE, ("RC1", table))
    window, _ = steady_window(laboratory, lamp)
    assert window.rms(window.current_a("RC1")) == pytest.approx(0.7226e-3, rel=0.02)


def test_a_second_varistor_shares_the_current_as_two_power_laws_do(laboratory: Laboratory) -> None:
    # Two discs at one voltage: i1 / i2 = (v / V1)^a1 / (v / V2)^a2, the law written down anew; each behind
    # its series resistance. The same disc twice halves the current.
    lamp = demo("kerbside-flood")
    own = lamp.circuit["varistor"].values
    exponent = own.exponent("nominal")
    for second_v in (own.one_milliamp_voltage_v, 1.04 * own.one_milliamp_voltage_v):
        table = {
            "kind": "varistor", "across": "varistor", "ac_rating": own.ac_rating_v,
            "one_milliamp_voltage": second_v, "clamping_current": own.clamping_current_a,
            "clamping_voltage": own.clamping_voltage_v * second_v / own.one_milliamp_voltage_v,
        }  # fmt: skip
        [result] = laboratory.take(
            case_of(
                with_parts(lamp, FILE, ("V2", table)), "surge",
                surge_angles_deg=(90.0,), surge_polarities=(1,), surge_level_v=1000.0,
            ),
        )  # fmt: skip
        got = result.readings
        shared = float(got["surge_varistor_peak_A"]) / float(got["surge_V2_peak_A"])
        # At equal voltage less the drop of each in its own resistance.
        amps = float(got["surge_varistor_peak_A"]), float(got["surge_V2_peak_A"])
        v1 = own.one_milliamp_voltage_v * (amps[0] / 1e-3) ** (1 / exponent)
        v2 = second_v * (amps[1] / 1e-3) ** (1 / exponent)
        drop = own.series_resistance_ohm
        assert v1 + drop * amps[0] == pytest.approx(v2 + drop * amps[1], rel=0.005)
        assert (
            shared == pytest.approx(1.0, rel=0.01) if second_v == own.one_milliamp_voltage_v else shared > 1.5
        )


def crest_a(volt: float, ohm: float, henry: float, farad: float) -> float:
    """Peak of the current that a voltage drives into an empty capacitor through R and L [A]."""
    root = cmath.sqrt((ohm / (2 * henry)) ** 2 - 1 / (henry * farad))
    s1, s2 = -ohm / (2 * henry) + root, -ohm / (2 * henry) - root
    at_s = cmath.log(s2 / s1) / (s1 - s2)
    return (volt / (henry * (s1 - s2)) * (cmath.exp(s1 * at_s) - cmath.exp(s2 * at_s))).real


def test_a_thermistor_softens_the_inrush_and_takes_its_watts(laboratory: Laboratory) -> None:
    # A crest into an empty capacitor through R and L: i = V / (L (s1 - s2)) (exp(s1 t) - exp(s2 t)), whose
    # peak is found from s1 exp(s1 t) = s2 exp(s2 t); circuit theory.
    reservoir = {
        "kind": "electrolytic",
        "across": ["bus", "minus"],
        "capacitance": "22 µF",
        "esr": 0.5,
        "esr_100khz": 0.5,
    }
    lamp = with_parts(demo("kerbside-flood"), FILE, ("C7", reservoir))
    table = {"kind": "thermistor", "after": "line_fusing", "r25": "22 Ω"}
    softened = with_parts(lamp, FILE, ("NTC1", table))
    bare, soft = laboratory.readings(lamp, "switch-on"), laboratory.readings(softened, "switch-on")
    legs = sum(part.cold_ohm for part in lamp.circuit.carrying_mains())  # type: ignore[attr-defined]
    for got, more_ohm in ((bare, 0.0), (soft, 22.0)):
        expected = crest_a(PEAK_V - 1.8, legs + 0.4 + 0.5 + more_ohm, lamp.mains.inductance_h, 22e-6)
        assert got["inrush_peak_A"] == pytest.approx(expected, rel=0.05)
    window, got = steady_window(laboratory, softened)
    # In settled work it is printed at the temperature it stands at: cold here, P = I² R(25 °C).
    rms_a = window.rms(window.current_a("NTC1"))
    assert got["NTC1_W"] == pytest.approx(22.0 * rms_a**2, rel=1e-3)
    assert got["NTC1_rms_A"] == pytest.approx(rms_a, rel=1e-6)


def test_a_choke_in_the_line_takes_what_its_flux_and_resistance_say(laboratory: Laboratory) -> None:
    # L di/dt + R i, by the difference of the waves themselves: Faraday and Ohm.
    table = {
        "kind": "choke",
        "after": "line_fusing",
        "inductance": "10 mH",
        "resistance": "15 Ω",
        "saturation": "5 A",
    }
    lamp = with_parts(demo("kerbside-flood"), FILE, ("L1", table))
    window, got = steady_window(laboratory, lamp)
    choke = window.part("L1")
    assert choke is not None
    amps, time_s = choke.current_a(window), window.time_s
    # Volt seconds over the window are L times the change of current, and the drop in its copper.
    flux = np.concatenate(
        ([0.0], np.cumsum(np.diff(time_s) * 0.5 * (choke.across_v(window)[1:] + choke.across_v(window)[:-1])))
    )
    copper = np.concatenate(([0.0], np.cumsum(np.diff(time_s) * 7.5 * (amps[1:] + amps[:-1]))))
    expected = (flux - copper) / 10e-3
    assert np.abs(amps - amps[0] - expected).max() < 0.02 * np.abs(amps).max()
    assert got["L1_W"] == pytest.approx(15.0 * window.rms(amps) ** 2, rel=0.05)
    assert abs(got["power_balance_pct"]) < 0.1
