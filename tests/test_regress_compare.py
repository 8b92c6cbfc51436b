"""What is told of a study that is held against its reference, and because of which input."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldiron.regress.causes import NOTHING_RECORDED
from coldiron.regress.moves import Comparison, Move, MoveKind
from coldiron.regress.reference import ReferenceTable
from coldiron.study.tolerance import Tolerance
from regress_records import (
    AS_FOUND,
    BIGGER,
    BIGGER_STEADY,
    RECORD,
    STEADY,
    SURGE,
    held,
    verdict,
    with_case,
    with_input,
    with_reading,
    without_variant,
)


def only(comparison: Comparison) -> Move:
    [move] = comparison.moves
    return move


def test_the_same_again_is_quiet() -> None:
    comparison = held(RECORD)
    assert (comparison.moves, comparison.notes, comparison.nearest) == ((), (), None)
    assert comparison.status == 0


def test_a_small_drift_is_within_and_the_nearest_is_named() -> None:
    comparison = held(with_reading(RECORD, SURGE, "surge_bus_peak_V", 710.5))
    assert comparison.status == 0
    assert comparison.nearest is not None
    # 10.5 V of 3 % of 700 V.
    assert comparison.nearest.distance == pytest.approx(0.5)
    assert comparison.nearest.reading == "surge_bus_peak_V"


@pytest.mark.parametrize(("bus_v", "status"), [(720.9, 0), (679.1, 0), (721.1, 1), (678.9, 1)])
def test_a_tolerance_ends_where_it_ends(bus_v: float, status: int) -> None:
    # 3 % of 700 V are 21 V.
    assert held(with_reading(RECORD, SURGE, "surge_bus_peak_V", bus_v)).status == status


def test_a_drift_is_told_in_tolerances() -> None:
    comparison = held(with_reading(RECORD, STEADY, "input_power_W", 9.37 * 1.05))
    move = only(comparison)
    assert (move.kind, move.variant, move.bench, move.reading) == (
        MoveKind.DRIFT, AS_FOUND, "steady", "input_power_W",
    )  # fmt: skip
    assert move.distance == pytest.approx(5.0, rel=1e-3)
    assert comparison.status == 1


def test_the_studys_tolerance_counts() -> None:
    now = with_reading(RECORD, STEADY, "input_power_W", 9.37 * 1.05)
    assert held(now, own={"input_power_W": Tolerance(0.06)}).status == 0
    assert held(now, own={"*_W": Tolerance(0.001, 0.0)}).moves[0].distance == pytest.approx(50.0, rel=1e-3)


def test_never_again_and_for_ever_are_drifts() -> None:
    assert only(held(with_reading(RECORD, BIGGER_STEADY, "discharge_34V_s", 5.0))).distance == math.inf


def test_kinds_are_distinct() -> None:
    now = without_variant(RECORD, BIGGER)
    now = replace(now, inputs={**now.inputs, "47 µF": now.inputs[AS_FOUND]})
    now = with_case(
        now, STEADY, {"input_power_W": 20.0, "new_W": 1.0, "weakest_part": "bridge, surge current"}
    )
    now = replace(now, readings={case: rows for case, rows in now.readings.items() if case != SURGE})
    comparison = held(
        now, failures={SURGE: "no answer"}, verdicts=(verdict(STEADY, "input_power_W", 20.0, 15.0),)
    )
    assert comparison.counts == {
        MoveKind.FAILED: 1,
        MoveKind.APPLIES: 1,
        MoveKind.VANISHED_VARIANT: 1,
        MoveKind.NEW_VARIANT: 1,
        MoveKind.VANISHED_READING: 1,
        MoveKind.NEW_READING: 1,
        MoveKind.DRIFT: 1,
    }
    assert comparison.status == 3


def test_a_failed_case_is_not_also_a_vanished_one() -> None:
    now = replace(RECORD, readings={case: rows for case, rows in RECORD.readings.items() if case != SURGE})
    assert only(held(now, failures={SURGE: "no answer"})).kind is MoveKind.FAILED
    assert only(held(now)).kind is MoveKind.VANISHED_CASE


def test_a_case_on_another_supply_is_new() -> None:
    now = with_case(RECORD, STEADY._replace(conditions="253 V 50 Hz"), {"input_power_W": 11.0})
    assert only(held(now)).kind is MoveKind.NEW_CASE


def test_farthest_first() -> None:
    now = with_reading(RECORD, STEADY, "input_power_W", 9.6)
    now = with_reading(now, SURGE, "surge_bus_peak_V", 900.0)
    now = without_variant(now, BIGGER)
    assert [move.kind for move in held(now).moves] == [
        MoveKind.VANISHED_VARIANT,
        MoveKind.DRIFT,
        MoveKind.DRIFT,
    ]
    distances = [move.distance for move in held(now).moves]
    assert distances == sorted(distances, reverse=True)


@given(st.lists(st.floats(0.0, 2000.0), min_size=3, max_size=3))
def test_only_what_leaves_its_tolerance_is_told(values: list[float]) -> None:
    now = RECORD
    for case, reading, value in zip(
        (STEADY, SURGE, BIGGER_STEADY),
        ("input_power_W", "surge_bus_peak_V", "input_power_W"),
        values,
        strict=True,
    ):
        now = with_reading(now, case, reading, value)
    comparison = held(now)
    assert all(move.distance > 1.0 for move in comparison.moves)
    assert comparison.nearest is None or comparison.nearest.distance <= 1.0
    assert comparison.status == (1 if comparison.moves else 0)
    # The way back is a move too where the values are far apart.
    assert held(now, now).status == 0


def test_another_worst_angle_by_a_hair_is_a_note() -> None:
    now = with_reading(RECORD, SURGE, "surge_worst_deg", 270.0)
    now = with_reading(now, SURGE, "weakest_part", "sinks, drain voltage")
    comparison = held(now)
    assert comparison.status == 0
    assert {note.reading for note in comparison.notes if note.kind is MoveKind.WORST_ELSEWHERE} == {
        "surge_worst_deg",
        "weakest_part",
    }


def test_a_word_that_nothing_stands_behind_is_held() -> None:
    was = with_reading(RECORD, STEADY, "glows", "no")
    assert only(held(with_reading(was, STEADY, "glows", "yes"), was)).kind is MoveKind.DRIFT


def moved(now: ReferenceTable) -> ReferenceTable:
    """The same inputs, and readings that are told."""
    now = with_reading(now, STEADY, "input_power_W", 12.0)
    return with_reading(now, SURGE, "surge_bus_peak_V", 900.0)


def causes_of(now: ReferenceTable, bench: str, was: ReferenceTable = RECORD) -> tuple[str, ...]:
    return next(move.because for move in held(moved(now), was).moves if move.bench == bench)


@pytest.mark.parametrize(
    ("key", "value", "said"),
    [
        ("varistor.ac_rating_v", 300.0, "varistor.ac_rating 275 V → 300 V"),
        ("reservoir.capacitance_f", 2.2e-5, "reservoir.capacitance 10 µF → 22 µF"),
        ("bridge.forward_voltage_v", 1.00001, "bridge.forward_voltage 1 V → 1.00001 V"),
        ("bridge.forward_voltage_v", 1.00000001, "bridge.forward_voltage 1 → 1.00000001"),
        ("varistor.energy_j", None, "varistor.energy 20 J → none"),
    ],
)
def test_the_changed_value_of_the_lamp_is_named(key: str, value: float | None, said: str) -> None:
    assert causes_of(with_input(RECORD, key, value), "surge") == (said,)


def test_a_fitted_part_is_said_to_be_fitted() -> None:
    now = with_input(RECORD, "neutral_fusing", None)
    assert causes_of(with_input(now, "neutral_fusing.resistance_ohm", 10.0), "surge") == (
        "neutral fusing fitted",
    )


def test_a_removed_part_is_said_to_be_removed() -> None:
    now = RECORD
    for key in ("varistor.ac_rating_v", "varistor.energy_j"):
        now = with_input(now, key, None)
    assert causes_of(with_input(now, "varistor", "none"), "surge") == ("varistor removed",)


def test_a_surge_level_moves_the_surge_alone() -> None:
    now = with_input(RECORD, "conditions.surge_level_v", 1000.0)
    assert causes_of(now, "surge") == ("conditions.surge_level 500 → 1000",)
    assert causes_of(now, "steady") == (NOTHING_RECORDED,)


def test_the_changed_template_is_named_on_the_bench_that_prints_it() -> None:
    now = replace(RECORD, templates={**RECORD.templates, "sources/surge_generator.cir.j2": "33333333"})
    assert causes_of(now, "surge") == ("template sources/surge_generator",)
    both = replace(now, templates={**now.templates, "parts/led_string.cir.j2": "44444444"})
    assert causes_of(both, "steady") == ("template parts/led_string",)


def test_the_version_is_named() -> None:
    now = replace(
        RECORD, versions={**RECORD.versions, "engine": "ngspice-46", "engine library": "bb", "code": "x"}
    )
    assert causes_of(now, "steady") == ("ngspice-39 → ngspice-46",)


def test_another_build_of_the_same_version_is_named() -> None:
    now = replace(RECORD, versions={**RECORD.versions, "engine library": "bb"})
    assert causes_of(now, "steady") == ("engine library aa → bb",)


def test_code_is_named_only_where_nothing_else_is() -> None:
    now = replace(RECORD, versions={**RECORD.versions, "code": "x"})
    assert causes_of(now, "steady") == ("coldiron's own code",)
    assert "coldiron's own code" not in causes_of(with_input(now, "varistor.energy_j", 10.0), "steady")


def test_causes_of_a_variant_are_its_own() -> None:
    now = replace(
        RECORD, inputs={**RECORD.inputs, BIGGER: {**RECORD.inputs[BIGGER], "reservoir.capacitance_f": 3.3e-5}}
    )
    now = with_reading(moved(now), BIGGER_STEADY, "input_power_W", 30.0)
    said = {move.variant: move.because for move in held(now).moves if move.bench == "steady"}
    assert said == {BIGGER: ("reservoir.capacitance 22 µF → 33 µF",), AS_FOUND: (NOTHING_RECORDED,)}
