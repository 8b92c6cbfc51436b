"""Every case answers: random lamps of every mains, size and set of parts, on every bench there is.

The series is fixed by its seed. The long form runs a thousand lamps on all benches; every run has sixty of
them, each on two benches in turn, so that each bench sees some ten.
"""

from __future__ import annotations

import math

import pytest

from coldiron.benches import BENCHES
from coldiron.benches.base import Case
from coldiron.benches.edges import edge_words
from coldiron.lamp.parts import FusingResistor
from coldiron.lamp.topologies.linear_sinks import LinearSinksLamp as Lamp
from coldiron.study.disturbances import Burst, Leakage, Sag
from coldiron.sweep.worker import Work, run_work
from laboratory import Laboratory, case_of, changed
from lamps import plain_lamp, reservoir
from wide_lamps import wide_lamp

pytestmark = pytest.mark.ngspice
SEED = 1
IN_EVERY_RUN = 60
IN_A_LONG_RUN = 1000
SLICE = 20
BENCHES_EACH = 2


def cases(lamp: Lamp, benches: tuple[str, ...]) -> tuple[Case, ...]:
    """A lamp on benches, the slow conditions of some of them cut short."""
    return tuple(
        case_of(
            lamp,
            bench,
            burst=Burst(pulses=3),
            sag=Sag(fall_s=0.02, hold_s=0.02, rise_s=0.02),
            leakage=Leakage(cable_length_m=5.0),
        )
        for bench in benches
    )


def without_an_answer(laboratory: Laboratory, first: int, benches_each: int) -> list[str]:
    """What is wrong with the cases of a slice of lamps, one line each."""
    wrong = []
    # Live is what touch does, point by point, in thirty runs a lamp.
    names = tuple(bench for bench in BENCHES if bench != "live")
    for number in range(first, first + SLICE):
        turned = tuple(names[(number * benches_each + n) % len(names)] for n in range(benches_each))
        asked = cases(wide_lamp(SEED, number), turned)
        # An engine that a deck has spoilt would return fewer results than cases.
        results = laboratory.call(run_work, Work(asked))
        wrong += [f"lamp {number}: {len(results)} of {len(asked)} cases"] * (len(results) < len(asked))
        for case, result in zip(asked, results, strict=False):
            where = f"lamp {number}, {case.bench}"
            if result.failure:
                wrong.append(f"{where}: {result.failure.why} {result.failure.engine_words[-200:]}")
            wrong += [
                f"{where}: {name} is {value}"
                for name, value in result.readings.items()
                # A level that is never reached takes for ever.
                if isinstance(value, float) and not (math.isfinite(value) or name.endswith(("_s", "_ms")))
            ]
    return wrong


@pytest.mark.parametrize("first", range(0, IN_EVERY_RUN, SLICE))
def test_sixty_lamps_answer(laboratory: Laboratory, first: int) -> None:
    assert without_an_answer(laboratory, first, BENCHES_EACH) == []


def test_a_bus_of_mere_stray_capacitance_needs_no_search(laboratory: Laboratory) -> None:
    # Neither film, bleed resistor nor reservoir: the bus goes where the leak takes it, from anywhere.
    [result] = laboratory.call(run_work, Work(cases(wide_lamp(SEED, 708), ("off-glow",))))
    assert result.failure is None
    assert result.readings["glows"] == "no"


@pytest.mark.slow
@pytest.mark.parametrize("first", range(0, IN_A_LONG_RUN, SLICE))
def test_a_thousand_lamps_answer_on_every_bench(laboratory: Laboratory, first: int) -> None:
    assert without_an_answer(laboratory, first, len(BENCHES)) == []


EDGES = {
    "reservoir of 10 mF behind 10.4 Ω": plain_lamp(reservoir=reservoir(10e-3)),
    "reservoir of 10 mF behind 10 kΩ": plain_lamp(
        line_fusing=FusingResistor(resistance_ohm=10e3, power_w=2.0), reservoir=reservoir(10e-3)
    ),
    "bridge breaks down at 55 V": changed(plain_lamp(), bridge={"reverse_voltage_v": 50.0}),
    "sinks break down at 110 V": changed(
        plain_lamp(), string={"series": 20}, sinks={"drain_voltage_v": 100.0}
    ),
}


@pytest.mark.parametrize("words", EDGES)
def test_an_edge_lamp_answers_or_says_why(laboratory: Laboratory, words: str) -> None:
    asked = cases(EDGES[words], ("switch-on", "steady", "unplug"))
    results = laboratory.call(run_work, Work(asked))
    assert len(results) == len(asked)
    failures = [result.failure for result in results if result.failure]
    assert all(words in failure.why and "check " in failure.why for failure in failures)


def test_what_is_out_of_the_ordinary_is_named() -> None:
    for words, lamp in EDGES.items():
        assert words in edge_words(case_of(lamp, "steady"))
    assert edge_words(case_of(plain_lamp(reservoir=reservoir(22e-6)), "steady")) == ""


def test_lamps_with_nothing_for_the_mains_answer(laboratory: Laboratory) -> None:
    for series in (1, 140):
        asked = cases(
            changed(plain_lamp(), string={"series": series}),
            tuple(each for each in BENCHES if each != "live"),
        )
        assert all(result.failure is None for result in laboratory.call(run_work, Work(asked)))
