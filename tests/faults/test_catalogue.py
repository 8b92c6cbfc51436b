"""Single faults of a lamp: which there are, their names, and what a faulty lamp takes by closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import brentq

from coldiron.faults import UnknownFault, fault_named, faults_named, single_faults
from coldiron.lamp.lamp import Lamp
from coldiron.lamp.load import load_lamp
from coldiron.parts.diode import junction
from coldiron.parts.part import SHORT_OHM
from coldiron.sweep.worker import Work, run_work
from fault_currents import drop_v, quasi_static_a
from laboratory import Laboratory, case_of

THERMAL_V = 1.380649e-23 * 298.15 / 1.602176634e-19
DEMOS = ("kerbside-flood", "corridor-panel", "pantry-bulb")
OTHERS = ("landing-candle", "gallery-strip", "stairwell-dome", "shed-lantern")


def faulty(lamp: Lamp, name: str) -> Lamp:
    """Lamp with a fault of a name."""
    return fault_named(lamp, name).applied(lamp)


def rms_a(current_a: np.ndarray) -> float:
    return float(np.sqrt(np.mean(current_a**2)))


def test_names_are_the_parts_own_and_differ() -> None:
    for name in (*DEMOS, *OTHERS):
        names = [fault.name for fault in single_faults(load_lamp(name))]
        assert len(names) == len(set(names)) > 20, name
        assert all(fault_named(load_lamp(name), one).name == one for one in names)


def test_every_kind_of_part_that_a_person_sees_can_break() -> None:
    for name in (*DEMOS, *OTHERS):
        lamp = load_lamp(name)
        broken = {part for fault in single_faults(lamp) for part in fault.parts}
        assert {part.name for part in lamp.circuit if not part.hidden} <= broken


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("reservoir short", "a part of this lamp and how it breaks"),
        ("varistor on fire", "a fault that varistor can have"),
        ("varistor short + varistor open", "one fault of varistor, not two"),
        ("", "a part of this lamp"),
    ],
)
def test_a_fault_that_the_lamp_cannot_have_is_refused_in_one_line(name: str, expected: str) -> None:
    with pytest.raises(UnknownFault, match=expected) as refused:
        fault_named(load_lamp("kerbside-flood"), name)
    assert "\n" not in str(refused.value)


def test_a_misspelt_fault_is_told_its_nearest() -> None:
    with pytest.raises(UnknownFault) as refused:
        fault_named(load_lamp("kerbside-flood"), "varistor shrt")
    assert refused.value.nearest == "varistor short"


def test_some_faults_by_name_by_part_and_at_once() -> None:
    lamp = load_lamp("kerbside-flood")
    assert len(faults_named(lamp, ["every single part"])) == len(single_faults(lamp))
    own = faults_named(lamp, ["film", "film short", "varistor short + line_fusing bridged"])
    assert [fault.name for fault in own] == [
        "film open",
        "film short",
        "varistor short + line_fusing bridged",
    ]


@pytest.mark.parametrize("name", [*DEMOS, *(pytest.param(o, marks=pytest.mark.slow) for o in OTHERS)])
def test_every_faulty_lamp_settles_and_accounts_for_its_watts(name: str, laboratory: Laboratory) -> None:
    """Tellegen: what goes in comes out somewhere, to half a percent of it or half a milliwatt."""
    lamp = load_lamp(name)
    for fault in single_faults(lamp):
        [result] = laboratory.call(run_work, Work((case_of(fault.applied(lamp), "steady"),)))
        if result.failure and "not settled" in result.failure.why:
            assert name == "stairwell-dome"  # cut off from the mains, its two reservoirs empty for minutes
            continue
        readings = result.readings
        lost_w = 0.01 * float(readings["power_balance_pct"]) * float(readings["input_power_W"])
        assert abs(lost_w) < 5e-4 + 0.005 * abs(float(readings["input_power_W"])), fault.name


def test_a_shorted_varistor_takes_ohms_current(laboratory: Laboratory) -> None:
    lamp = load_lamp("kerbside-flood")
    readings = laboratory.readings(faulty(lamp, "varistor short"), "steady")
    ohm = complex(lamp.mains.resistance_ohm + 4.7 + SHORT_OHM, 2 * math.pi * 50 * lamp.mains.inductance_h)
    assert float(readings["input_current_A"]) == pytest.approx(230.0 / abs(ohm), rel=1e-3)
    assert float(readings["line_fusing_W"]) == pytest.approx(4.7 * (230.0 / abs(ohm)) ** 2, rel=2e-3)


def test_a_shorted_bus_takes_ohms_current_less_two_drops(laboratory: Laboratory) -> None:
    lamp = load_lamp("kerbside-flood")
    readings = laboratory.readings(faulty(lamp, "film short"), "steady")
    ohm = lamp.mains.resistance_ohm + 9.4 + SHORT_OHM
    loop_a = quasi_static_a(lamp.mains.peak_v, lambda i: ohm * i + 2 * drop_v(lamp, i))
    assert float(readings["input_current_A"]) == pytest.approx(rms_a(loop_a), rel=2e-3)


@pytest.mark.parametrize("diode", ["line-plus", "neutral-minus"])
def test_a_shorted_diode_takes_half_waves(diode: str, laboratory: Laboratory) -> None:
    """One half of the mains finds a short behind one drop, the other the lamp as it was."""
    lamp = load_lamp("kerbside-flood")
    readings = laboratory.readings(faulty(lamp, f"bridge {diode} short"), "steady")
    healthy_a = float(laboratory.readings(lamp, "steady")["input_current_A"])
    ohm = lamp.mains.resistance_ohm + 9.4 + SHORT_OHM + junction(lamp.circuit["bridge"].values).series_ohm
    half_a = quasi_static_a(lamp.mains.peak_v, lambda i: ohm * i + drop_v(lamp, i))
    expected_a = math.sqrt((rms_a(half_a) ** 2 + healthy_a**2) / 2)
    assert float(readings["input_current_A"]) == pytest.approx(expected_a, rel=8e-3)


@pytest.mark.parametrize("name", ["kerbside-flood", "pantry-bulb"])
def test_a_string_on_shorted_sinks_follows_its_diode_law(name: str, laboratory: Laboratory) -> None:
    """No current is set any more: string, junctions and resistors share the sine."""
    lamp = load_lamp(name)
    readings = laboratory.readings(faulty(lamp, "sinks short"), "steady")
    legs = sum(p.values.resistance_ohm for p in lamp.circuit.carrying_mains())
    ohm = lamp.mains.resistance_ohm + legs + SHORT_OHM
    loop_a = quasi_static_a(
        lamp.mains.peak_v, lambda i: ohm * i + 2 * drop_v(lamp, i) + lamp.circuit.light_v(i)
    )
    # The film capacitor and the inductance of the mains are not in it.
    assert float(readings["led_peak_A"]) == pytest.approx(loop_a.max(), rel=5e-3)
    assert float(readings["input_current_A"]) == pytest.approx(rms_a(loop_a), rel=5e-3)


def test_a_degraded_varistor_takes_what_the_power_law_says(laboratory: Laboratory) -> None:
    """1 mA (v / V1mA)^a on a sine, at the mains terminals of the corridor panel; the table adds 2 %."""
    lamp = load_lamp("corridor-panel")
    varistor = lamp.circuit["varistor"]
    sine_v = lamp.mains.peak_v * np.abs(np.sin(np.linspace(0.0, math.pi, 20001)))
    for lost_pct in (22, 28, 35):
        readings = laboratory.readings(faulty(lamp, f"varistor -{lost_pct} %"), "steady")
        share = 1.0 - lost_pct / 100.0
        one_v, clamp_v = share * varistor.values.one_milliamp_voltage_v, varistor.values.clamping_voltage_v
        clamp_v = share * clamp_v / (1.0 + varistor.values.tolerance_ratio)
        core_v = clamp_v - varistor.values.series_resistance_ohm * varistor.values.clamping_current_a
        exponent = math.log(varistor.values.clamping_current_a / 1e-3) / math.log(core_v / one_v)
        expected_w = float(np.mean(1e-3 * sine_v * (sine_v / one_v) ** exponent))
        assert float(readings["varistor_W"]) == pytest.approx(expected_w, rel=0.04), lost_pct


@pytest.mark.parametrize(("word", "left"), [("one off", 0.8), ("one sense open", 0.8)])
def test_one_sink_of_five_less_is_a_fifth_less_current(
    word: str, left: float, laboratory: Laboratory
) -> None:
    lamp = load_lamp("kerbside-flood")
    healthy, broken = (
        float(laboratory.readings(one, "steady")["led_peak_A"])
        for one in (lamp, faulty(lamp, f"sinks {word}"))
    )
    assert broken / healthy == pytest.approx(left, abs=0.01)


def test_a_row_with_a_shorted_led_shares_the_current_by_both_laws(laboratory: Laboratory) -> None:
    """Two rows at one voltage: 27 and 26 LEDs; the currents add up to what the sinks set."""
    lamp = load_lamp("kerbside-flood")
    broken = faulty(lamp, "string one LED short")
    [result] = laboratory.take(case_of(broken, "steady"), keep_waves=True)
    assert result.waves is not None
    waves = result.waves["steady"]
    at = int(np.argmax(waves["v(bus)"]))
    across_v = float(waves["v(bus)"][at] - waves["v(drain)"][at])
    whole = lamp.circuit.lights[0].values
    one = whole.model_copy(update={"series": whole.series - 1, "parallel": 1})
    expected_a = brentq(lambda a: one.voltage_v(a) - across_v, 1e-6, 1.0)
    assert float(waves["i(vstring_row)"][at]) == pytest.approx(expected_a, rel=0.01)
    four = whole.model_copy(update={"parallel": 4})
    four_a = brentq(lambda a: four.voltage_v(a) - across_v, 1e-6, 2.0)
    assert float(waves["i(vstring)"][at]) == pytest.approx(four_a, rel=0.01)
