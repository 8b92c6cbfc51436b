"""Aims, their grammar, and the order of variants, from numbers put in by hand."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from itertools import permutations
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldiron.answer.aims import MEASURES
from coldiron.answer.answer import answer
from coldiron.answer.rank import STEP_RATIO, steps_over
from coldiron.answer.safety import Hazard, taken_away
from coldiron.answer.untried import passed_at
from coldiron.answer.words import answer_lines
from coldiron.errors import FileProblems
from coldiron.lamp.body import Housing
from coldiron.limits import judge
from coldiron.study.aims import KNOWN_AIMS, Bound
from coldiron.study.change import Change
from coldiron.study.load import study_from
from coldiron.sweep.case_result import CaseResult, Failure
from coldiron.sweep.results import Results
from coldiron.sweep.run import FinishedCase
from coldiron.tables.answer_files import use_matrix
from judging import current, done_of
from lamps import load_lamp, plain_lamp, reservoir
from weighing import Tried, answered, finished, order, study_of


def steady(**readings: float) -> dict[str, dict[str, float | str]]:
    return {"steady": dict(readings)}


def complaints(aim: str) -> list[str]:
    table = tomllib.loads(f'lamp = "pantry-bulb"\n{aim}')
    with pytest.raises(FileProblems) as refused:
        study_from(table, Path("study.toml"))
    return str(refused.value).splitlines()


def test_every_aim_a_study_may_name_has_a_measure() -> None:
    assert tuple(MEASURES) == KNOWN_AIMS


@pytest.mark.parametrize(
    ("aim", "said"),
    [
        ('[aim]\nwant = ["steady ligt"]', 'aim.want[1] is "steady ligt": expected'),
        ('[aim]\nwant = ["steady ligt"]', "(did you mean steady light?)"),
        ('[aim]\nkeep = ["flicker_pct at most 8 %"]', "(did you mean flicker_pct at most 8?)"),
        ('[aim]\nkeep = ["flicker_pct at most 1,5"]', "(did you mean flicker_pct at most 1.5?)"),
        ('[aim]\nkeep = ["sinks_W below 3"]', "expected a reading and its bound, such as"),
        ('[aim]\nkeep = ["flicker at most 8"]', "(did you mean flicker_pct at most 8?)"),
        ('[aim]\nkeep = ["heat_outcome at most 8"]', "expected a reading of a bench that is a number"),
        ("[aim]\nkeep = [3]", "aim.keep[1] is 3: expected a reading and its bound"),
        ('[aim]\nwish = ["steady light"]', "aim.wish is an unknown key: expected want or keep"),
        ('aim = "steady light"', 'aim is "steady light": expected a table [aim]'),
    ],
)
def test_a_mistake_in_an_aim_is_one_line_with_the_nearest_fix(aim: str, said: str) -> None:
    [line] = complaints(aim)
    assert line.startswith("study.toml: aim")
    assert said in line


def test_a_bound_is_read_and_written_the_same() -> None:
    for text in ("svm at most 0.4", "power_factor at least 0.9", "sinks_W at most as found"):
        assert str(Bound.read(text)) == text
    assert Bound.read("sinks_W no more than  as found") == Bound("sinks_W", None)


@given(st.floats(0.0, 1e6), st.floats(0.0, 1e6))
def test_more_over_is_never_fewer_steps(one: float, other: float) -> None:
    low, high = sorted((one, other))
    assert steps_over(low) <= steps_over(high)
    assert (steps_over(high) == 0.0) == (high <= 1.0)
    if low > 1.0 and high > STEP_RATIO * low * 1.0001:
        assert steps_over(low) < steps_over(high)


def test_parts_over_weigh_more_than_shock_law_and_advice() -> None:
    bleed, law, advice = {"bleed_W": 0.3}, {"svm": 9.0}, {"flicker_pct": 90.0}
    within = {"bleed_W": 0.1, "svm": 0.1, "flicker_pct": 1.0, "pst_lm": 0.1}
    whole = plain_lamp(housing=Housing(earthed=True, connection="fixed wiring"))
    tried = [
        Tried(benches={"steady": {**within, **bleed}}, lamp=whole),
        Tried("law", {"steady": {**within, **law}}, whole),
        Tried("advice", {"steady": {**within, **advice}}, whole),
        Tried("clean", {"steady": within}, whole),
    ]
    said = answered(tried)
    assert order(said)[0] == "clean"
    assert order(said)[-1] == "as found", "the bleed resistor is over its 0.25 W"


def test_within_a_group_the_worst_decides_then_the_next() -> None:
    lamp = plain_lamp()
    tried = [
        Tried(benches=steady(line_fusing_W=2.8, bleed_W=0.2), lamp=lamp),
        Tried("two over", steady(line_fusing_W=2.8, bleed_W=0.3), lamp),
        Tried("one over, more", steady(line_fusing_W=3.3, bleed_W=0.2), lamp),
    ]
    assert order(answered(tried)) == ["as found", "two over", "one over, more"]


def test_what_takes_a_safety_part_away_comes_last_and_is_never_named() -> None:
    found = plain_lamp(reservoir=reservoir(10e-6))
    gone = {
        Hazard.NO_FUSE: found.model_copy(update={"line_fusing": None}),
        Hazard.NO_BLEED: found.model_copy(update={"bleed": None}),
        Hazard.NO_EARTH: found.model_copy(update={"housing": Housing(earthed=False)}),
    }
    for hazard, lamp in gone.items():
        assert taken_away(found, lamp) == (hazard,)
        assert taken_away(lamp, lamp) == ()
        tried = [
            Tried(benches=steady(svm=5.0, line_fusing_W=9.0), lamp=found),
            Tried("gone", steady(svm=0.01), lamp),
            Tried("poor", steady(svm=2.0, line_fusing_W=9.0), found),
        ]
        for want in (["steady light"], []):
            said = answered(tried, want)
            assert order(said)[-1] == "gone"
            head, caution, *_ = answer_lines(said)
            assert "gone" not in head
            assert caution == f"Never do this: 1 · gone: {hazard.caution}."


def test_bridging_one_fusing_resistor_of_two_takes_no_fuse_away() -> None:
    two = plain_lamp(neutral_fusing=plain_lamp().line_fusing)
    assert taken_away(two, plain_lamp()) == ()


def test_the_order_of_the_file_decides_only_between_equals() -> None:
    others = [
        Tried("a", steady(svm=3.0, line_fusing_W=2.5)),
        Tried("b", steady(svm=0.2, line_fusing_W=1.0)),
        Tried("c", steady(svm=4.0, line_fusing_W=6.0)),
    ]
    found = Tried(benches=steady(svm=5.0, line_fusing_W=1.0))
    orders = {
        tuple(order(answered([found, *shuffled], ["steady light"]))) for shuffled in permutations(others)
    }
    assert len(orders) == 1


def test_warm_counts_where_it_was_run() -> None:
    def lit(cold_a: float, warm_a: float) -> dict[str, dict[str, float | str]]:
        return {"steady": {"light_A": cold_a}, "heat": {"light_A": warm_a, "heat_outcome": "settled"}}

    tried = [
        Tried(benches=lit(0.10, 0.10)),
        Tried("bright cold", lit(0.21, 0.112)),
        Tried("bright warm", lit(0.15, 0.14)),
    ]
    said = answered(tried, ["more light"])
    assert said.named is not None
    assert said.named.title == "2 · bright warm"
    assert "light 100 → 140 %" in answer_lines(said)[1]


def test_a_lamp_that_runs_away_is_over_every_rating() -> None:
    hot: dict[str, float | str] = {"sinks_W": 1.0, "heat_outcome": "thermal runaway"}
    tried = [
        Tried(benches={"heat": {"sinks_W": 5.0, "heat_outcome": "settled"}}),
        Tried("runs away", {"heat": hot}),
    ]
    assert order(answered(tried, ["cool sinks"])) == ["as found", "runs away"]


def test_less_light_and_cooler_is_served_only_by_less_light() -> None:
    def at(die_c: float, light_a: float) -> dict[str, dict[str, float | str]]:
        return {"heat": {"sink_die_worst_C": die_c, "light_A": light_a, "heat_outcome": "settled"}}

    tried = [
        Tried(benches=at(110.0, 0.10)),
        Tried("cooler, as bright", at(80.0, 0.10)),
        Tried("cooler and dimmer", at(85.0, 0.07)),
    ]
    said = answered(tried, ["less light and cooler"])
    assert said.named is not None
    assert said.named.title == "2 · cooler and dimmer"


def test_a_bound_of_the_study_is_kept_where_it_can_be() -> None:
    tried = [
        Tried(benches={"steady": {"svm": 5.0}, "switch-on": {"inrush_peak_A": 3.0}}),
        Tried("steadiest", {"steady": {"svm": 0.01}, "switch-on": {"inrush_peak_A": 20.0}}),
        Tried("within", {"steady": {"svm": 0.3}, "switch-on": {"inrush_peak_A": 12.0}}),
    ]
    said = answered(tried, ["steady light"], ["inrush_peak_A at most 15"])
    assert said.named is not None
    assert said.named.title == "2 · within"
    # Even where the other would rank before it: a bound is asked for, a rank is not.
    hot: dict[str, float | str] = {"svm": 0.3, "line_fusing_W": 3.0}
    tried[2] = Tried("within", {"steady": hot, "switch-on": {"inrush_peak_A": 12.0}})
    said = answered(tried, ["steady light"], ["inrush_peak_A at most 15"])
    assert said.named is not None
    assert said.named.title == "2 · within"
    only = answered(tried[:2], ["steady light"], ["inrush_peak_A at most 15"])
    assert "misses inrush_peak_A at most 15 (20.0)" in "\n".join(answer_lines(only))


def test_an_aim_that_nothing_serves_is_said_with_what_the_lamp_has() -> None:
    tried = [Tried(benches=steady(svm=5.0)), Tried("same", steady(svm=5.01))]
    head = answer_lines(answered(tried, ["steady light"]))[0]
    assert head.startswith("No variant that was tried serves what was asked: steady light (as found SVM 5)")
    unread = answer_lines(answered(tried, ["soft switch-on"]))[0]
    assert "soft switch-on (no bench of this study reads it)" in unread


def test_without_an_aim_three_corners_and_never_the_best() -> None:
    def read(svm: float, sinks_w: float, drain_v: float) -> dict[str, dict[str, float | str]]:
        return {"steady": {"svm": svm, "sinks_W": sinks_w}, "surge": {**SURGE, "surge_drain_peak_V": drain_v}}

    tried = [
        Tried(benches=read(5.0, 5.0, 450.0)),
        Tried("steady", read(0.1, 8.0, 440.0)),
        Tried("cool", read(5.0, 3.0, 460.0)),
        Tried("calm", read(5.0, 5.0, 300.0)),
    ]
    text = "\n".join(answer_lines(answered(tried)))
    head = text.splitlines()[0]
    assert "steadiest light 1 · steady" in head
    assert "coolest 2 · cool" in head
    assert "calmest in the surge 3 · calm" in head
    assert "best" not in text


SURGE: dict[str, float | str] = {"surge_bridge_pulse_us": 20.0, "surge_string_pulse_us": 20.0}


def test_an_avalanche_that_ends_is_told_in_words_not_in_amperes() -> None:
    def surge(peak_a: float, by: str) -> dict[str, dict[str, float | str]]:
        return {"surge": {**SURGE, "surge_sink_peak_A": peak_a, "surge_limited_by": by}}

    tried = [
        Tried(benches=surge(2.2, "avalanche")),
        Tried("calm", surge(0.2, "gate drive, assumed")),
    ]
    text = "\n".join(answer_lines(answered(tried, ["survives the surge"])))
    assert "sinks no longer avalanche in the surge" in text
    assert "2.2" not in text


def test_a_case_without_an_answer_is_not_recommended() -> None:
    tried = [
        Tried(benches=steady(svm=5.0)),
        Tried("half tried", steady(svm=0.1)),
        Tried("whole", steady(svm=1.0)),
    ]
    study, done = study_of(tried, ["steady light"]), finished(tried)
    case = replace(done[1].case, bench="surge")
    done.append(FinishedCase(case, CaseResult({}, {}, Failure("no answer"))))
    said = answer(study, Results(done), judge(study, done))
    assert said.named is not None
    assert said.named.title == "2 · whole"
    assert order(said) == ["whole", "as found", "half tried"]
    assert "No answer from some bench: 1 · half tried." in "\n".join(answer_lines(said))


def test_used_over_allowed_is_the_worst_of_all_benches_and_conditions() -> None:
    """A bleed resistor of 0.25 W: 0.1 W cold is 0.4 of it, 0.3 W warm 1.2; harmonics are one topic."""
    cold: dict[str, float | str] = {"bleed_W": 0.1}
    warm: dict[str, float | str] = {"bleed_W": 0.3, "heat_outcome": "settled"}
    high = done_of({"bleed_W": 0.2}, lamp=plain_lamp(), voltage_v=253.0)
    for benches in ({"steady": cold, "heat": warm}, {"heat": warm, "steady": cold}):
        study, done = study_of([Tried(benches=benches)]), finished([Tried(benches=benches)])
        said = answer(study, Results([*done, high]), judge(study, [*done, high]))
        assert use_matrix(said).loc["as found", ("parts", "bleed, watts")] == pytest.approx(1.2)
    wave: dict[str, float | str] = {**current(45.0, 0.9, {3: 60.0, 11: 20.0, 13: 9.0})}
    [found] = answered([Tried(benches={"steady": wave})]).ranked
    assert [topic.name for topic in found.candidate.uses if topic.group == "law"] == ["harmonics"]
    # Class C over 25 W: 3 % for the 11th and above (IEC 61000-3-2, table 2), so 20 % is 6.7 times that.
    [harmonics] = [use.ratio for topic, use in found.candidate.uses.items() if topic.name == "harmonics"]
    assert harmonics == pytest.approx(20 / 3, rel=0.01)


def test_what_a_missing_bench_would_show_is_said_to_be_untried() -> None:
    gone = plain_lamp(varistor=None)
    changes = (Change(part="varistor", values={}, text="remove varistor", label="varistor none"),)
    tried = [Tried(benches=steady(svm=5.0)), Tried("no varistor", steady(svm=5.0), gone, made=changes)]
    text = "\n".join(answer_lines(answered(tried)))
    assert "surges, which 1 would show in" in text
    assert "Changes nothing" not in text


def test_mains_that_was_not_tried_is_named_where_a_rating_would_be_passed() -> None:
    flood = load_lamp("kerbside-flood")
    assert list(passed_at(flood, 253.0)) == []
    assert flood.varistor is not None
    weak = flood.varistor.model_copy(update={"ac_rating_v": 250.0})
    assert list(passed_at(flood.model_copy(update={"varistor": weak}), 253.0)) == [("varistor", 250.0)]
    # 400 V is passed by the peak of 283 V: sqrt(2) 283 = 400.2.
    assert list(passed_at(flood, 283.0)) == [("film capacitor", 400.0)]
