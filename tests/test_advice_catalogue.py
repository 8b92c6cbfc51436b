"""The catalogue of generic parts: preferred numbers, and rows that hang together as the trade's do."""

from __future__ import annotations

import math
from itertools import pairwise

import eseries
import pytest

from coldiron.advice.catalogue import (
    SERIES,
    electrolytics,
    preferred,
    resistors,
    thermistor_discs,
    varistor_discs,
)
from coldiron.lamp.varistor import DISC_SIZES

IEC_60063_E24 = (
    10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91,
)  # fmt: skip
"""Table 1 of IEC 60063:2015, from memory; the library eseries has the same."""


def test_preferred_numbers_are_those_of_the_standard() -> None:
    assert [round(10 * number) for number in SERIES["E24"]] == list(IEC_60063_E24)
    # Each coarser series is every second number of the finer one (IEC 60063, clause on the E series).
    assert SERIES["E12"] == SERIES["E24"][::2]
    assert SERIES["E6"] == SERIES["E12"][::2]
    for name, key in (("E6", eseries.E6), ("E12", eseries.E12), ("E24", eseries.E24)):
        assert SERIES[name] == pytest.approx([value / 10 for value in eseries.series(key)])


@pytest.mark.parametrize("name", ["E6", "E12", "E24"])
def test_a_range_of_a_series_is_that_of_the_library(name: str) -> None:
    key = {"E6": eseries.E6, "E12": eseries.E12, "E24": eseries.E24}[name]
    assert preferred(name, 1.0, 100.0) == pytest.approx(list(eseries.erange(key, 1, 100)))
    assert preferred(name, 4.0, 52e3) == pytest.approx(list(eseries.erange(key, 4, 52e3)))


def test_numbers_are_rounded_powers_but_for_the_known_ones() -> None:
    """IEC 60063: 10^(n/24) to two figures, but for the eight values that history fixed (from memory)."""
    odd = [n for n, number in enumerate(IEC_60063_E24) if round(10 * 10 ** (n / 24)) != number]
    assert [IEC_60063_E24[n] for n in odd] == [27, 30, 33, 36, 39, 43, 47, 82]


def test_electrolytics_hang_together() -> None:
    data = electrolytics()
    for row in data.row:
        # tan δ of 0.24 at 120 Hz: a common maximum of 400 V types.
        assert row.esr_ohm == pytest.approx(0.24 / (2 * math.pi * 120.0 * row.capacitance_f), rel=0.03)
        assert row.ripple_a == pytest.approx(0.110 * (row.capacitance_f / 10e-6) ** 0.666, rel=0.06)
    for one, next_one in pairwise(data.row):
        assert next_one.capacitance_f > one.capacitance_f
        assert next_one.price > one.price
        assert next_one.diameter_m**2 * next_one.height_m >= one.diameter_m**2 * one.height_m
    assert [row.price_factor for row in data.life] == sorted(row.price_factor for row in data.life)


def test_a_higher_voltage_needs_a_larger_case() -> None:
    data = electrolytics()
    for number in range(2, len(data.row) - 1):
        cases = [data.case_of(number, volt) for volt in (200.0, 400.0, 450.0)]
        volumes = [case.diameter_m**2 * case.height_m for case in cases]
        assert volumes == sorted(volumes)


def test_discs_are_those_of_the_trade() -> None:
    sizes = {round(1e3 * size.diameter_m): size for size in DISC_SIZES}
    for disc in varistor_discs():
        size = sizes[round(1e3 * disc.diameter_m)]
        assert disc.peak_current_a == size.peak_current_a
        assert disc.energy_j == size.energy_j


def test_thermistors_have_one_current_for_each_value() -> None:
    for disc in thermistor_discs():
        assert len(disc.r25_ohm) == len(disc.largest_current_a)
        # Time constant H/δ: 20, 32 and 43 s of public tables of 5, 9 and 11 mm discs.
        assert 15.0 < disc.heat_j_per_k / disc.loss_w_per_k < 55.0


def test_a_higher_rating_costs_more() -> None:
    for of in (resistors().fusing, resistors().bleed):
        assert [row.price for row in of.row] == sorted(row.price for row in of.row)
        assert [row.power_w for row in of.row] == sorted(row.power_w for row in of.row)
