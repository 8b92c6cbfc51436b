"""What regress tells of limits: broken, newly applying, changed, lapsed, and how many stay over."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from coldiron.limits.rules import shipped_limits
from coldiron.limits.verdict import NO_LIMIT, Verdict
from coldiron.regress.limits import limit_key, rule_digests
from coldiron.regress.moves import Comparison, Move, MoveKind
from coldiron.regress.reference import CaseName, ReferenceTable
from coldiron.regress.words import subject, summary, values_text
from coldiron.study.load import make_study
from regress_records import (
    AS_FOUND,
    BIGGER,
    RECORD,
    STEADY,
    SURGE,
    held,
    held_to,
    verdict,
    with_input,
    with_reading,
    without_variant,
)

FLICKER = verdict(STEADY, "flicker_pct", 99.0, 8.0)
BRIDGE = verdict(SURGE, "surge_bus_peak_V", 700.0, 1000.0, "ok", "rating.bridge.reverse_voltage_v")
SMALL = with_reading(RECORD, STEADY, "input_power_W", 22.5)
"""The same lamp at 22.5 W, below the 25 W from which harmonics are held one by one."""


def only(comparison: Comparison) -> Move:
    [move] = comparison.moves
    return move


def other_rule(record: ReferenceTable, limit_id: str) -> ReferenceTable:
    """The record of a study that is held to another value of a limit."""
    return replace(record, rules={**record.rules, limit_id: "cccccccc"})


def third_harmonic(value: float, word: str = "over") -> Verdict:
    made = verdict(STEADY, "harmonic_3_pct", value, 27.0, limit_id="iec-61000-3-2.h3")
    return replace(made, verdict=word, group="law", what="3rd harmonic")  # type: ignore[arg-type]


def test_a_limit_that_was_exceeded_before_is_no_news_and_is_counted() -> None:
    comparison = held(RECORD, verdicts=(FLICKER,))
    assert (comparison.status, comparison.over, comparison.stay_over) == (0, 1, 1)
    assert "1 limit stays over as before" in summary(comparison)


def test_strict_fails_on_any_limit_that_is_over() -> None:
    comparison = held(RECORD, verdicts=(FLICKER,), strict=True)
    assert comparison.status == 1
    assert "which --strict refuses" in summary(comparison)
    assert held(RECORD, strict=True).status == 0


def test_a_limit_breaks_though_its_reading_stays_within_its_tolerance() -> None:
    was = held_to(RECORD, replace(BRIDGE, limit=702.0))
    now = with_reading(RECORD, SURGE, "surge_bus_peak_V", 705.0)
    broken = replace(BRIDGE, value=705.0, limit=702.0, verdict="over")
    move = only(held(now, was, verdicts=(broken,)))
    assert (move.kind, move.was, move.now) == (MoveKind.LIMIT, 700.0, 705.0)
    assert values_text(move) == "700 V → 705 V of 702 V (×1.01)"


def test_a_limit_that_was_tightened_is_the_cause_and_has_both_values() -> None:
    broken = replace(BRIDGE, limit=650.0, verdict="over")
    move = only(held(RECORD, verdicts=(broken,)))
    assert (move.kind, move.because) == (MoveKind.LIMIT, ("limit tightened, 1000 V → 650 V",))
    assert values_text(move) == "700 V of 1000 V → 650 V (×1.08)"


def test_a_loosened_limit_that_is_still_broken_is_one_line_with_both_values() -> None:
    looser = replace(FLICKER, limit=12.0, source="our specification", group="study")
    comparison = held(other_rule(RECORD, "ieee-1789.low-risk"), verdicts=(looser,))
    move = only(comparison)
    assert move.kind is MoveKind.OTHER_LIMIT
    assert move.because == ("limit loosened, 8 % → 12 %",)
    assert values_text(move) == "99 % of 8 % → 12 % (×8.25)"
    assert comparison.notes == ()


def test_another_text_of_a_source_is_the_same_limit() -> None:
    again = replace(FLICKER, source="IEEE 1789, 2015, first reprint", clause="8.1")
    assert held(RECORD, verdicts=(again,)).moves == ()


def test_a_limit_that_follows_a_reading_is_the_same() -> None:
    # 30 % times the power factor: a lamp with a better one has no looser standard.
    was = held_to(with_third(RECORD), third_harmonic(40.0))
    assert held(with_third(RECORD), was, verdicts=(replace(third_harmonic(40.0), limit=29.0),)).moves == ()
    other = replace(third_harmonic(40.0), limit=29.0)
    now = other_rule(with_third(RECORD), "iec-61000-3-2.h3")
    assert only(held(now, was, verdicts=(other,))).because == ("limit loosened, 27 % → 29 %",)


def test_a_limit_that_newly_applies_says_so_and_why() -> None:
    # The class of IEC 61000-3-2 begins above 25 W: a fourth sink takes the lamp over it.
    was = with_input(held_to(SMALL), "sinks.count", 3.0)
    now = with_reading(with_input(SMALL, "sinks.count", 4.0), STEADY, "input_power_W", 26.1)
    comparison = held(now, was, verdicts=(third_harmonic(40.0),))
    applies = next(move for move in comparison.moves if move.kind is not MoveKind.DRIFT)
    was_there = replace(
        was, readings={**was.readings, STEADY: {**was.readings[STEADY], "harmonic_3_pct": 40.0}}
    )
    assert applies.note == "the reading is new"
    comparison = held(now, was_there, verdicts=(third_harmonic(40.0),))
    applies = next(move for move in comparison.moves if move.kind is MoveKind.APPLIES)
    assert applies.note == "input power 22.5 → 26.1 W, above 25 W"
    assert applies.because == ("sinks.count 3 → 4",)
    assert subject(applies) == "3rd harmonic, steady; input power 22.5 → 26.1 W, above 25 W"


def with_third(record: ReferenceTable) -> ReferenceTable:
    return with_reading(record, STEADY, "harmonic_3_pct", 40.0)


def test_a_limit_that_was_added_to_the_data_is_new() -> None:
    was = held_to(with_third(replace(RECORD, rules={"ieee-1789.low-risk": "aaaaaaaa"})))
    move = only(held(with_third(RECORD), was, verdicts=(third_harmonic(40.0),)))
    assert (move.kind, move.note) == (MoveKind.APPLIES, "the limit is new")


def test_a_limit_whose_scope_was_widened_is_said_to_be_another() -> None:
    now = other_rule(RECORD, "iec-61000-3-2.h3")
    move = only(held(with_third(now), held_to(with_third(RECORD)), verdicts=(third_harmonic(40.0),)))
    assert (move.kind, move.note) == (MoveKind.APPLIES, "the limit itself was changed")


def test_a_limit_of_an_indoor_lamp_names_the_use_that_was_changed() -> None:
    was = with_input(held_to(RECORD), "housing.use", "outdoor")
    now = with_input(RECORD, "housing.use", "indoor")
    move = only(held(now, was, verdicts=(FLICKER,)))
    assert (move.kind, move.because) == (MoveKind.APPLIES, ("housing.use outdoor → indoor",))


def test_a_limit_that_applies_newly_and_is_kept_is_a_note() -> None:
    comparison = held(with_third(RECORD), held_to(with_third(RECORD)), verdicts=(third_harmonic(20.0, "ok"),))
    assert comparison.status == 0
    assert [note.kind for note in comparison.notes] == [MoveKind.APPLIES_AND_KEPT]


def test_a_limit_that_is_kept_now_is_a_note() -> None:
    kept = replace(FLICKER, value=5.0, verdict="ok")
    now = held_to(RECORD, kept)
    [note] = [note for note in held(now, verdicts=(kept,)).notes if note.kind is MoveKind.KEPT_NOW]
    assert note.note == ""
    loosened = replace(FLICKER, limit=120.0, verdict="ok")
    now = other_rule(held_to(RECORD, loosened), "ieee-1789.low-risk")
    [note] = held(now, verdicts=(loosened,)).notes
    assert note.note == "limit loosened, 8 % → 120 %"


def test_a_limit_that_does_not_apply_any_more_is_not_called_kept() -> None:
    # A lamp that fell below 25 W is free of the class above: it keeps nothing.
    above = with_third(with_reading(RECORD, STEADY, "input_power_W", 26.1))
    was = held_to(above, third_harmonic(40.0))
    gone = replace(third_harmonic(40.0, NO_LIMIT), limit=math.nan, note="none for a lamp of 22.5 W")
    now = held_to(with_third(SMALL), gone)
    [note] = held(now, was, verdicts=(gone,)).notes
    assert (note.kind, note.note) == (MoveKind.LAPSED, "none for a lamp of 22.5 W")


def test_a_class_that_gave_way_to_another_says_by_which_edge() -> None:
    # Below 25 W the alternatives of the small class hold in its place: nothing says "no limit applies".
    above = with_third(with_reading(RECORD, STEADY, "input_power_W", 26.1))
    [note] = held(held_to(with_third(SMALL)), held_to(above, third_harmonic(40.0))).notes
    assert (note.kind, note.note) == (
        MoveKind.LAPSED, "input power 26.1 → 22.5 W, it is for above 25 W"
    )  # fmt: skip


def test_a_limit_that_the_study_took_out_is_said_to_be_out() -> None:
    now = held_to(replace(RECORD, rules={}))
    [note] = held(now, held_to(RECORD, FLICKER)).notes
    assert (note.kind, note.note) == (MoveKind.LAPSED, "the study is no longer held to it")


def test_a_limit_of_which_one_alternative_is_enough_is_one_limit() -> None:
    first = replace(
        verdict(STEADY, "harmonic_3_pct", 90.0, 86.0, limit_id="iec-61000-3-2.small.2.h3"), alternatives=3
    )
    other = replace(
        verdict(STEADY, "current_thd_pct", 80.0, 70.0, limit_id="iec-61000-3-2.small.3.thd"), alternatives=3
    )
    assert limit_key(first) == limit_key(other) == "iec-61000-3-2.harmonics"
    was = replace(RECORD, over={STEADY: {"iec-61000-3-2.harmonics": 86.0}})
    assert held(RECORD, was, verdicts=(first,)).moves == ()
    moved = held(RECORD, was, verdicts=(other,)).moves
    assert [move.kind for move in moved] in ([], [MoveKind.OTHER_LIMIT])


def test_a_new_variant_and_a_new_supply_show_what_they_break() -> None:
    was = without_variant(RECORD, BIGGER)
    broken = replace(FLICKER, variant=BIGGER)
    move = only(held(RECORD, was, verdicts=(broken,)))
    assert (move.kind, move.note) == (MoveKind.NEW_VARIANT, "breaks flicker (low risk) 99 % of 8 % (×12)")
    higher = STEADY._replace(conditions="253 V 50 Hz")
    now = replace(RECORD, readings={**RECORD.readings, higher: {"flicker_pct": 99.0}})
    move = only(held(now, verdicts=(replace(FLICKER, conditions="253 V 50 Hz"),)))
    assert (move.kind, move.note) == (MoveKind.NEW_CASE, "breaks flicker (low risk) 99 % of 8 % (×12)")
    assert only(held(now)).note == "breaks no limit"


def test_what_the_mains_alone_breaks_is_told_without_a_run_of_it() -> None:
    untried = replace(BRIDGE, bench="steady", conditions="276 V 50 Hz", value=1100.0, verdict="over")
    case = CaseName(AS_FOUND, "steady", "276 V 50 Hz")
    move = only(held(RECORD, verdicts=(untried,)))
    assert (move.kind, move.conditions) == (MoveKind.LIMIT, case.conditions)
    assert (
        held(RECORD, replace(RECORD, over={case: {limit_key(untried): 1000.0}}), verdicts=(untried,)).moves
        == ()
    )


def test_every_shipped_limit_has_a_digest_and_none_hangs_on_its_words() -> None:
    digests = rule_digests(make_study("kerbside-flood"))
    assert digests.keys() == {limit.id for limit in shipped_limits()}
    stricter = make_study(
        "kerbside-flood", limits={"replace": {"eu-2019-2020.svm": {"value": 0.3, "source": "ours"}}}
    )
    again = make_study(
        "kerbside-flood", limits={"replace": {"eu-2019-2020.svm": {"value": 0.3, "source": "theirs"}}}
    )
    assert rule_digests(stricter) == rule_digests(again)
    assert {key for key, value in rule_digests(stricter).items() if digests[key] != value} == {
        "eu-2019-2020.svm"
    }


@pytest.mark.parametrize("limit", shipped_limits(), ids=lambda limit: f"{limit.id} {limit.reading}")
def test_a_key_leads_back_to_its_limit(limit: object) -> None:
    from coldiron.regress.limits import topic_words

    assert topic_words(f"{limit.id} {limit.reading}")[1]  # type: ignore[attr-defined]
