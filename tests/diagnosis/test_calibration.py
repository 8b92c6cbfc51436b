"""How often a diagnosis is right: random lamps with one hidden fault, each run by itself.

The bars are ours (no source): what a bench prototype of the method reached, a little below.
"""

from __future__ import annotations

import numpy as np
import pytest

from coldiron.diagnosis.next_reading import forbidden, propose
from coldiron.diagnosis.rank import Findings, rank
from diagnosis_population import (
    Broken,
    as_read,
    every_state,
    places,
    population,
    score,
    score_odd,
    signatures_of,
)
from laboratory import Laboratory

pytestmark = pytest.mark.ngspice
LAMPS = ("kerbside-flood", "corridor-panel", "pantry-bulb")
QUICK_LAMPS, SLOW_LAMPS = 40, 200
_LAMPS: dict[tuple[str, int, float], list[Broken]] = {}
"""Populations that were run; the quick tests share theirs."""


def lamps_of(laboratory: Laboratory, name: str, count: int, factor: float = 1.0) -> list[Broken]:
    if (name, count, factor) not in _LAMPS:
        of = signatures_of(laboratory, name)
        states = every_state(of, count, seed=7)
        _LAMPS[name, count, factor] = population(laboratory, of, states, seed=11, factor=factor)
    return _LAMPS[name, count, factor]


def test_a_few_broken_bulbs(laboratory: Laboratory) -> None:
    """The quick form: every state of the bulb once or twice."""
    of, lamps = signatures_of(laboratory, "pantry-bulb"), lamps_of(laboratory, "pantry-bulb", QUICK_LAMPS)
    found = score(of, lamps, "live")
    assert found.first >= 0.95
    assert found.first_three >= 0.96
    assert found.alone_first >= 0.95
    assert found.held >= 0.90
    assert found.accused == 0
    by_plug = score(of, lamps, "plug")
    assert by_plug.held >= 0.85
    odd = score_odd(of, lamps)
    assert odd.lamps >= 20
    assert odd.named >= 0.75
    assert odd.first_three >= 0.88


@pytest.mark.slow
@pytest.mark.parametrize("factor", [1.0, 1.5])
@pytest.mark.parametrize("name", LAMPS)
def test_many_broken_lamps(laboratory: Laboratory, name: str, factor: float) -> None:
    """The long form: 200 lamps of a kind, spread as assumed and half as much again, and 60 good ones."""
    of, lamps = signatures_of(laboratory, name), lamps_of(laboratory, name, SLOW_LAMPS, factor)
    good = population(laboratory, of, [of.state("healthy")] * 60, seed=13, factor=factor)
    found, odd = score(of, lamps, "live"), score_odd(of, lamps)
    assert found.first >= 0.95
    assert found.first_three >= 0.96
    assert found.held >= 0.90
    assert found.alone_first >= 0.95
    assert [score(of, good, which).accused for which in ("plug", "live", "all")] == [0, 0, 0]
    assert odd.named >= 0.75
    assert odd.first_three >= 0.88
    assert score(of, lamps, "plug").held >= 0.90
    assert score(of, lamps, "all").first >= 0.95


def test_no_live_reading_while_a_dead_short_is_a_candidate(laboratory: Laboratory) -> None:
    of, rng = signatures_of(laboratory, "pantry-bulb"), np.random.default_rng(5)
    for lamp in lamps_of(laboratory, "pantry-bulb", QUICK_LAMPS):
        found = rank(of, as_read(of, lamp, places(of, "plug")[:2], rng))
        among = [n for n in range(len(of.states)) if found.probability[n] >= 0.01]
        proposal = propose(found)
        if any(of.states[n].dead_short for n in among):
            assert forbidden(found) == {"live", "plug"}
            assert proposal is None or proposal.measurable.kind.danger == "unplugged"


def test_following_its_own_advice_a_diagnosis_comes_to_the_fault(laboratory: Laboratory) -> None:
    """From watts alone, each next reading as proposed, until one state holds nine tenths or nothing tells."""
    of, rng = signatures_of(laboratory, "pantry-bulb"), np.random.default_rng(6)
    right, taken, live = [], [], []
    for lamp in lamps_of(laboratory, "pantry-bulb", QUICK_LAMPS)[::4]:
        findings = as_read(of, lamp, places(of, "plug")[:1], rng)
        for _ in range(8):
            found = rank(of, findings)
            proposal = propose(found)
            if proposal is None:
                break
            more = as_read(of, lamp, [proposal.place], rng).readings
            findings = Findings((*findings.readings, *more))
        read = [of.measurables[one.place].kind.danger for one in findings.readings]
        taken.append(len(read) - 1)
        live.append(read.count("live"))
        right.append(lamp.state in found.likely)
    assert np.mean(right) >= 0.9
    assert np.mean(taken) <= 5.0
    assert np.mean(live) <= 1.0
