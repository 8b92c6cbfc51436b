"""What some sink chips do besides: power foldback and own supply, real ngspice against closed forms."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from coldiron.deck.body import body_text
from coldiron.deck.deck import Deck
from coldiron.deck.guard import check_deck
from coldiron.engine.waves import Array, Waveforms
from coldiron.lamp.parts import Sinks
from coldiron.lamp.topologies.linear_sinks import LinearSinksLamp as Lamp
from coldiron.parts.circuit import Circuit
from coldiron.parts.linear_sink import LinearSink
from coldiron.parts.part import MINUS, PartConditions
from laboratory import Laboratory, case_of, changed
from lamps import load_lamp, plain_lamp, reservoir
from restart_rig import cut_in_two

pytestmark = pytest.mark.ngspice
SET_A = 0.06
THREE = Sinks(count=3, sense_resistor_ohm=10.0, spread_ratio=0.0)


def on_a_drain(laboratory: Laboratory, sinks: Sinks, source: str, stop_s: float) -> Waveforms:
    """The sinks' own stage, printed as a lamp prints it, on a voltage source in place of string and bus."""
    part = LinearSink("sinks", ("drain", MINUS), sinks)
    text = "\n".join(
        [
            "* sinks alone",
            f"Vdrain drain 0 {source}",
            str(body_text(Circuit((part,)), PartConditions())),
            ".options method=gear reltol=1e-5 abstol=1e-9 chgtol=1e-13 temp=25 tnom=25",
            f".tran {stop_s / 2000:.6g} {stop_s:.6g} 0 {stop_s / 2000:.6g} uic",
            ".end",
            "",
        ]
    )
    check_deck(text)
    return laboratory.run(Deck(text=text, title="sinks alone", keep=("all",), stop_s=stop_s))


def sensed_a(waves: Waveforms, sinks: Sinks) -> Array:
    each = [waves[f"v(sense{number})"] for number in range(1, sinks.count + 1)]
    return np.asarray(np.sum(each, axis=0) / sinks.sense_resistor_ohm)


def test_a_power_foldback_holds_drain_voltage_times_current(laboratory: Laboratory) -> None:
    # Closed form: I = min(set current, P/V), along a slow ramp of the drain. 1.2 W at 60 mA: from 20 V on.
    sinks = THREE.model_copy(update={"foldback_power_w": 1.2, "foldback_delay_s": 1e-6})
    waves = on_a_drain(laboratory, sinks, "PWL(0 15 0.02 315)", 0.02)
    late = waves.time_s > 2e-4
    drain_v = waves["v(drain)"][late]
    expected_a = 3 * np.minimum(SET_A, 1.2 / drain_v)
    # The reference rounds the corner by nothing; the loop's finite gain and its lag stay within 1 %.
    assert sensed_a(waves, sinks)[late] == pytest.approx(expected_a, rel=0.01)
    assert drain_v[0] < 20.0 < 300.0 < drain_v[-1]


def test_the_foldback_follows_the_drain_with_its_delay(laboratory: Laboratory) -> None:
    # Closed form: behind a step a first-order lag sees V1 + (V2 - V1)(1 - exp(-t/τ)), and the current is P
    # over that.
    sinks = THREE.model_copy(update={"foldback_power_w": 1.2, "foldback_delay_s": 2e-4})
    waves = on_a_drain(laboratory, sinks, "PULSE(40 160 0.002 1e-7 1e-7 1 2)", 0.004)
    after = waves.time_s > 2.02e-3
    since_s = waves.time_s[after] - 2e-3
    seen_v = 160.0 - 120.0 * np.exp(-since_s / 2e-4)
    assert sensed_a(waves, sinks)[after] == pytest.approx(3 * 1.2 / seen_v, rel=0.01)


def test_a_chip_takes_its_own_supply_from_the_drain(laboratory: Laboratory) -> None:
    # Closed form: what the drain gives besides the sensed current is N · I0 · tanh(V / 5 V).
    sinks = THREE.model_copy(update={"supply_current_a": 2e-4})
    waves = on_a_drain(laboratory, sinks, "PWL(0 1 0.2 101)", 0.2)
    late = waves.time_s > 0.01
    drain_v = waves["v(drain)"][late]
    own_a = (-waves.i("vdrain") - sensed_a(waves, sinks))[late]
    # What charges the capacitances on the drain: 500 V/s times some 200 pF is 0.1 µA.
    assert own_a == pytest.approx(3 * 2e-4 * np.tanh(drain_v / 5.0), abs=5e-7)


@settings(
    max_examples=4,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(power_w=st.floats(0.8, 2.5), count=st.integers(1, 4), spread=st.floats(0.0, 0.1))
def test_behind_a_reservoir_each_sink_takes_its_power_whatever_its_set_current(
    laboratory: Laboratory, power_w: float, count: int, spread: float
) -> None:
    # Closed form: bus = V_string(I) + N P / I has one current; every sink takes P, for all their spread (less
    # what the gate's leakage asks of the amplifier: 0.3 mV of sense voltage, 0.5 % at 9 mA).
    sinks = {"count": count, "sense_resistor_ohm": 10.0, "foldback_power_w": power_w, "spread_ratio": spread}
    lamp = changed(plain_lamp(), sinks=sinks, string={"series": 60}, reservoir=reservoir(150e-6))
    readings = laboratory.readings(lamp, "steady")
    assert readings["sinks_W"] == pytest.approx(count * power_w, rel=0.01)
    assert readings["sink_worst_W"] == pytest.approx(power_w, rel=0.01)

    def missing_v(ampere: float) -> float:
        return lamp.string.voltage_v(ampere) + count * power_w / ampere - float(readings["bus_mean_V"])

    ampere = brentq(missing_v, 1e-3, count * SET_A * (1 + spread))
    assert readings["led_current_A"] == pytest.approx(ampere, rel=0.01)
    # In each room of the drain between 10 % and none of the set current there is headroom to read.
    assert readings["sink_headroom_V"] > 50.0


def test_supply_current_comes_through_the_string_and_the_watts_add_up(laboratory: Laboratory) -> None:
    # Closed form: behind a reservoir the string carries the set current and N times I0; its watts burn in the
    # sinks, so the balance closes only if they are counted there.
    base = changed(load_lamp("kerbside-flood"), reservoir=reservoir(100e-6))
    plain = laboratory.readings(base, "steady")
    hungry = laboratory.readings(changed(base, sinks={"supply_current_a": 2e-3}), "steady")
    more_a = hungry["led_current_A"] - plain["led_current_A"]
    assert more_a == pytest.approx(5 * 2e-3, rel=0.02)
    assert abs(hungry["power_balance_pct"]) < 0.05
    # In normal work nothing of it counts as a surge through the sink.
    quiet = laboratory.readings(changed(base, sinks={"supply_current_a": 2e-2}), "surge", surge_level_v=50.0)
    assert quiet["surge_sink_excess_mJ"] < 0.05 * quiet["surge_sink_energy_mJ"]


@pytest.mark.parametrize("capacitance_f", [None, 22e-6])
def test_a_run_cut_in_two_is_the_whole_run(laboratory: Laboratory, capacitance_f: float | None) -> None:
    # Law: nothing of a chip hides from a snapshot, its delay least of all.
    chip = {"foldback_power_w": 1.5, "foldback_delay_s": 2e-3, "supply_current_a": 3e-4}
    part = reservoir(capacitance_f) if capacitance_f else None
    lamp = changed(load_lamp("kerbside-flood"), sinks=chip, reservoir=part)
    whole, second, middle_s = laboratory.call(cut_in_two, case_of(lamp, "steady"))
    for name, scale in (("v(bus)", 325.0), ("v(drain)", 80.0), ("v(foldback)", 80.0), ("i(vstring)", 0.33)):
        seen = np.interp(second.time_s + middle_s, whole.time_s, whole[name])
        assert np.abs(second[name] - seen).max() < 2e-3 * scale, name


def test_an_unset_feature_leaves_the_deck_as_it_was(laboratory: Laboratory) -> None:
    lamp: Lamp = load_lamp("pantry-bulb")
    [found] = laboratory.take(case_of(lamp, "steady"))
    assert "foldback" not in found.decks["steady"]
    assert "Bsupply" not in found.decks["steady"]
