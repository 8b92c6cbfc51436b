"""The surge bench: live mains, every angle and polarity, and what a varistor is there for."""

from __future__ import annotations

import numpy as np
import pytest

from coldiron.lamp.parts import Sinks
from coldiron.lamp.varistor import Varistor
from laboratory import Laboratory, case_of
from lamps import plain_lamp, reservoir

pytestmark = pytest.mark.ngspice
HARSH = {"surge_level_v": 1000.0}


def test_a_varistor_clamps_what_the_sinks_see(laboratory: Laboratory) -> None:
    # common practice, no source: without a varistor a 1 kV surge drives 500 V sinks into breakdown
    guarded = laboratory.readings(plain_lamp(), "surge", **HARSH)
    bare = laboratory.readings(plain_lamp(varistor=None), "surge", **HARSH)
    assert guarded["surge_bus_peak_V"] < 0.75 * bare["surge_bus_peak_V"]
    assert guarded["surge_sink_peak_A"] < 0.3 * bare["surge_sink_peak_A"]
    assert bare["surge_drain_peak_V"] > plain_lamp().sinks.breakdown_v
    assert bare["surge_varistor_energy_J"] == 0.0


def test_the_varistor_stays_on_its_catalogue_curve(laboratory: Laboratory) -> None:
    # Its own two points: at a current below the clamping current the voltage is below the clamping voltage.
    varistor = Varistor(
        ac_rating_v=275.0, one_milliamp_voltage_v=430.0, clamping_voltage_v=710.0, clamping_current_a=50.0
    )
    [result] = laboratory.take(
        case_of(plain_lamp(varistor=varistor, line_fusing=None), "surge", **HARSH), keep_waves=True
    )
    assert result.waves is not None
    waves = result.waves["surge"]
    volt = abs(waves["v(line)"] - waves["v(neutral)"])
    ampere = abs(waves["i(vvaristor)"])
    near = (ampere > 5) & (ampere < 500)
    assert near.any()
    law_v = 430.0 * (ampere[near] / 1e-3) ** (1 / varistor.exponent("high")) + 0.1 * ampere[near]
    assert volt[near] == pytest.approx(law_v, rel=0.01)


def test_the_worst_of_all_angles_and_polarities_is_reported(laboratory: Laboratory) -> None:
    lamp = plain_lamp(varistor=None)
    worst = laboratory.readings(lamp, "surge", **HARSH)
    for angle in (0.0, 90.0, 180.0, 270.0):
        for polarity in (1, -1):
            one = laboratory.readings(
                lamp, "surge", **HARSH, surge_angles_deg=(angle,), surge_polarities=(polarity,)
            )
            assert one["surge_sink_peak_A"] <= worst["surge_sink_peak_A"] * (1 + 1e-9)
            if (angle, polarity) == (worst["surge_worst_deg"], worst["surge_worst_polarity"]):
                assert one["surge_sink_peak_A"] == pytest.approx(worst["surge_sink_peak_A"], rel=1e-6)


def test_a_higher_level_is_never_milder(laboratory: Laboratory) -> None:
    peaks = [
        laboratory.readings(plain_lamp(), "surge", surge_level_v=level)["surge_bus_peak_V"]
        for level in (250.0, 500.0, 1000.0, 2000.0)
    ]
    assert peaks == sorted(peaks)


def test_a_reservoir_takes_the_edge_off(laboratory: Laboratory) -> None:
    # common practice, no source
    bare = laboratory.readings(plain_lamp(varistor=None), "surge", **HARSH)
    held = laboratory.readings(plain_lamp(varistor=None, reservoir=reservoir(47e-6)), "surge", **HARSH)
    assert held["surge_drain_peak_V"] < bare["surge_drain_peak_V"]
    assert held["surge_sink_peak_A"] < 0.3 * bare["surge_sink_peak_A"]


def test_stronger_sinks_have_more_margin(laboratory: Laboratory) -> None:
    margins = []
    for rated_v in (400.0, 500.0, 700.0):
        sinks = Sinks(count=3, sense_resistor_ohm=15.0, drain_voltage_v=rated_v)
        margins.append(
            laboratory.readings(plain_lamp(sinks=sinks), "surge", **HARSH)["surge_drain_peak_V"] / rated_v
        )
    assert margins[0] > margins[1] > margins[2]


def test_a_surge_begins_with_the_moment_before(laboratory: Laboratory) -> None:
    # At 90 degrees the terminals stand at the crest of the mains, to which the generator adds nothing yet.
    [result] = laboratory.take(
        case_of(plain_lamp(varistor=None), "surge", surge_angles_deg=(90.0,), surge_polarities=(1,)),
        keep_waves=True,
    )
    assert result.waves is not None
    waves, before = result.waves["surge"], result.waves["before"]
    assert waves["time"][0] == 0.0
    first_v = waves["v(line)"][0] - waves["v(neutral)"][0]
    at_crest_v = np.interp(
        before["time"][-1] - 0.015, before["time"], before["v(line)"] - before["v(neutral)"]
    )
    assert first_v == pytest.approx(at_crest_v, abs=0.01)
    assert first_v == pytest.approx(2**0.5 * 230.0, rel=0.02)
    assert waves["v(line)"].max() > first_v + 300.0
