"""Insulation tests and lamps on one circuit: against ωCU, Ohm's law, and what a shared impedance must do."""

from __future__ import annotations

import math

import numpy as np
import pytest

from coldiron.benches.shared_circuit import behind_more, greatest_i2t, most_below
from coldiron.lamp.further import FurtherPart
from coldiron.lamp.topologies.linear_sinks import LinearSinksLamp as Lamp
from coldiron.parts.part import KINDS
from insulation_rig import under_test
from judging import judged
from laboratory import Laboratory, changed
from lamps import load_lamp, reservoir

pytestmark = pytest.mark.ngspice
OMEGA = 2 * math.pi * 50.0


def flood(*further: FurtherPart, **housing: float) -> Lamp:
    """The flood with 3 nF of board, and further parts."""
    lamp = load_lamp("kerbside-flood")
    own = lamp.housing.model_copy(update={"board_capacitance_f": 3e-9, **housing})
    return changed(lamp, housing=own).model_copy(update={"further": further})


def to_earth(name: str, kind: str, leg: str, **values: float) -> FurtherPart:
    """A further part from a leg to the housing."""
    values_of = KINDS[kind].model.model_validate(values)
    return FurtherPart(name=name, kind=kind, way="across", where=(leg, "housing"), values=values_of)


@pytest.mark.parametrize("farad", [1e-9, 3e-9])
def test_the_alternating_test_draws_what_the_capacitance_takes(laboratory: Laboratory, farad: float) -> None:
    """ωCU; the few volts of the string and 10 kΩ in series take a per cent. On the line alone as well."""
    lamp = flood(board_capacitance_f=farad)
    both, alone = (under_test(laboratory, lamp, 1460.0, tied=tied) for tied in (True, False))
    assert both.rms_a == pytest.approx(OMEGA * farad * 1460.0, rel=0.02)
    assert alone.rms_a == pytest.approx(both.rms_a, rel=0.01)
    assert both.between_v == 0.0


def test_the_direct_test_reads_the_resistance(laboratory: Laboratory) -> None:
    """Ohm's law, less what half a dark string needs for itself at so little a current."""
    for ohm in (2e6, 1e9):
        lamp = flood(insulation_resistance_ohm=ohm)
        current_a = under_test(laboratory, lamp, 500.0, direct=True).mean_a
        assert current_a == pytest.approx((500.0 - lamp.circuit.light_v(current_a) / 2) / ohm, rel=0.03)


def test_line_alone_puts_the_test_on_what_lies_between_the_legs(laboratory: Laboratory) -> None:
    """Two Y capacitors to the housing divide it: a part of the current goes through the other leg."""
    pair = [to_earth(name, "Y capacitor", leg, capacitance_f=2.2e-9)
            for name, leg in (("CY1", "line"), ("CY2", "neutral"))]  # fmt: skip
    both, alone = (under_test(laboratory, flood(*pair), 1460.0, tied=tied) for tied in (True, False))
    assert both.rms_a == pytest.approx(OMEGA * 7.4e-9 * 1460.0, rel=0.03)
    assert alone.between_v > 100.0


def test_an_arrestor_to_earth_is_named_and_fails_a_good_lamp(laboratory: Laboratory) -> None:
    disc = to_earth(
        "RV9", "varistor", "line", ac_rating_v=300.0, one_milliamp_voltage_v=470.0, clamping_voltage_v=775.0,
        clamping_current_a=10.0,
    )  # fmt: skip
    readings = laboratory.readings(flood(disc), "insulation")
    assert readings["insulation_stressed"] == "RV9"
    assert readings["insulation_Mohm"] < 2.0
    whole = laboratory.readings(flood(), "insulation")
    assert whole["insulation_stressed"] == "the board"
    for read, word in ((readings, "over"), (whole, "ok")):
        [verdict] = [v for v in judged(read, bench="insulation") if v.reading == "insulation_Mohm"]
        assert verdict.verdict == word
        assert "unhook arrestors" in verdict.note


def test_lamps_on_a_residual_current_device_and_on_breakers(laboratory: Laboratory) -> None:
    plain = laboratory.readings(flood(), "shared-circuit")
    # 15 mA over the current of the earth, ωC·Vpk/2 within 5 %: 98 to 107 lamps at 3 nF.
    assert plain["shared_rcd_lamps"] == pytest.approx(15e-3 / (OMEGA * 3e-9 * 325.3 / 2), rel=0.06)
    # 16 A over the input current of the lamp, which bounds where nothing is charged.
    current_a = laboratory.readings(flood(), "steady")["input_current_A"]
    assert plain["shared_steady_lamps"] == math.floor(16.0 / current_a)
    assert plain["shared_b16_bound"] == "steady current"
    full = laboratory.readings(changed(flood(), reservoir=reservoir(100e-6)), "shared-circuit")
    assert full["shared_b16_bound"] == "inrush"
    assert full["shared_b16_hold_lamps"] < full["shared_b16_trip_lamps"]
    assert full["shared_b16_hold_lamps"] <= full["shared_c16_hold_lamps"]
    # Single inrushes do not add up behind one impedance.
    lamps = full["shared_b16_hold_lamps"]
    assert full["shared_one_peak_A"] < full["shared_all_peak_A"] < lamps * full["shared_one_peak_A"]


def test_lamps_behind_one_impedance_share_it() -> None:
    """N branches alike on one source see N times its impedance each: Kirchhoff."""
    lamp = flood()
    shared = behind_more(lamp, 7).mains
    assert shared.resistance_ohm == pytest.approx(7 * lamp.mains.resistance_ohm)
    assert shared.inductance_h == pytest.approx(7 * lamp.mains.inductance_h)
    assert shared.damping_ohm == pytest.approx(7 * lamp.mains.damping_ohm)


def test_the_greatest_stretch_and_the_most_lamps() -> None:
    time_s = np.linspace(0.0, 0.04, 4001)
    pulse_a = np.where((time_s >= 0.02) & (time_s <= 0.025), 10.0, 1.0)
    # 5 ms of 10 A and 5 ms of 1 A are the worst 10 ms.
    assert greatest_i2t(time_s, pulse_a, 0.01) == pytest.approx(0.005 * 100 + 0.005 * 1, rel=0.01)
    assert most_below(lambda lamps: 3.0 * lamps, 48.0) == 15
    assert most_below(lambda lamps: 50.0, 48.0) == 0
