"""Pairs that move one way: over real runs of random lamps, and what comes of one that does not."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings

from advising import by_brute_force, off_by, parts_study, searched
from coldiron.advice import search
from coldiron.advice.monotone import PAIRS, RISES, worse_by_pairs
from coldiron.advice.runs import Bench
from coldiron.advice.search import BROKEN_LIKE
from coldiron.advice.space import Space
from coldiron.benches.base import Case
from coldiron.lamp.parts import BleedResistor, FusingResistor, ReservoirCapacitor
from coldiron.lamp.topologies.linear_sinks import LinearSinksLamp as Lamp
from laboratory import Laboratory
from lamps import lamps, load_lamp

TOLERANCE_RATIO = 0.005
"""Less than this a reading may move the wrong way: the engine's steps."""


def with_value(lamp: Lamp, key: str, value: float) -> Lamp:
    """The lamp with one value of the catalogue's parts; the resistance of a reservoir goes with its size."""
    if key == "reservoir.capacitance":
        esr_ohm = 0.24 / (2 * math.pi * 120.0 * value)
        return lamp.model_copy(update={"reservoir": ReservoirCapacitor(capacitance_f=value, esr_ohm=esr_ohm)})
    if key == "sinks.sense_resistor":
        return lamp.model_copy(update={"sinks": lamp.sinks.model_copy(update={"sense_resistor_ohm": value})})
    part = BleedResistor if key == "bleed.resistance" else FusingResistor
    return lamp.model_copy(update={key.partition(".")[0]: part(resistance_ohm=value)})


VALUES = {
    "reservoir.capacitance": (10e-6, 33e-6, 100e-6),
    "line_fusing.resistance": (4.7, 15.0, 33.0),
    "sinks.sense_resistor": (12.0, 18.0, 30.0),
    "bleed.resistance": (100e3, 330e3, 680e3),
}
BENCH = {"discharge": "unplug", "surge": "surge", "inrush": "switch-on"}
ALL = [(reading, key) for reading, keys in PAIRS.items() for key in keys]


def move_one_way(lamp: Lamp, reading: str, key: str) -> None:
    """Fail where a reading moves the other way than its pair says."""
    whole = with_value(lamp, "reservoir.capacitance", 22e-6)
    whole = whole.model_copy(
        update={
            "neutral_fusing": whole.neutral_fusing or FusingResistor(resistance_ohm=4.7),
            "bleed": whole.bleed or BleedResistor(resistance_ohm=330e3),
        }
    )
    bench = BENCH.get(reading.partition("_")[0], "steady")
    with Laboratory() as lab:
        seen = [
            float(lab.readings(with_value(whole, key, value), bench, surge_angles_deg=(90.0,))[reading])
            for value in VALUES[key]
        ]
    sign = PAIRS[reading][key]
    for one, other in pairwise(seen):
        assert sign * (other - one) >= -TOLERANCE_RATIO * abs(one), (reading, key, seen)


@pytest.mark.ngspice
@pytest.mark.parametrize(("reading", "key"), [pair for pair in ALL if pair[0] != "inrush_bridge_peak_A"])
def test_pairs_hold_on_a_demo_lamp(reading: str, key: str) -> None:
    move_one_way(load_lamp("kerbside-flood"), reading, key)


@pytest.mark.ngspice
@pytest.mark.slow
@pytest.mark.parametrize(("reading", "key"), ALL)
@settings(max_examples=6, deadline=None, suppress_health_check=list(HealthCheck))
@given(lamps())
def test_pairs_hold_on_any_lamp(reading: str, key: str, lamp: Lamp) -> None:
    move_one_way(lamp, reading, key)


def bus_v(case: Case, sign: float) -> dict[str, float]:
    """A surge that a larger reservoir and more ohms in the line ease, or the other way about."""
    lamp = case.lamp
    assert isinstance(lamp, Lamp)
    assert lamp.line_fusing
    stored = math.log10(lamp.reservoir.capacitance_f / 1e-6) if lamp.reservoir else 0.0
    eased_v = 40.0 * stored + 30.0 * math.log10(lamp.line_fusing.resistance_ohm)
    widths = dict.fromkeys(("surge_bridge_pulse_us", "surge_string_pulse_us"), 20.0)
    return {"surge_bus_peak_V": 640.0 + sign * (110.0 - eased_v), **widths}


@pytest.mark.parametrize("sign", [RISES, -RISES])
def test_the_set_is_that_of_running_everything_whether_pairs_hold_or_not(
    sign: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(search, "WAVE", 4)
    study = parts_study(
        load_lamp("kerbside-flood"), ("steady", "surge"), sense_resistor={"least": "16 Ω", "most": "30 Ω"},
        set_aside=["iec-61000-3-2.*", "ieee-1789.*", "rating.reservoir.*", "rating.sinks.*"],
    )  # fmt: skip
    pool = off_by(lambda case, name: 1.0, lambda case: bus_v(case, float(sign)))
    _, best = by_brute_force(study, pool)
    found = searched(study, pool)
    assert set(found.best) == set(best)
    if sign != RISES:  # larger reservoirs would break it, and are tried last
        assert not (found.fate == BROKEN_LIKE).any() or found.widened


def test_only_what_is_worse_in_every_value_is_ruled_out() -> None:
    study = parts_study(load_lamp("kerbside-flood"), ("steady", "surge"))
    space = Space(study)
    pool = off_by(lambda case, name: 1.0, lambda case: bus_v(case, 1.0))
    bench = Bench(space, pool)
    for name in ("steady", "surge"):
        bench.run(range(len(space)), name)
    ruled_out = 0
    for number in range(len(space)):
        for topic, use in bench.of(number).uses.items():
            for other in np.flatnonzero(worse_by_pairs(space, number, use)):
                assert topic in bench.broken(int(other))
                assert bench.of(int(other)).uses[topic].ratio >= use.ratio
                ruled_out += 1
    assert ruled_out > 20
