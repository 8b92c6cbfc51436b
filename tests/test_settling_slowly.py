"""Lamps with a slow store: what is settled stays where it is, however long the lamp runs on."""

from __future__ import annotations

import numpy as np
import pytest

from coldiron.benches import settling
from laboratory import Laboratory
from slow_stores import FURTHER, watts_now_and_later

pytestmark = pytest.mark.ngspice


@pytest.mark.parametrize("name", FURTHER)
def test_what_is_settled_stays(laboratory: Laboratory, name: str) -> None:
    # Its own future is the reference: five time constants on, the light is the same within 0.15 %.
    now, later = laboratory.call(watts_now_and_later, name)
    assert now == pytest.approx(later, rel=1.5e-3)


def test_a_leap_goes_to_the_end_of_a_geometric_series() -> None:
    # Closed form: steps 1, 1/2, 1/4 leave 1/4 · 1/2 / (1 - 1/2) = 1/4.
    direction = np.array([1.0, 2.0, -0.5])
    ends = [0.0 * direction, 1.0 * direction, 1.5 * direction]
    leap = settling._leap(ends, 100.0)
    assert leap is not None
    assert leap == pytest.approx(0.5 * direction)


def test_steps_that_turn_or_grow_are_no_mode_to_leap_along() -> None:
    direction, other = np.array([1.0, 0.0]), np.array([0.0, 1.0])
    assert settling._leap([0 * direction, direction, direction + other], 100.0) is None
    assert settling._leap([0 * direction, direction, 2.5 * direction], 100.0) is None
    assert settling._leap([0 * direction, direction, 1.001 * direction], 100.0) is None
