"""Final states of faults, in words: against the public lines, and against the same lamp healthy."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest

from coldiron.answer.fault_words import caution, what_happens
from coldiron.answer.final_state import (
    DARK,
    FIRE,
    OPENS,
    RUNS,
    UNSEEN,
    WORDS,
    FinalState,
    final_state,
    final_states,
)
from coldiron.faults import EVERY
from coldiron.limits.decision_lines import decision_lines
from coldiron.study.load import make_study
from coldiron.study.model import Study
from coldiron.sweep.case_result import CaseResult
from coldiron.sweep.faults import Followed, fault_cases, followed
from coldiron.sweep.run import FinishedCase
from coldiron.tables.faults import altered_lines, fault_lines, fault_table
from laboratory import Laboratory

_kept: dict[str, list[Followed]] = {}


def follow(laboratory: Laboratory, study: Study, names: tuple[str, ...]) -> list[Followed]:
    """Faults of a study, followed in one worker; the same ones once for all tests."""
    key = f"{study.model_dump_json()}{names}"
    if key not in _kept:
        cases = fault_cases(study, names)
        done = [FinishedCase(one.case, laboratory.take(one.case)[0]) for one in cases]
        _kept[key] = followed(cases, done)
    return _kept[key]


@cache
def bulb() -> Study:
    return make_study("pantry-bulb", benches=["steady"])


def states(found: list[Followed]) -> dict[str, FinalState]:
    return {one.fault.name: final_state(one) for one in found}


def test_every_fault_of_a_lamp_ends_as_a_word_of_few(laboratory: Laboratory) -> None:
    found = states(follow(laboratory, bulb(), (EVERY,)))
    assert {state.word for state in found.values()} <= set(WORDS) - {"no answer"}
    assert found["film short"].words == "opens, then dark but live"
    assert found["line_fusing open"].words == DARK
    assert found["sinks short"].word == FIRE
    assert found["string short"].word == FIRE
    assert found["film open"].word == UNSEEN
    assert found["line_fusing bridged"].word == UNSEEN
    assert found["bleed open"].word == UNSEEN
    assert found["bridge line-plus open"].word == RUNS
    assert found["bridge line-plus open"].light_pct == pytest.approx(50.0, abs=1.0)


def test_the_worst_come_first_and_what_ends_alike_is_one_row(laboratory: Laboratory) -> None:
    rows = final_states(follow(laboratory, bulb(), (EVERY,)))
    order = [WORDS.index(state.word) for state in rows]
    assert order == sorted(order)
    shorts = next(s for s in rows if s.followed.fault.name.startswith("bridge") and s.word == OPENS)
    assert len(shorts.alike) == 3
    assert sum(1 + len(state.alike) for state in rows) == len(follow(laboratory, bulb(), (EVERY,)))


def test_a_healthy_lamp_on_high_mains_is_no_fire(laboratory: Laboratory) -> None:
    """At +10 % every sink of the flood is above its watts: by ratings alone most of the faults were fire."""
    study = make_study("kerbside-flood", benches=["steady"], conditions={"mains": ["+10 %"]})
    found = states(follow(laboratory, study, ("film open", "bleed", "string one LED open", "varistor -10 %")))
    assert found["film open"].followed.was["end_over_parts"] != "none"
    assert FIRE not in {state.word for state in found.values()}


def test_a_lamp_that_is_over_its_ratings_while_healthy_is_no_fire_by_them(laboratory: Laboratory) -> None:
    """Sinks rated for half a watt take three times that in the healthy flood: no fault has made it so."""
    study = make_study("kerbside-flood", {"weak": {"sinks.power": "0.5 W"}}, benches=["steady"])
    weak = study.model_copy(update={"variants": study.variants[1:]})
    found = states(follow(laboratory, weak, ("film open", "string short")))
    assert found["film open"].word == UNSEEN
    assert found["string short"].word == FIRE


def test_nothing_is_fire_by_less_than_both_lines(laboratory: Laboratory) -> None:
    """Twice the rating and twice the healthy watts, or 15 W more: both read off the readings once more."""
    for one in follow(laboratory, bulb(), (EVERY,)):
        state = final_state(one)
        more_w = max(
            float(one.readings[name]) - float(one.was.get(name, 0.0))
            for name in one.readings
            if name.endswith("_W") and name.removesuffix("_W") in one.done.case.lamp.circuit
        )
        if more_w > decision_lines()["resistive-30-s"].most:
            assert state.word == FIRE, one.fault.name


def test_every_end_that_needs_a_person_has_its_caution(laboratory: Laboratory) -> None:
    for state in final_states(follow(laboratory, bulb(), (EVERY,))):
        said = caution(state)
        assert bool(said) == (state.word != RUNS or bool(state.over) or state.followed.number("arc_W") > 0.0)
        assert "safe" not in f"{said} {what_happens(state)}"
        assert "%" not in said or "likely" not in said


def test_dark_but_live_names_its_points_and_the_plug(laboratory: Laboratory) -> None:
    found = states(follow(laboratory, bulb(), (EVERY,)))
    assert "plug the other way round" in what_happens(found["line_fusing open"])
    assert "with the plug either way" in what_happens(found["string open"])
    assert "34 V" in caution(found["string open"])


def test_a_variant_says_what_it_alters_of_a_fault(laboratory: Laboratory) -> None:
    study = make_study(
        "kerbside-flood",
        {
            "22 Ω": {"line_fusing.resistance": "22 Ω"},
            "no fusing": {"line_fusing": "none", "neutral_fusing": "none"},
        },
        benches=["steady"],
    )
    lines = list(altered_lines(follow(laboratory, study, ("varistor short",)), "as found"))
    assert lines[0].startswith("with 22 Ω: varistor short opens line fusing in 5 ms to 160 ms; as found")
    assert "opens nothing in the lamp: only the breaker of the house" in lines[1]


def test_a_variant_without_the_part_is_without_its_faults(laboratory: Laboratory) -> None:
    study = make_study("kerbside-flood", {"no film": {"film": "none"}}, benches=["steady"])
    cases = fault_cases(study, ["film"])
    assert [(one.variant, one.fault.name if one.fault else "") for one in cases] == [
        ("as found", ""),
        ("as found", "film open"),
        ("as found", "film short"),
        ("no film", ""),
    ]


def test_an_arc_is_named_by_its_volt_amperes(laboratory: Laboratory) -> None:
    """IEC 62368-1: above 50 V and 15 V·A an arc ignites: a joint of the flood has more, an LED less."""
    study = make_study("kerbside-flood", benches=["steady"])
    found = states(follow(laboratory, study, ("joint loose", "string one LED arcing")))
    assert found["joint loose"].word == FIRE
    assert "V·A of 15" in found["joint loose"].hot[0]
    assert found["string one LED arcing"].word == RUNS
    assert "ends when the gap asks for more than" in what_happens(found["string one LED arcing"])


def test_the_table_of_a_lamp_fits_a_screen(laboratory: Laboratory) -> None:
    found = follow(laboratory, bulb(), (EVERY,))
    for width in (80, 100, 140):
        lines = fault_lines(bulb().lamp, found, width)
        assert max(map(len, lines)) <= max(width, 100), width
        assert any("Computed, not measured" in line for line in lines) or width < 100
    assert len(fault_table(found).splitlines()) == 1 + len(found)


def test_a_fault_without_an_answer_stays_in_the_table(laboratory: Laboratory) -> None:
    [one, *_] = follow(laboratory, bulb(), (EVERY,))
    lost = replace(one, done=replace(one.done, result=CaseResult({}, {})))
    assert final_state(lost).word == "no answer"
    assert "no answer" in "\n".join(fault_lines(bulb().lamp, [lost], 100))


def test_public_lines_have_their_numbers() -> None:
    """IEC 62368-1: 15 W, 100 W, 50 V, 15 V·A; IEC 61347-1: 0.7 mA, 34 V (written down from the standards)."""
    most = {name: line.most for name, line in decision_lines().items()}
    assert most == {
        "resistive-30-s": 15.0, "resistive-at-once": 100.0, "arcing-voltage": 50.0, "arcing-product": 15.0,
        "live-current": 0.7e-3, "live-voltage": 34.0, "rating-ratio": 2.0,
    }  # fmt: skip
