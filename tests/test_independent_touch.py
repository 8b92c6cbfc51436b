"""A hand on the housing and a surge to earth against an integration that shares no code with the decks."""

from __future__ import annotations

import pytest

from coldiron.benches.earthed import Arrangement
from coldiron.benches.surge_earth import Blow
from coldiron.lamp.topologies.linear_sinks import LinearSinksLamp as Lamp
from earthed_rig import asked
from independent_touch import surged as surged_apart
from independent_touch import touched
from laboratory import Laboratory, changed
from lamps import load_lamp
from surge_earth_rig import surged

pytestmark = pytest.mark.ngspice
BOARD_F = 3e-9


def flood() -> Lamp:
    """The flood with 3 nF from string to housing."""
    return changed(load_lamp("kerbside-flood"), housing={"board_capacitance_f": BOARD_F})


@pytest.mark.parametrize("neutral_closed", [True, False])
def test_touch_current_and_glow(laboratory: Laboratory, neutral_closed: bool) -> None:
    apart = touched(flood(), BOARD_F, neutral_closed=neutral_closed)
    hand = Arrangement(earth=False, hand="housing", neutral_closed=neutral_closed)
    [run] = asked(laboratory, flood(), hand)
    assert run.hand.rms_a == pytest.approx(apart["rms_a"], rel=0.005)
    assert run.hand.peak_a == pytest.approx(apart["peak_a"], rel=0.01)
    assert run.string_a == pytest.approx(apart["string_a"], rel=0.005)


def test_surge_from_the_line_to_earth(laboratory: Laboratory) -> None:
    blows = [(90.0, 1), (90.0, -1)]
    apart = surged_apart(flood(), BOARD_F, 2000.0, blows)
    runs = surged(laboratory, flood(), *((Blow("line", sign, angle, 2000.0), 8) for angle, sign in blows))
    for one, run in zip(apart, runs, strict=True):
        assert run.feed_v == pytest.approx(one["feed_v"], rel=0.01)
        assert run.minus_v == pytest.approx(one["minus_v"], rel=0.01)
        assert run.earth_a == pytest.approx(one["earth_a"], rel=0.02)
        assert run.drain_v == pytest.approx(one["drain_v"], rel=0.01)
