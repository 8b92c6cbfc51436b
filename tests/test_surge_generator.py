"""The surge generator's network against IEC 61000-4-5, bare and behind the coupling capacitor."""

from __future__ import annotations

import numpy as np
import pytest

from coldiron.benches.generator import Generator, generator_values
from coldiron.deck.deck import Deck, Start
from coldiron.deck.guard import check_deck
from coldiron.engine.waves import Waves
from coldiron.readings import surges
from laboratory import Laboratory

pytestmark = pytest.mark.ngspice
LEVEL_V = 1000.0


def generator_deck(load_node: str, load_ohm: float) -> Deck:
    """The generator alone, charged for 1 kV, with a load at its output or behind its coupling capacitor."""
    g = generator_values(Generator(), Start(), fired=True)
    title = f"generator alone {load_node} {load_ohm:g}"
    text = "\n".join(
        [
            f"* {title}",
            f"Cstorage store 0 {g.storage_f:.12g} ic={LEVEL_V / Generator().open_circuit_ratio:.12g}",
            f"Rstorage store 0 {g.storage_ohm:.12g}",
            f"Rswitch store shape {g.switch_ohm:.12g}",
            f"Rshape shape shape_l {g.shape_ohm:.12g}",
            f"Lshape shape_l surge {g.shape_h:.12g} ic=0",
            f"Rsurge surge 0 {g.output_ohm:.12g}",
            f"Ccoupling surge behind {g.coupling_f:.12g} ic=0",
            "Rbehind behind 0 1e9",
            "Vload load 0 0",
            f"Rload {load_node} load {load_ohm:.12g}",
            ".options method=gear reltol=1e-5 abstol=1e-9 chgtol=1e-13 temp=25 tnom=25",
            ".save v(surge) v(behind) i(vload)",
            ".tran 2e-8 1.5e-4 0 2e-8 uic",
            ".end",
            "",
        ]
    )
    check_deck(text)
    return Deck(text=text, title=title, keep=("v(surge)", "v(behind)", "i(vload)"), stop_s=150e-6)


@pytest.fixture(scope="module")
def open_circuit(laboratory: Laboratory) -> Waves:
    return laboratory.run(generator_deck("surge", 1e6))


@pytest.fixture(scope="module")
def short_circuit(laboratory: Laboratory) -> Waves:
    return laboratory.run(generator_deck("surge", 1e-4))


def test_open_circuit_voltage_is_1_2_by_50_us(open_circuit: Waves) -> None:
    # IEC 61000-4-5:2014 (Ed.3), 6.2 and Table 2: front 1.67 (T90 - T30) = 1.2 us +-30 %,
    # duration between 50 % points 50 us +-20 %; +-10 % on the peak from memory.
    volt = open_circuit["v(surge)"]
    assert volt.max() == pytest.approx(LEVEL_V, rel=0.10)
    assert surges.voltage_front_s(open_circuit.time_s, volt) == pytest.approx(1.2e-6, rel=0.30)
    assert surges.width_s(open_circuit.time_s, volt) == pytest.approx(50e-6, rel=0.20)


def test_the_network_is_nominal_not_merely_within_tolerance(
    open_circuit: Waves, short_circuit: Waves
) -> None:
    # The same clause's nominal values: the network was solved for them, so it should sit on them within 2 %.
    volt, ampere = open_circuit["v(surge)"], short_circuit["i(vload)"]
    assert volt.max() == pytest.approx(LEVEL_V, rel=0.005)
    assert surges.voltage_front_s(open_circuit.time_s, volt) == pytest.approx(1.2e-6, rel=0.02)
    assert surges.width_s(open_circuit.time_s, volt) == pytest.approx(50e-6, rel=0.02)
    assert surges.current_front_s(short_circuit.time_s, ampere) == pytest.approx(8e-6, rel=0.02)
    assert surges.current_duration_s(short_circuit.time_s, ampere) == pytest.approx(20e-6, rel=0.02)


def test_short_circuit_current_is_8_by_20_us(short_circuit: Waves) -> None:
    # IEC 61000-4-5:2014, 6.2 and Table 2: front 1.25 (T90 - T10) = 8 us, duration 1.18 Tw = 20 us;
    # the tolerances of +-20 % and the limit of 30 % on the undershoot are from memory.
    ampere = short_circuit["i(vload)"]
    assert surges.current_front_s(short_circuit.time_s, ampere) == pytest.approx(8e-6, rel=0.20)
    assert surges.current_duration_s(short_circuit.time_s, ampere) == pytest.approx(20e-6, rel=0.20)
    assert surges.undershoot_ratio(ampere) < 0.30


def test_effective_impedance_is_2_ohm(open_circuit: Waves, short_circuit: Waves) -> None:
    # IEC 61000-4-5:2014, 6.2: ratio of peak voltage to peak current 2 ohm; +-10 % from memory.
    ratio = float(open_circuit["v(surge)"].max() / short_circuit["i(vload)"].max())
    assert ratio == pytest.approx(2.0, rel=0.10)


def test_behind_the_coupling_capacitor_the_wave_is_shorter_and_weaker(laboratory: Laboratory) -> None:
    # The project's plane of reference is the bare output. Behind 18 uF (coupling line to line of
    # IEC 61000-4-5, 6.3, from memory) the closed form of the same network gives 2.22 ohm, a front of 7.0 us
    # and 16.9 us duration: inside +-20 % for front and duration, but not 2 ohm +-10 %, and the current swings
    # back by some 40 %, over the 30 % that are allowed at the bare output.
    shorted = laboratory.run(generator_deck("behind", 1e-4))
    opened = laboratory.run(generator_deck("behind", 1e6))
    ampere, volt = shorted["i(vload)"], opened["v(behind)"]
    assert surges.current_front_s(shorted.time_s, ampere) == pytest.approx(8e-6, rel=0.20)
    assert surges.current_duration_s(shorted.time_s, ampere) == pytest.approx(20e-6, rel=0.20)
    assert float(volt.max() / ampere.max()) == pytest.approx(2.22, rel=0.01)
    assert surges.current_front_s(shorted.time_s, ampere) == pytest.approx(7.0e-6, rel=0.02)
    assert 0.30 < surges.undershoot_ratio(ampere) < 0.45


def test_the_network_follows_its_closed_form(open_circuit: Waves) -> None:
    # Closed form (Laplace) of the five-element network, open circuit:
    # v(t) = E R3/L (e^-bt - e^-at)/(a - b), a + b = (R2+R3)/L + 1/(R1 C), a b = (R1+R2+R3)/(R1 L C).
    g = Generator()
    total = (g.shape_ohm + g.output_ohm) / g.shape_h + 1 / (g.storage_ohm * g.storage_f)
    product = (g.storage_ohm + g.shape_ohm + g.output_ohm) / (g.storage_ohm * g.shape_h * g.storage_f)
    fast, slow = np.roots([1.0, -total, product])
    t = open_circuit.time_s
    expected = (
        LEVEL_V / g.open_circuit_ratio * g.output_ohm / g.shape_h
        * (np.exp(-slow * t) - np.exp(-fast * t)) / (fast - slow)
    )  # fmt: skip
    assert np.abs(open_circuit["v(surge)"] - expected).max() < 0.003 * LEVEL_V
