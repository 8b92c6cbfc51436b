"""Ranking of end states on a made-up lamp of two readings: lines, sets, what counts as shown."""

from __future__ import annotations

import numpy as np
import pytest

from coldiron.diagnosis.endstates import EndState
from coldiron.diagnosis.likelihood import Severity
from coldiron.diagnosis.look import Look, Seen
from coldiron.diagnosis.measurable import KINDS, Measurable
from coldiron.diagnosis.rank import Findings, Found, Ranking, rank
from coldiron.diagnosis.signatures import Signatures
from coldiron.lamp.load import load_lamp

WATTS = {"healthy": 45.0, "half": 22.0, "also half": 22.0, "third half": 22.0, "thirds": 28.0, "dark": 0.1}


def ranked(watts: float, amperes: float | None = None, *symptoms: str) -> Ranking:
    """Rank by watts and, where they were read, amperes: a hundredth of the watts in every state."""
    states = tuple(EndState(name) for name in WATTS)
    severities = tuple(
        (Severity(np.array([w, w / 100.0]), np.array([[0.03 * w], [0.0003 * w]]), np.array([0.5, 0.005])),)
        for w in WATTS.values()
    )
    looks = tuple((Look(light_ratio=w / 45.0),) for w in WATTS.values())
    measurables = Measurable(KINDS["input power"]), Measurable(KINDS["input current"])
    of = Signatures(load_lamp("kerbside-flood"), 230.0, measurables, states, severities, looks)
    readings = [Found(0, watts)] + ([] if amperes is None else [Found(1, amperes)])
    return rank(of, Findings(tuple(readings), Seen(tuple(symptoms))))


def names(found: Ranking, states: tuple[int, ...]) -> set[str]:
    return {found.signatures.states[n].name for n in states}


def test_probabilities_are_those_of_one_of_the_states() -> None:
    found = ranked(22.0)
    assert found.probability.sum() == pytest.approx(1.0)
    assert (np.diff(found.probability[found.order]) <= 1e-12).all()


def test_twins_share_a_line_and_the_likeliest_line_comes_first() -> None:
    found = ranked(25.0)
    assert names(found, (found.first,)) == {"thirds"}
    assert names(found, found.lines[0].states) == {"half", "also half", "third half"}
    assert found.lines[0].probability == max(line.probability for line in found.lines)
    every = [n for line in found.lines for n in line.states]
    assert sorted(every) == list(range(len(WATTS)))


def test_the_likely_set_is_the_smallest_that_holds_nine_tenths() -> None:
    found = ranked(22.0)
    held = found.probability[list(found.likely)]
    assert held.sum() >= 0.9
    assert held.sum() - held.min() < 0.9


def test_a_good_lamp_is_not_accused_and_a_broken_one_is() -> None:
    assert not ranked(45.0, 0.45).shown
    assert not ranked(42.5, 0.43).shown
    assert ranked(22.0, 0.22).shown
    assert names(ranked(45.0, 0.45), (ranked(45.0, 0.45).lead,)) == {"healthy"}


def test_what_was_seen_alone_can_show_a_fault() -> None:
    found = ranked(0.0, None, "dark")
    assert found.shown
    assert names(found, (found.lead,)) == {"dark"}


def test_an_odd_reading_is_named_and_the_rest_decides() -> None:
    found = ranked(45.0, 0.10)
    assert [odd.found.place for odd in found.odd] in ([0], [1])
    assert not ranked(45.0, 0.45).odd
