"""The varistor's three good discs: against a maker's curves, and what a surge does with each of them."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import pytest

from coldiron.benches.surge_readings import BANDED, discs_of
from coldiron.deck.circuit import OperatingPoint, circuit
from coldiron.lamp.topologies.linear_sinks import LinearSinksLamp as Lamp
from coldiron.lamp.varistor import DISCS, Disc, Varistor
from coldiron.sweep.case_result import CaseResult
from laboratory import Laboratory, case_of, changed
from lamps import load_lamp, plain_lamp, reservoir
from makers_varistors import POINTS_7_MM_275_V, maker_v

HARSH = {"surge_level_v": 1000.0}


def catalogue_disc(clamping_a: float, **values: Any) -> Varistor:
    """Disc of the 275 V class: 430 V at 1 mA, at most 710 V at the current of its size."""
    return Varistor(
        ac_rating_v=275.0,
        one_milliamp_voltage_v=430.0,
        clamping_voltage_v=710.0,
        clamping_current_a=clamping_a,
        **values,
    )


def disc_v(part: Varistor, disc: Disc, current_a: float) -> float:
    """Voltage of a disc's law at a current."""
    core_v = part.voltages_v(disc)[0] * (current_a / 1e-3) ** (1 / part.exponent(disc))
    return float(core_v + part.series_resistance_ohm * current_a)


def test_the_law_through_both_points_is_the_high_disc_of_7_mm() -> None:
    part = catalogue_disc(10.0)
    for current_a in (10.0, 50.0, 100.0):
        told_v = 1.1 * POINTS_7_MM_275_V[current_a]
        assert disc_v(part, "high", current_a) == pytest.approx(told_v, rel=0.03)
    # And of the nominal disc, which keeps the voltage at 1 mA that the catalogue tells.
    for current_a in (1e-3, 10.0, 50.0, 100.0):
        told_v = POINTS_7_MM_275_V[current_a]
        assert disc_v(part, "nominal", current_a) == pytest.approx(told_v, rel=0.05)


@pytest.mark.parametrize("current_a", [10.0, 50.0, 100.0, 500.0, 1000.0])
def test_the_discs_of_14_mm_follow_the_makers_curve(current_a: float) -> None:
    part, told_v = catalogue_disc(50.0), maker_v("S14K275", current_a)
    assert disc_v(part, "high", current_a) == pytest.approx(1.1 * told_v, rel=0.013)
    assert disc_v(part, "nominal", current_a) == pytest.approx(told_v, rel=0.06)
    assert disc_v(part, "low", current_a) == pytest.approx(0.9 * told_v, rel=0.06)


@pytest.mark.parametrize(
    # Capacitances: a maker's discs of the 275 V class. Currents, energies: catalogue classes, from memory.
    ("clamping_a", "diameter_m", "farad", "joule", "ampere", "watt"),
    [
        (10.0, 7e-3, 95e-12, 21.0, 1200.0, 0.25),
        (25.0, 10e-3, 195e-12, 43.0, 2500.0, 0.4),
        (50.0, 14e-3, 320e-12, 71.0, 4500.0, 0.6),
    ],
)  # fmt: skip
def test_what_is_unset_follows_from_the_size(
    clamping_a: float, diameter_m: float, farad: float, joule: float, ampere: float, watt: float
) -> None:
    part = catalogue_disc(clamping_a)
    assert part.diameter_m == diameter_m
    assert (part.terminal_f, part.energy_limit_j) == pytest.approx((farad, joule))
    assert (part.peak_limit_a, part.power_limit_w) == pytest.approx((ampere, watt))
    told = catalogue_disc(clamping_a, disc_m=20e-3, capacitance_f=1e-10)
    assert (told.diameter_m, told.terminal_f, told.power_limit_w) == (20e-3, 1e-10, 1.0)


def test_a_thinner_disc_has_more_capacitance() -> None:
    # Catalogue row of a 7 mm disc of the 130 V class: 150 to 200 pF, from memory.
    part = Varistor(
        ac_rating_v=130.0, one_milliamp_voltage_v=205.0, clamping_voltage_v=340.0, clamping_current_a=10.0
    )
    assert 150e-12 < part.terminal_f < 210e-12


def test_a_deck_says_which_disc_it_has() -> None:
    lamp = load_lamp("kerbside-flood")
    found = circuit(lamp, OperatingPoint(230.0, 50.0)).conditions
    assert found.disc == "nominal"


def test_without_a_tolerance_there_is_one_disc() -> None:
    assert catalogue_disc(10.0, tolerance_ratio=0.0).discs == ("high",)
    assert set(catalogue_disc(10.0).discs) == set(DISCS)


LAMPS: Mapping[str, Lamp] = {
    "flood": load_lamp("kerbside-flood"),
    "flood, 22 µF": changed(load_lamp("kerbside-flood"), reservoir=reservoir(22e-6)),
    "panel": load_lamp("corridor-panel"),
    "behind both": plain_lamp(varistor=catalogue_disc(25.0, place="behind both fusing")),
}


def taken(laboratory: Laboratory, lamp: Lamp, disc: Disc | None = None) -> CaseResult:
    """Surges on a lamp; with a disc, all of them with this one alone."""
    case = case_of(lamp, "surge", **HARSH)
    if disc is None:
        [result] = laboratory.take(case)
        return result
    assert lamp.varistor is not None
    volts = lamp.varistor.voltages_v(disc)
    points = dict(zip(("one_milliamp_voltage_v", "clamping_voltage_v"), volts, strict=True))
    alone = lamp.varistor.model_copy(update={**points, "tolerance_ratio": 0.0})
    [result] = laboratory.take(replace(case, lamp=lamp.model_copy(update={"varistor": alone})))
    return result


@pytest.mark.ngspice
@pytest.mark.parametrize("name", LAMPS)
def test_the_band_is_that_of_every_surge_with_every_disc(laboratory: Laboratory, name: str) -> None:
    """Low and nominal disc are run where the high one was worst; all 24 surges give the same."""
    found = taken(laboratory, LAMPS[name])
    every = {disc: taken(laboratory, LAMPS[name], disc) for disc in DISCS}
    assert found.runs < 0.8 * sum(one.runs for one in every.values())
    for disc, one in every.items():
        for reading in BANDED:
            told, whole = found.readings[f"surge_{disc}_disc_{reading}"], one.readings[f"surge_{reading}"]
            assert told == pytest.approx(whole, rel=0.02), (disc, reading)
    numbers = {name: [float(one.readings[name]) for one in every.values()]
               for name, value in every["high"].readings.items()
               if isinstance(value, float) and name.startswith("surge_") and not re.search("worst|_us$", name)
               and "disc" not in name}  # fmt: skip
    for reading, values in numbers.items():
        assert found.readings[reading] == pytest.approx(max(values), rel=0.02, abs=1e-6), reading


@pytest.mark.ngspice
def test_a_lower_disc_takes_more_and_lets_less_through(laboratory: Laboratory) -> None:
    readings = taken(laboratory, load_lamp("kerbside-flood")).readings
    low, nominal, high = ([float(readings[f"surge_{disc}_disc_{name}"]) for name in BANDED] for disc in DISCS)
    for name, *values in zip(BANDED, low, nominal, high, strict=True):
        assert values == sorted(values, reverse=name.startswith("varistor")), name
    # Whether the sinks avalanche hangs on the disc: nominal 0.21 A by the gate's drive, high by avalanche.
    assert readings["surge_worst_disc"] == "high"
    assert readings["surge_limited_by"] == "avalanche"
    assert nominal[0] < 0.6 * high[0]
    assert readings["surge_sink_peak_A"] == high[0]
    assert readings["surge_varistor_energy_J"] == low[BANDED.index("varistor_energy_J")]


@pytest.mark.ngspice
def test_a_lamp_without_varistor_has_no_band(laboratory: Laboratory) -> None:
    readings = laboratory.readings(plain_lamp(varistor=None), "surge")
    assert not [name for name in readings if "_disc" in name]
    assert discs_of(plain_lamp(varistor=None)) == ("high",)
