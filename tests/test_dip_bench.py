"""The dip bench against closed forms: the gap in the light, what a reservoir bridges, what rushes in."""

from __future__ import annotations

import math

import numpy as np
import pytest

from coldiron.engine.waves import Waveforms
from coldiron.lamp.parts import FilmCapacitor
from coldiron.study.disturbances import Dip, Sag
from laboratory import Laboratory, case_of, changed
from lamps import load_lamp, plain_lamp, reservoir

pytestmark = pytest.mark.ngspice
SHORT_SAG = Sag(fall_s=0.02, hold_s=0.02, rise_s=0.02)
# A film capacitor of next to nothing: the string's current follows the mains.
DIRECT = plain_lamp(film=FilmCapacitor(capacitance_f=1e-9), bleed=None, varistor=None)


@pytest.mark.parametrize("half_waves", [1, 2, 4])
def test_without_a_reservoir_the_gap_grows_by_the_dip(laboratory: Laboratory, half_waves: int) -> None:
    # Closed form: whole half waves are missing, each 10 ms long.
    readings = laboratory.readings(
        DIRECT, "dip", sag=SHORT_SAG, dip=Dip(duration_s=0.01 * half_waves, angle_deg=(0.0,))
    )
    grown_ms = readings["dip_light_gap_ms"] - readings["light_gap_ms"]
    assert grown_ms == pytest.approx(10.0 * half_waves, abs=0.15)


def test_quiet_gap_of_a_lamp_without_reservoir(laboratory: Laboratory) -> None:
    # Closed form: the string conducts while |v| > Vs, so it is dark for 2 asin(Vs / Vpk) of each half wave.
    lamp = DIRECT
    readings = laboratory.readings(lamp, "dip", sag=SHORT_SAG)
    level_a = 0.1 * lamp.sinks.set_current_a
    dark_v = lamp.string.voltage_v(level_a) + 2.0
    closed_ms = 2 * math.asin(dark_v / (math.sqrt(2.0) * 230.0)) / math.pi * 10.0
    assert readings["light_gap_ms"] == pytest.approx(closed_ms, rel=0.03)


def test_a_reservoir_bridges_the_dip_as_long_as_its_charge_lasts(laboratory: Laboratory) -> None:
    # The sinks draw I from C, so the bus falls by I t / C; with 330 µF half a wave takes 4 V.
    lamp = changed(plain_lamp(), reservoir=reservoir(330e-6))
    readings = laboratory.readings(lamp, "dip", sag=SHORT_SAG)
    assert readings["dip_light_gap_ms"] == 0.0
    assert readings["dip_light_lowest_pct"] > 97.0
    # Quadrature of C dV / I(V) down to a tenth of the current: the sinks hold it while the bus is above the
    # string, then the string's own law does.
    long = laboratory.readings(lamp, "dip", sag=SHORT_SAG, dip=Dip(duration_s=1.0, angle_deg=(90.0,)))
    set_a = lamp.sinks.set_current_a
    drawn_a = np.linspace(set_a, 0.1 * set_a, 2001)
    string_v = np.array([lamp.string.voltage_v(a) + a * 15.0 / 3 for a in drawn_a])
    full_v = laboratory.readings(lamp, "steady")["bus_highest_V"]
    fallen_s = 330e-6 * ((full_v - string_v[0]) / set_a + np.trapezoid(-1 / drawn_a, string_v))
    assert long["dip_light_gap_ms"] == pytest.approx(1e3 * (1.0 - fallen_s), rel=0.03)


def test_return_on_an_empty_reservoir_is_an_inrush(laboratory: Laboratory) -> None:
    # After a long dip that ends at the top of the mains the bus has fallen to the string's voltage; closed
    # form: what is missing to the peak over the resistances, damped by the wiring (so less than that).
    lamp = changed(plain_lamp(), reservoir=reservoir(22e-6, esr_ohm=1.0))
    readings = laboratory.readings(lamp, "dip", sag=SHORT_SAG, dip=Dip(duration_s=0.2, angle_deg=(90.0,)))
    left_v = lamp.string.voltage_v(1e-3)
    most_a = (math.sqrt(2.0) * 230.0 - left_v) / (10.0 + 0.4 + 1.0)
    assert 0.4 * most_a < readings["dip_return_peak_A"] < 1.1 * most_a
    cold = laboratory.readings(lamp, "switch-on")
    assert readings["dip_return_peak_A"] < cold["inrush_peak_A"]


def test_a_sag_below_the_string_is_dark_for_as_long(laboratory: Laboratory) -> None:
    # Closed form: at 60 % of 230 V the peak, 195 V, is below the string; the light is gone while the envelope
    # is below Vs/Vpk on both slopes, give or take the half waves that it is dark for anyway.
    sag = Sag(residual_ratio=0.6, fall_s=0.1, hold_s=0.1, rise_s=0.1)
    readings = laboratory.readings(DIRECT, "dip", sag=sag)
    share = (DIRECT.string.voltage_v(0.1 * DIRECT.sinks.set_current_a) + 2.0) / (math.sqrt(2.0) * 230.0)
    slope_s = 0.1 * (share - 0.6) / 0.4
    assert readings["sag_light_gap_ms"] == pytest.approx(1e3 * (0.1 + 2 * slope_s), abs=10.0)
    assert readings["sag_light_lowest_pct"] < 1.0


def test_a_sag_that_leaves_everything_changes_nothing(laboratory: Laboratory) -> None:
    none = Sag(residual_ratio=1.0, fall_s=0.02, hold_s=0.02, rise_s=0.02)
    readings = laboratory.readings(DIRECT, "dip", sag=none, dip=Dip(residual_ratio=1.0))
    assert readings["sag_light_gap_ms"] == pytest.approx(readings["light_gap_ms"], abs=0.1)
    assert readings["dip_light_gap_ms"] == pytest.approx(readings["light_gap_ms"], abs=0.1)
    assert readings["dip_light_lowest_pct"] == pytest.approx(100.0, abs=2.0)


def test_the_mains_follows_the_envelope(laboratory: Laboratory) -> None:
    # Closed form: a sine times a trapezoid; the lamp takes 0.3 A behind 0.4 ohm and 0.8 mH, so within some
    # volts but for the edges.
    dip = Dip(residual_ratio=0.4, duration_s=0.02, angle_deg=(0.0,))
    [result] = laboratory.take(case_of(DIRECT, "dip", dip=dip, sag=SHORT_SAG), keep_waves=True)
    assert result.waves
    vectors = dict(result.waves["dip"])
    waves = Waveforms(vectors.pop("time"), vectors)
    lead_s = 0.005
    within = (waves.time_s > lead_s + 1e-4) & (waves.time_s < lead_s + 0.02 - 1e-4)
    sine = math.sqrt(2.0) * 230.0 * np.sin(2 * math.pi * 50.0 * (waves.time_s - lead_s))
    height = np.where(within, 0.4, 1.0)
    clear = np.minimum(np.abs(waves.time_s - lead_s), np.abs(waves.time_s - lead_s - 0.02)) > 3e-4
    assert waves.v("line", "neutral")[clear] == pytest.approx((height * sine)[clear], abs=4.0)


@pytest.mark.parametrize("name", ["kerbside-flood", "pantry-bulb", "corridor-panel"])
def test_every_lamp_gives_readings(laboratory: Laboratory, name: str) -> None:
    readings = laboratory.readings(load_lamp(name), "dip", sag=SHORT_SAG)
    assert np.isfinite([value for value in readings.values() if not isinstance(value, str)]).all()
    assert readings["dip_weakest_part"]
