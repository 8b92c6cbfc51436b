"""The surge generator's own source, as every surge prints it, against IEC 61000-4-5 and its closed form.

The plane of reference is the bare output: there the network is nominal (1.2/50 us, 8/20 us, 2.00 ohm, and an
undershoot below 30 %). Behind its 18 uF the same network has 2.22 ohm, a front of 7.0 us and swings back by
40 %: no five-element network is nominal at both planes.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from coldiron.sources.surge_generator import SurgeGenerator
from generator_rig import LEVEL_V, OPEN_OHM, back_filter_h, figures, wave
from laboratory import Laboratory

pytestmark = pytest.mark.ngspice

# IEC 61000-4-5:2014 (Ed.3), 6.2 and Table 2: front 1.67 (T90 - T30) = 1.2 us +-30 % and duration 50 us +-20 %
# of the open circuit, front 1.25 (T90 - T10) = 8 us and duration 1.18 Tw = 20 us of the short circuit, 2 ohm
# as the ratio of both peaks. From memory: +-10 % on peak and ratio, +-20 % on the current's times, undershoot
# of at most 30 %.
ALLOWED = {
    "peak_v": (LEVEL_V, 0.10),
    "voltage_front_s": (1.2e-6, 0.30),
    "voltage_width_s": (50e-6, 0.20),
    "current_front_s": (8e-6, 0.20),
    "current_duration_s": (20e-6, 0.20),
    "impedance_ohm": (2.0, 0.10),
}
# The same nominal values: the network was solved for them, so it sits on them within 2 %, not merely within
# tolerance, and has to: a value 10 % off would still pass most tolerances.
NOMINAL = {
    "peak_v": (LEVEL_V, 0.002),
    "voltage_front_s": (1.2e-6, 0.01),
    "voltage_width_s": (50e-6, 0.01),
    "current_front_s": (8e-6, 0.02),
    "current_duration_s": (20e-6, 0.02),
    "impedance_ohm": (2.0, 0.01),
}
# The same network behind 18 uF, the coupling line to line of IEC 61000-4-5, 6.3 (from memory): exponential of
# the matrix of the bare network with a capacitor in series, worked out by hand of these values once.
BEHIND_18_UF = {
    "peak_v": (LEVEL_V, 0.002),
    "current_front_s": (6.95e-6, 0.01),
    "current_duration_s": (17.07e-6, 0.01),
    "impedance_ohm": (2.222, 0.005),
}
# 1.5 mH in each line, of which a stage with one leg has both (IEC 61000-4-5, 6.3; typical, from memory).
BACK_FILTER_H = 2 * 1.5e-3


def off(found: dict[str, float], wanted: dict[str, tuple[float, float]]) -> list[str]:
    """Names of the figures that are not what they should be."""
    return [name for name, (value, share) in wanted.items() if found[name] != pytest.approx(value, rel=share)]


@pytest.fixture(scope="module", params=[False, True], ids=["fired at once", "fired within the run"])
def bare(laboratory: Laboratory, request: pytest.FixtureRequest) -> dict[str, float]:
    return figures(laboratory, SurgeGenerator(), "bare", within_run=request.param)


def test_the_bare_output_is_a_combination_wave_of_2_ohm(bare: dict[str, float]) -> None:
    assert off(bare, ALLOWED) == []
    assert bare["undershoot_ratio"] < 0.30


def test_the_network_is_nominal_not_merely_within_tolerance(bare: dict[str, float]) -> None:
    assert off(bare, NOMINAL) == []


def test_behind_the_coupling_capacitor_the_wave_is_shorter_and_weaker(laboratory: Laboratory) -> None:
    # Inside the tolerances of the standard for front and duration, not for 2 ohm, nor for the undershoot.
    found = figures(laboratory, SurgeGenerator(), "coupled")
    assert off(found, BEHIND_18_UF) == []
    assert off(found, ALLOWED) == ["impedance_ohm"]
    assert 0.30 < found["undershoot_ratio"] < 0.45


def test_the_back_filter_keeps_the_surge_from_the_supply(laboratory: Laboratory) -> None:
    assert back_filter_h(laboratory, SurgeGenerator()) == pytest.approx(BACK_FILTER_H, rel=0.01)


@pytest.mark.parametrize("factor", [0.9, 1.1])
@pytest.mark.parametrize("name", sorted(set(SurgeGenerator.__dataclass_fields__) - {"damping_ohm"}))
def test_no_value_can_be_wrong_by_a_tenth(laboratory: Laboratory, name: str, factor: float) -> None:
    # That the checks above can fail: each value of the network moved by 10 % breaks one of them. Left out is
    # the damping of the back filter, which is ours and shows in no figure of a wave.
    moved = replace(SurgeGenerator(), **{name: factor * getattr(SurgeGenerator(), name)})
    broken = off(figures(laboratory, moved, "bare"), NOMINAL)
    if name == "coupling_f":
        broken += off(figures(laboratory, moved, "coupled"), BEHIND_18_UF)
    if name == "decoupling_h":
        broken += off({"h": back_filter_h(laboratory, moved)}, {"h": (BACK_FILTER_H, 0.01)})
    assert broken


def test_the_network_follows_its_closed_form(laboratory: Laboratory) -> None:
    # Closed form (Laplace) of the five-element network, open circuit:
    # v(t) = E R3/L (e^-bt - e^-at)/(a - b), a + b = (R2+R3)/L + 1/(R1 C), a b = (R1+R2+R3)/(R1 L C).
    g = SurgeGenerator()
    waves = wave(laboratory, g, "bare", OPEN_OHM)
    total = (g.shape_ohm + g.output_ohm) / g.shape_h + 1 / (g.storage_ohm * g.storage_f)
    product = (g.storage_ohm + g.shape_ohm + g.output_ohm) / (g.storage_ohm * g.shape_h * g.storage_f)
    fast, slow = np.roots([1.0, -total, product])
    t = waves.time_s
    expected = (
        LEVEL_V / g.open_circuit_ratio * g.output_ohm / g.shape_h
        * (np.exp(-slow * t) - np.exp(-fast * t)) / (fast - slow)
    )  # fmt: skip
    assert np.abs(waves["v(surge)"] - expected).max() < 0.003 * LEVEL_V
