"""What meters show on an unplugged lamp, against closed forms of networks and the values of the lamp."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldiron.diagnosis.ohmmeter import INFINITE_OHM, ohms
from coldiron.lamp.load import load_lamp
from coldiron.parts.circuit import Circuit
from coldiron.parts.part import SHORT_OHM
from coldiron.parts.resistor import Resistor, ResistorValues

OHMS = st.floats(0.1, 1e6)


def network(**resistors: tuple[str, str, float]) -> Circuit:
    return Circuit(
        tuple(
            Resistor(name, (a, b), ResistorValues(resistance_ohm=ohm, power_w=1.0))
            for name, (a, b, ohm) in resistors.items()
        )
    )


@given(OHMS, OHMS, OHMS)
def test_series_and_parallel(one: float, other: float, third: float) -> None:
    circuit = network(R1=("a", "b", one), R2=("b", "c", other), R3=("a", "c", third))
    series = one + other
    assert ohms(circuit, "a", "c") == pytest.approx(series * third / (series + third), rel=1e-6)
    assert ohms(circuit, "c", "a") == pytest.approx(ohms(circuit, "a", "c"), rel=1e-9)


@given(OHMS, OHMS, OHMS, OHMS)
def test_a_bridge_in_balance_does_not_see_its_middle(
    left: float, ratio: float, middle: float, right: float
) -> None:
    # Wheatstone: with equal ratios no current flows in the middle, whatever it is.
    k = 1.0 + ratio / 1e6
    circuit = network(
        R1=("a", "p", left), R2=("p", "b", k * left), R3=("a", "q", right), R4=("q", "b", k * right),
        R5=("p", "q", middle),
    )  # fmt: skip
    sides = [(1.0 + k) * left, (1.0 + k) * right]
    assert ohms(circuit, "a", "b") == pytest.approx(sides[0] * sides[1] / sum(sides), rel=1e-6)


def test_what_nothing_joins_is_open() -> None:
    circuit = network(R1=("a", "b", 10.0), R2=("c", "d", 10.0))
    assert ohms(circuit, "a", "c") == INFINITE_OHM
    assert ohms(circuit, "a", "nowhere") == INFINITE_OHM


def test_a_flood_unplugged() -> None:
    lamp = load_lamp("kerbside-flood")
    assert ohms(lamp.circuit, "line", "line_f") == pytest.approx(4.7)
    assert ohms(lamp.circuit, "bus", "minus") == pytest.approx(470e3)
    assert ohms(lamp.circuit, "line", "neutral") == INFINITE_OHM
    shorted = lamp.with_faults(("varistor", "short")).circuit
    # Both of its ends lie behind one fusing resistor only.
    assert ohms(shorted, "line", "neutral") == pytest.approx(4.7 + SHORT_OHM)
    diode = lamp.with_faults(("bridge", "line-plus short")).circuit
    assert ohms(diode, "line", "minus") == pytest.approx(4.7 + SHORT_OHM + 470e3)
    sink = lamp.with_faults(("sinks", "one short")).circuit
    assert 9.1 < ohms(sink, "drain", "minus") < 9.1 + 1.0
    leaky = load_lamp("corridor-panel").with_faults(("reservoir", "leaky")).circuit
    bleed, leak = 680e3, 400.0 / 0.01
    assert ohms(leaky, "bus", "minus") == pytest.approx(bleed * leak / (bleed + leak))


def test_diodes_and_leds_on_a_tester() -> None:
    circuit = load_lamp("kerbside-flood").circuit
    tests = {(a, b): volt for a, b, volt in circuit["bridge"].junction_tests()}
    assert set(tests) == {
        ("line_f", "bus"),
        ("neutral_f", "bus"),
        ("minus", "line_f"),
        ("minus", "neutral_f"),
    }
    # v = n kT/q ln(i / Is + 1), with Is from the forward point behind its series resistance.
    thermal = 1.8 * 1.380649e-23 * 298.15 / 1.602176634e-19
    saturation_a = 1.0 / math.expm1((0.95 - 0.08) / thermal)
    assert tests["line_f", "bus"] == pytest.approx(thermal * math.log1p(1e-3 / saturation_a), rel=1e-9)
    broken = load_lamp("kerbside-flood").with_faults(("bridge", "line-plus open")).circuit
    assert {volt for a, b, volt in broken["bridge"].junction_tests() if (a, b) == ("line_f", "bus")} == {
        math.inf
    }
    string = load_lamp("kerbside-flood").with_faults(("string", "three LEDs short")).circuit.lights[0]
    whole = circuit.lights[0]
    # The row with three LEDs of 27 fewer conducts first.
    assert string.tester_v(1e-3) < 0.93 * whole.tester_v(1e-3)
