"""What accepting writes: what moved, and nothing else."""

from __future__ import annotations

import difflib
from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from coldiron.regress.accept import accepted
from coldiron.regress.moves import MoveKind
from coldiron.regress.reference import ReferenceTable, written
from regress_records import (
    AS_FOUND,
    BIGGER,
    RECORD,
    STEADY,
    SURGE,
    held,
    with_case,
    with_reading,
    without_variant,
)


def changed_lines(was: ReferenceTable, now: ReferenceTable) -> list[str]:
    """Lines of the complete file that accepting takes in."""
    before, after = (written(record).splitlines() for record in (was, accepted(was, now, {})))
    return [line for line in difflib.unified_diff(before, after, n=0) if line[0] == "+"][1:]


def test_what_is_within_its_tolerance_keeps_the_stored_value() -> None:
    now = with_reading(RECORD, SURGE, "surge_bus_peak_V", 710.0)  # 1.4 of 3 %
    now = with_reading(now, STEADY, "input_power_W", 12.0)
    assert changed_lines(RECORD, now) == ['+    ["input_power_W", 12],']


@given(st.lists(st.floats(-0.9, 0.9), min_size=1, max_size=20))
def test_a_value_cannot_creep(steps: list[float]) -> None:
    # Each run is within a tolerance of the one before it; held is the first.
    reference, value_v = RECORD, 700.0
    for step in steps:
        value_v += step * 21.0
        now = with_reading(RECORD, SURGE, "surge_bus_peak_V", value_v)
        moved = held(now, reference).moves
        reference = accepted(reference, now, {})
        stored = reference.readings[SURGE]["surge_bus_peak_V"]
        assert stored == (value_v if moved else stored)
        assert abs(value_v - float(stored)) <= 0.03 * float(stored) * (1 + 1e-9)


def test_where_the_worst_was_follows_how_bad_it_is() -> None:
    now = with_reading(RECORD, SURGE, "surge_worst_deg", 270.0)
    assert changed_lines(RECORD, now) == []
    now = with_reading(now, SURGE, "surge_sink_peak_A", 0.5)
    assert changed_lines(RECORD, now) == [
        '+    ["surge_sink_peak_A", 0.5],',
        '+    ["surge_worst_deg", 270],',
    ]


def test_a_renamed_variant_keeps_its_values_under_the_new_name() -> None:
    values = RECORD.readings[STEADY._replace(variant=BIGGER)]
    now = replace(without_variant(RECORD, BIGGER), inputs={**RECORD.inputs, "large": RECORD.inputs[BIGGER]})
    now = replace(now, inputs={name: of for name, of in now.inputs.items() if name != BIGGER})
    now = with_case(now, STEADY._replace(variant="large"), {**values, "input_power_W": 21.41})
    [move] = held(now).moves
    assert (move.kind, move.was, move.now) == (MoveKind.RENAMED_VARIANT, BIGGER, "large")
    kept = accepted(RECORD, now, {})
    assert kept.readings[STEADY._replace(variant="large")] == values
    assert held(now, kept).moves == ()


def test_a_new_name_and_another_value_is_a_new_variant() -> None:
    inputs = {**RECORD.inputs[BIGGER], "reservoir.capacitance_f": 3.3e-5}
    now = replace(
        without_variant(RECORD, BIGGER), inputs={AS_FOUND: RECORD.inputs[AS_FOUND], "33 µF": inputs}
    )
    assert {move.kind for move in held(now).moves} == {MoveKind.VANISHED_VARIANT, MoveKind.NEW_VARIANT}


def test_a_zero_harmonic_is_no_reading_and_none_that_vanished() -> None:
    some = with_reading(RECORD, STEADY, "harmonic_3_pct", 40.0)
    both = with_reading(some, STEADY, "harmonic_2_pct", 0.04)
    # Less than the 0.05 % that count, there or not.
    assert held(both, some).moves == held(some, both).moves == ()
    assert accepted(some, both, {}) == some
    assert accepted(both, some, {}) == both
    grown = with_reading(some, STEADY, "harmonic_2_pct", 3.0)
    [move] = held(grown, some).moves
    assert (move.kind, move.was, move.now) == (MoveKind.DRIFT, 0.0, 3.0)


def test_a_limit_that_moves_with_its_reading_stays_as_it_stands() -> None:
    now = replace(RECORD, kept={SURGE: {"rating.bridge.reverse_voltage_v surge_bus_peak_V": 1004.0}})
    assert accepted(RECORD, now, {}).kept == RECORD.kept
    other = replace(RECORD, kept={SURGE: {"rating.bridge.reverse_voltage_v surge_bus_peak_V": 800.0}})
    assert accepted(RECORD, other, {}).kept == other.kept


def test_the_first_is_taken_as_it_is() -> None:
    assert accepted(None, RECORD, {}) == RECORD
