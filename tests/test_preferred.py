"""Values that can be bought: the series of preferred numbers, and the next one up or down."""

from __future__ import annotations

import eseries
import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldiron.lamp.shapes import shapes
from coldiron.parts import KINDS
from coldiron.preferred import E6, E12, E24, Bought

SERIES = {E6: eseries.E6, E12: eseries.E12, E24: eseries.E24}


def test_series_are_those_of_iec_60063() -> None:
    """IEC 60063:2015, table 1, as makers print it; E12 and E6 are every second and fourth of E24."""
    assert [round(10 * value) for value in E24] == [
        10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91,
    ]  # fmt: skip
    assert E24[::2] == E12
    assert E24[::4] == E6


@given(st.sampled_from([E6, E12, E24]), st.floats(1e-12, 1e7), st.integers(1, 30))
def test_next_value_is_that_of_a_library(series: tuple[float, ...], value: float, steps: int) -> None:
    """Against the library eseries, one step after the other, from any value."""
    key = SERIES[series]
    up = down = value
    for _ in range(steps):
        up = eseries.find_greater_than(key, up * (1 + 2e-6))
        down = eseries.find_less_than(key, down * (1 - 2e-6))
    assert Bought(series=series).beside(value, steps) == pytest.approx(up, rel=1e-5)
    assert Bought(series=series).beside(value, -steps) == pytest.approx(down, rel=1e-5)


def test_lists_end_and_counts_do_not_fall_below_one() -> None:
    watts = Bought(values=(0.5, 1.0, 2.0))
    assert [watts.beside(1.5, n) for n in (-2, -1, 0, 1, 2)] == [0.5, 1.0, 1.5, 2.0, None]
    assert [Bought(whole=True).beside(2, n) for n in (-2, -1, 3)] == [None, 1.0, 5.0]


@pytest.mark.parametrize("word", sorted(word for word, kind in KINDS.items() if kind.placeable))
def test_what_is_bought_is_a_value_of_its_kind(word: str) -> None:
    assert set(KINDS[word].bought) <= set(shapes(KINDS[word].model))
