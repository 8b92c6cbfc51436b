"""Each kind of part alone on a sine, against a closed form with its source beside it."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from coldiron.heat.own_seats import settled_c
from coldiron.parts.choke import Choke, ChokeValues
from coldiron.parts.fuse import Fuse, FuseValues
from coldiron.parts.gas_discharge_tube import GasDischargeTube, GasDischargeTubeValues
from coldiron.parts.part import Duty, Part, PartConditions
from coldiron.parts.rc_snubber import RCSnubber, RCSnubberValues
from coldiron.parts.resistor import Resistor, ResistorValues
from coldiron.parts.suppressor_diode import SuppressorDiode, SuppressorDiodeValues
from coldiron.parts.thermistor import Thermistor, ThermistorValues
from coldiron.parts.wire import Wire, WireValues
from coldiron.parts.x2_capacitor import X2Capacitor, X2CapacitorValues
from laboratory import Laboratory
from parts_rig import PartWaves, run_parts

pytestmark = pytest.mark.ngspice
PEAK_V = math.sqrt(2.0) * 230.0
OMEGA = 2 * math.pi * 50.0


def ground() -> Wire:
    """The neutral is the minus of these rigs."""
    return Wire("ground", ("neutral", "minus"), WireValues())


def ohms(name: str, at: tuple[str, str], ohm: float) -> Resistor:
    return Resistor(name, at, ResistorValues(resistance_ohm=ohm))


def load(ohm: float) -> Resistor:
    """A resistor at the end of a rig; the bus is where the engine's stand-alone program looks."""
    return ohms("load", ("bus", "minus"), ohm)


def rms(w: PartWaves, part: Part, since_s: float) -> float:
    late = w.since(since_s)
    return float(np.sqrt(np.trapezoid(part.current_a(late) ** 2, late.time_s) / np.ptp(late.time_s)))


def test_a_snubber_leaks_omega_c_v(laboratory: Laboratory) -> None:
    # i = V / |R + 1/(jωC)|, circuit theory.
    snubber = RCSnubber(
        "RC1", ("line", "neutral"), RCSnubberValues(resistance_ohm=100.0, capacitance_f=33e-9)
    )
    w = run_parts(laboratory, ground(), snubber, ohms("pull", ("line", "bus"), 1e6), load(1e6), peak_v=PEAK_V)
    expected = 230.0 / abs(100.0 + 1 / (1j * OMEGA * 33e-9))
    assert rms(w, snubber, 0.06) == pytest.approx(expected, rel=2e-3)
    assert expected == pytest.approx(OMEGA * 33e-9 * 230.0, rel=1e-4)


def test_an_x2_capacitor_takes_omega_c_v_and_its_own_watts(laboratory: Laboratory) -> None:
    x2 = X2Capacitor(
        "C1", ("line", "neutral"), X2CapacitorValues(capacitance_f=1e-6, series_resistance_ohm=5.0)
    )
    w = run_parts(laboratory, ground(), x2, ohms("pull", ("line", "bus"), 1e6), load(1e6), peak_v=PEAK_V)
    amps = 230.0 / abs(5.0 + 1 / (1j * OMEGA * 1e-6))
    late = w.since(0.06)
    assert rms(w, x2, 0.06) == pytest.approx(amps, rel=2e-3)
    assert x2.dissipated_w(late) == pytest.approx(5.0 * amps**2, rel=5e-3)


def test_a_choke_below_saturation_is_r_and_l_in_series(laboratory: Laboratory) -> None:
    choke = Choke(
        "L1", ("line", "bus"), ChokeValues(inductance_h=0.2, resistance_ohm=20.0, saturation_a=50.0)
    )
    w = run_parts(laboratory, ground(), choke, load(100.0), peak_v=PEAK_V, stop_s=0.2)
    assert rms(w, choke, 0.16) == pytest.approx(230.0 / abs(120.0 + 1j * OMEGA * 0.2), rel=3e-3)


def test_a_saturating_choke_against_an_integration_of_its_flux(laboratory: Laboratory) -> None:
    # Independent: dΦ/dt = v - (R + load)·i(Φ), scipy; the curve written down anew from its definition.
    henry, ohm, knee_a, left = 0.1, 10.0, 0.5, 0.1
    values = ChokeValues(inductance_h=henry, resistance_ohm=ohm, saturation_a=knee_a, saturated_ratio=left)
    choke = Choke("L1", ("line", "bus"), values)
    w = run_parts(laboratory, ground(), choke, load(50.0), peak_v=100.0, stop_s=0.06)

    def amps(flux: float) -> float:
        knee = henry * knee_a
        return (
            flux / henry
            if abs(flux) <= knee
            else math.copysign(knee_a + (abs(flux) - knee) / (left * henry), flux)
        )

    exact = solve_ivp(
        lambda t, y: [100.0 * math.sin(OMEGA * t) - (ohm + 50.0) * amps(y[0])],
        (0.0, 0.06), [0.0], max_step=1e-5, rtol=1e-8, atol=1e-10, t_eval=np.clip(w.time_s, 0.0, 0.06),
    )  # fmt: skip
    expected = np.array([amps(f) for f in exact.y[0]])
    got = choke.current_a(w)
    assert np.abs(expected).max() > 2 * knee_a  # it does saturate
    assert np.abs(got - expected).max() < 0.01 * np.abs(expected).max()


def test_a_thermistor_in_a_pulse_warms_as_its_heat_balance_says(laboratory: Laboratory) -> None:
    # Independent: H dT/dt = v²/R(T)·... - δ(T - Ta), scipy, over 0.1 s on a load.
    values = ThermistorValues(r25_ohm=22.0, beta_k=3000.0, loss_w_per_k=0.01, heat_j_per_k=0.2)
    ntc = Thermistor("NTC1", ("line", "bus"), values)
    hot = PartConditions({"NTC1": 25.0}, pulse=True)
    w = run_parts(laboratory, ground(), ntc, load(22.0), peak_v=100.0, stop_s=0.1, conditions=hot)

    def ohm(celsius: float) -> float:
        return 22.0 * math.exp(3000.0 * (1 / (273.15 + celsius) - 1 / 298.15))

    def slope(t: float, y: np.ndarray) -> list[float]:
        amps = 100.0 * math.sin(OMEGA * t) / (ohm(y[0]) + 22.0)
        return [(amps**2 * ohm(y[0]) - 0.01 * (y[0] - 25.0)) / 0.2]

    exact = solve_ivp(slope, (0.0, 0.1), [25.0], max_step=1e-4, rtol=1e-8)
    assert 25.0 + ntc.rise_k(w)[-1] == pytest.approx(exact.y[0, -1], abs=0.1)
    assert exact.y[0, -1] > 40.0


@pytest.mark.parametrize(
    ("r25", "amps", "ohm", "celsius"),
    [(10.0, 0.06, 8.5, 30.0), (10.0, 0.1, 7.0, 37.0), (10.0, 0.2, 4.35, 54.0), (10.0, 0.5, 1.7, 95.0),
     (47.0, 0.06, 28.0, None), (47.0, 0.2, 9.3, 87.0)],
)  # fmt: skip
def test_a_thermistor_settles_at_its_fixed_point(
    r25: float, amps: float, ohm: float, celsius: float | None
) -> None:
    # Fixed points of 5 mm discs, B 2800 K, 6 mW/K at 25 °C, worked out by hand from the exponential law.
    values = ThermistorValues(r25_ohm=r25, beta_k=2800.0, loss_w_per_k=0.006)
    ntc = Thermistor("NTC1", ("line", "bus"), values, seat="series")
    at_c = settled_c(ntc, 25.0, amps**2 * ntc.ohm(25.0), 25.0)
    assert ntc.ohm(at_c) == pytest.approx(ohm, rel=0.02)
    if celsius is not None:
        assert at_c == pytest.approx(celsius, abs=1.0)


@pytest.mark.parametrize("two_way", [True, False])
def test_a_suppressor_clamps_at_its_breakdown_and_resistance(laboratory: Laboratory, two_way: bool) -> None:
    # At 1 mA it holds its breakdown voltage; above, the series resistance adds its drop.
    values = SuppressorDiodeValues(standoff_voltage_v=200.0, series_resistance_ohm=5.0, two_way=two_way)
    tvs = SuppressorDiode("D9", ("bus", "minus"), values)
    feed = ohms("feed1", ("line", "bus"), 100.0)
    w = run_parts(laboratory, ground(), feed, tvs, load(1e6), peak_v=PEAK_V, stop_s=0.02)
    amps, volts = tvs.current_a(w), w.v("bus")
    at = int(amps.argmax())
    assert volts[at] == pytest.approx(222.0 + 5.0 * amps[at], rel=0.01)
    assert volts.min() == pytest.approx(-volts.max() if two_way else -0.8 - 5.0 * 3.1, rel=0.05)
    assert np.interp(1e-3, amps[: at + 1], volts[: at + 1]) == pytest.approx(222.0, rel=0.005)


def test_a_gas_tube_sparks_burns_low_and_follows_to_the_next_zero(laboratory: Laboratory) -> None:
    values = GasDischargeTubeValues(spark_voltage_v=250.0, arc_voltage_v=20.0, holding_current_a=0.5)
    tube = GasDischargeTube("G1", ("bus", "minus"), values)
    w = run_parts(
        laboratory,
        ground(),
        ohms("feed1", ("line", "bus"), 20.0),
        tube,
        load(1e6),
        peak_v=PEAK_V,
        stop_s=0.03,
    )
    volts, amps, time_s = w.v("bus"), tube.current_a(w), w.time_s
    sparks_s = math.asin(250.0 / PEAK_V) / OMEGA
    before, after = volts[time_s < sparks_s - 2e-5], (time_s > sparks_s + 5e-5) & (time_s < 0.009)
    assert np.abs(before).max() == pytest.approx(250.0, rel=0.01)
    # Follow current: what the sine less the arc voltage drives through the resistor (Ohm).
    expected = (PEAK_V * np.sin(OMEGA * time_s[after]) - 20.0) / (20.0 + values.arc_resistance_ohm)
    assert amps[after] == pytest.approx(expected, rel=0.01)
    # It went out at the zero and had to spark again, the other way.
    assert volts.min() == pytest.approx(-250.0, rel=0.01)


def test_a_gas_tube_stays_open_below_its_spark_voltage(laboratory: Laboratory) -> None:
    tube = GasDischargeTube("G1", ("bus", "minus"), GasDischargeTubeValues(spark_voltage_v=350.0))
    w = run_parts(laboratory, ground(), ohms("feed1", ("line", "bus"), 20.0), tube, load(1e6), peak_v=PEAK_V)
    assert np.abs(tube.current_a(w)).max() < 1e-6


def test_a_fuse_resists_and_tells_its_melting_integral(laboratory: Laboratory) -> None:
    fuse = Fuse("F1", ("line", "bus"), FuseValues(rated_current_a=1.0))
    w = run_parts(laboratory, ground(), fuse, load(100.0), peak_v=PEAK_V)
    assert rms(w, fuse, 0.06) == pytest.approx(230.0 / 100.15, rel=1e-3)
    assert [r.most for pulse in ("", "surge") for r in fuse.ratings(Duty(50.0, pulse=pulse))] == [1.0, 2.0]
