"""Rows of the validation page besides measurements: standards, closed forms, libraries, integrations.

Each is one figure of a check that the tests make in many cases; its source names which tests those are.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from functools import cache

import numpy as np
from fluids.atmosphere import ATMOSPHERE_1976
from ht import Nu_vertical_plate_Churchill
from pqopen import powerquality
from pvlib.pvsystem import i_from_v
from scipy.constants import elementary_charge, k, zero_Celsius

from coldiron.heat.convection import convection_w_per_m2_k
from coldiron.lamp.parts import BleedResistor, Bridge, FusingResistor, LedString, Mains, Sinks
from coldiron.lamp.topologies.linear_sinks import LinearSinksLamp as Lamp
from coldiron.readings import flicker, harmonics, pst
from coldiron.sources.surge_generator import SurgeGenerator
from generator_rig import LEVEL_V, figures
from independent_lamp import steady, switched_on
from laboratory import Laboratory, case_of, changed
from lamps import load_lamp, plain_lamp, reservoir
from validation_row import Row

SURGE = "IEC 61000-4-5 Ed.3, 6.2 and table 2 (test_surge_generator)"
PERCEPTION = "IEC TR 61547-1 chain, unit perception (test_readings_pst)"
SERIES = "closed form: Fourier series of a block (test_readings_harmonics)"
PACKAGE = "pqopen-lib, grouping of IEC 61000-4-7 (test_readings_harmonics)"
BLOCK = "closed form: a constant current above a voltage (test_closed_forms)"
DIODE = "pvlib, single-diode equation by Lambert W (test_closed_forms)"
PLATE = "ht and fluids: Churchill and Chu, U.S. Standard Atmosphere (test_heat_network)"
OTHER_WAY = "integration of the whole lamp that shares no code with the decks (test_independent_integration)"
BALANCE = "what the mains gives is what the parts take (test_steady_bench, random_places)"
SET_A = 0.06


def laws() -> list[Row]:
    """Every row, in the order of its number."""
    return [
        *_surge_generator(),
        *_light(),
        *_current(),
        *_closed_forms(),
        *_string(),
        *_housing(),
        *_other_way(),
        *_balance(),
    ]


def _surge_generator() -> Iterator[Row]:
    found = cache(lambda lab: figures(lab, SurgeGenerator(), "bare"))

    def read(name: str, factor: float) -> Callable[[Laboratory], float]:
        return lambda lab: factor * found(lab)[name]

    case = "surge generator, bare output, 1 kV"
    for name, reading, unit, factor, value, share in (
        ("peak_v", "open-circuit peak", "V", 1.0, LEVEL_V, 0.10),
        ("voltage_front_s", "front of the open-circuit voltage", "µs", 1e6, 1.2, 0.30),
        ("voltage_width_s", "its duration", "µs", 1e6, 50.0, 0.20),
        ("current_front_s", "front of the short-circuit current", "µs", 1e6, 8.0, 0.20),
        ("current_duration_s", "its duration", "µs", 1e6, 20.0, 0.20),
        ("impedance_ohm", "effective impedance", "Ω", 1.0, 2.0, 0.10),
    ):
        yield Row(
            "S1", case, reading, unit, (1 - share) * value, (1 + share) * value, SURGE, read(name, factor)
        )
    yield Row("S1", case, "undershoot", "%", 0.0, 30.0, SURGE, read("undershoot_ratio", 100.0))


def _light() -> Iterator[Row]:
    turn = np.linspace(0.0, 1.0, 20_001)

    def perceived(hertz: float, depth_pct: float) -> Callable[[Laboratory], float]:
        wave = 1.0 + 0.01 * depth_pct * np.sin(2 * np.pi * turn)
        return lambda lab: float(pst.periodic_sensation(turn / hertz, wave).max())

    for hertz, depth_pct in ((8.8, 0.3150), (20.0, 0.484)):
        yield Row("S2", f"sine modulation of {depth_pct:g} % at {hertz:g} Hz", "sensation", "", 0.997, 1.003,
                  PERCEPTION, perceived(hertz, depth_pct))  # fmt: skip
    sine = 1.0 + np.sin(2 * np.pi * turn)
    yield Row("S3", "fully modulated sine", "percent flicker", "%", 99.9, 100.1,
              "definition of the IES (test_readings_flicker)",
              lambda lab: flicker.flicker_pct(sine))  # fmt: skip
    yield Row("S3", "fully modulated sine", "flicker index", "", 0.999 / math.pi, 1.001 / math.pi,
              "closed form 1/π (test_readings_flicker)",
              lambda lab: flicker.flicker_index(turn, sine))  # fmt: skip


def _block(ratio: float) -> tuple[np.ndarray, np.ndarray]:
    """One turn of a constant current that flows while a sine is above a share of its peak."""
    edge = math.asin(ratio) / (2 * math.pi)
    corners = [0.0, edge, edge, 0.5 - edge, 0.5 - edge, 0.5 + edge, 0.5 + edge, 1 - edge, 1 - edge, 1.0]
    heights = [0.0, 0.0, 1.0, 1.0, 0.0, 0.0, -1.0, -1.0, 0.0, 0.0]
    return np.array(corners), np.array(heights)


def _current() -> Iterator[Row]:
    turn, current = _block(0.75)
    angle = math.asin(0.75)

    def third(lab: Laboratory) -> float:
        return float(100 * harmonics.harmonic_ratios(harmonics.phasors(turn, current))[3])

    def apart(lab: Laboratory) -> float:
        rate = 32_768
        points = np.mod(np.arange(10 * rate) / rate, 1.0)
        spectrum = powerquality.resample_and_fft(np.interp(points, turn, current), 10 * rate)
        theirs, _ = powerquality.calc_harmonics(spectrum, 10, 40)
        ours = 100 * harmonics.harmonic_ratios(harmonics.phasors(turn, current))
        return float(np.abs(ours[2:] - 100 * theirs[2:] / theirs[1]).max())

    case = "block of current above 0.75 of the peak"
    told = 100 * abs(math.cos(3 * angle)) / (3 * math.cos(angle))
    yield Row("L1", case, "third harmonic", "%", told - 0.01, told + 0.01, SERIES, third)
    yield Row("L1", case, "harmonics 2 to 40, farthest from the package", "%", 0.0, 0.06, PACKAGE, apart)


def _sharp_string(volt: float) -> LedString:
    """A string that hardly conducts below a voltage and carries the set current at it."""
    number = math.ceil(volt / 35.0)
    emission = volt / number / (240.0 * _thermal_v())
    slope_ohm = 1.001 * emission * _thermal_v() / SET_A
    return LedString(
        series=number, forward_voltage_v=volt / number, forward_current_a=SET_A, emission=emission,
        slope_ohm=slope_ohm,
    )  # fmt: skip


def _thermal_v() -> float:
    return float(k * (zero_Celsius + 25.0) / elementary_charge)


def ideal_lamp(string_v: float, **parts: object) -> Lamp:
    """A stiff supply, small diodes of 0.7 V, a string with a sharp knee, one sink."""
    nearly: dict[str, object] = {
        "mains": Mains(voltage_v=230.0, frequency_hz=50.0, resistance_ohm=0.001, inductance_h=1e-6),
        "line_fusing": None,
        "varistor": None,
        "bridge": Bridge(
            forward_voltage_v=0.7, forward_current_a=SET_A, series_resistance_ohm=1e-3,
            junction_capacitance_f=1e-12, storage_time_s=1e-9,
        ),
        "film": None,
        "bleed": None,
        "string": _sharp_string(string_v),
        "sinks": Sinks(count=1, sense_voltage_v=0.6, sense_resistor_ohm=10.0, on_resistance_ohm=0.05),
    }  # fmt: skip
    return plain_lamp(**(nearly | parts))


def _closed_forms() -> Iterator[Row]:
    peak_v, ratio = math.sqrt(2.0) * 230.0, 0.75
    angle = math.asin(ratio)
    duty = 1 - 2 * angle / math.pi
    block = cache(
        lambda lab: lab.readings(ideal_lamp((ratio * peak_v - 1.4 - 0.3) / (1 - 1 / 240)), "steady")
    )
    factor = 2 * math.sqrt(2) / math.pi * math.cos(angle) / math.sqrt(duty)
    case = "ideal lamp without reservoir, string at 0.75 of the peak"
    yield Row("C1", case, "power factor", "", 0.99 * factor, 1.01 * factor, BLOCK,
              lambda lab: block(lab)["power_factor"])  # fmt: skip
    yield Row("C1", case, "flicker index", "", 0.99 - duty, 1.01 - duty, BLOCK,
              lambda lab: block(lab)["flicker_index"])  # fmt: skip

    emptied = cache(
        lambda lab: lab.readings(
            ideal_lamp(
                345.0, reservoir=reservoir(10e-6, esr_ohm=1e-3), bleed=BleedResistor(resistance_ohm=100e3)
            ),
            "unplug",
        )
    )

    def decay(lab: Laboratory) -> float:
        # R·C is one second.
        return float(emptied(lab)["discharge_34V_s"] / math.log(emptied(lab)["unplug_bus_V"] / 34.0))

    yield Row("C2", "10 µF and 100 kΩ unplugged", "time to 34 V over R·C·ln(V0/V)", "", 0.999, 1.001,
              "closed form (test_closed_forms)",
              decay)  # fmt: skip

    charged = cache(
        lambda lab: lab.readings(
            ideal_lamp(
                345.0,
                line_fusing=FusingResistor(resistance_ohm=10.0, power_w=3.0),
                reservoir=reservoir(2.2e-6, esr_ohm=1e-3),
            ),
            "switch-on",
        )
    )
    half = 2.2e-6 * (peak_v - 1.8) ** 2 / 2
    yield Row("C3", "2.2 µF charged through 10 Ω", "energy in the resistor over C·V²/2", "", 0.99, 1.01,
              "closed form (test_closed_forms)",
              lambda lab: charged(lab)["inrush_line_fusing_J"] / half)  # fmt: skip


def _string() -> Iterator[Row]:
    def apart(lab: Laboratory) -> float:
        string = load_lamp("kerbside-flood").string
        own_v = string.voltage_v(string.forward_current_a * string.parallel)
        lamp = plain_lamp(string=string, mains=Mains(voltage_v=0.9 * own_v, frequency_hz=50.0))
        [result] = lab.take(case_of(lamp, "steady"), keep_waves=True)
        assert result.waves is not None
        waves = result.waves["steady"]
        volt, ampere = waves["v(bus)"] - waves["v(drain)"], waves["i(vstring)"]
        lit = ampere > 1e-6
        theirs = -i_from_v(
            voltage=volt[lit], photocurrent=0.0, resistance_shunt=np.inf,
            saturation_current=string.led_saturation_a * string.parallel,
            resistance_series=string.led_series_ohm * string.series / string.parallel,
            nNsVth=string.emission * string.series * _thermal_v(), method="lambertw",
        )  # fmt: skip
        return float(100 * np.abs(ampere[lit] / theirs - 1).max())

    yield Row("L2", "string of the flood, 1 µA to its crest", "current, farthest from the equation", "%",
              0.0, 0.2, DIODE, apart)  # fmt: skip


def _housing() -> Iterator[Row]:
    def apart(lab: Laboratory) -> float:
        film_k = 45.0 + 273.15
        conductivity = ATMOSPHERE_1976.thermal_conductivity(film_k)
        viscosity = ATMOSPHERE_1976.viscosity(film_k)
        density = ATMOSPHERE_1976.density(film_k, 101325.0)
        grashof = 9.80665 * 40.0 / film_k * 0.1**3 * (density / viscosity) ** 2
        nusselt = float(Nu_vertical_plate_Churchill(viscosity * 1007.0 / conductivity, grashof))
        return convection_w_per_m2_k(65.0, 25.0, 0.1) / (nusselt * conductivity / 0.1)

    yield Row("L3", "wall of 100 mm, 40 K above still air", "coefficient over theirs", "", 0.9999, 1.0001,
              PLATE, apart)  # fmt: skip


def _other_way() -> Iterator[Row]:
    lamp = changed(load_lamp("kerbside-flood"), reservoir=reservoir(22e-6))

    def settled(lab: Laboratory) -> float:
        ours = steady(lamp, 230.0, 50.0)
        readings = lab.readings(lamp, "steady")
        return float(max(100 * abs(readings[name] / value - 1) for name, value in ours.items() if value))

    def inrush(lab: Laboratory) -> float:
        readings = lab.readings(lamp, "switch-on")
        ours = switched_on(lamp, 230.0, 50.0, readings["inrush_phase_deg"])
        return float(max(100 * abs(readings[name] / value - 1) for name, value in ours.items() if value))

    case = "kerbside flood with 22 µF"
    yield Row("I1", case, "settled readings, farthest apart", "%", 0.0, 1.0, OTHER_WAY, settled)
    yield Row("I2", case, "switch-on readings, farthest apart", "%", 0.0, 1.0, OTHER_WAY, inrush)


def _balance() -> Iterator[Row]:
    def open_pct(name: str) -> Callable[[Laboratory], float]:
        return lambda lab: abs(lab.readings(load_lamp(name), "steady")["power_balance_pct"])

    for name in ("kerbside-flood", "pantry-bulb", "corridor-panel"):
        yield Row(
            "B1",
            f"{name} as found",
            "power that is not accounted for",
            "%",
            0.0,
            0.5,
            BALANCE,
            open_pct(name),
        )
