"""The result of a study by variant, bench and conditions: warm before cold, the worst of all, holes seen."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace
from pathlib import Path

import pytest

from coldiron.study.load import study_from
from coldiron.study.model import AS_FOUND
from coldiron.sweep.case_result import CaseResult, Failure
from coldiron.sweep.cases import study_cases
from coldiron.sweep.results import Hole, Results, Worst
from coldiron.sweep.run import FinishedCase
from coldiron.tables.tidy import csv_text, tidy, variants_text, wide
from judging import done_of


def case(variant: str, bench: str, voltage_v: float = 230.0, **readings: float | str) -> FinishedCase:
    return done_of(readings, variant=variant, bench=bench, voltage_v=voltage_v)


def failed(variant: str, bench: str) -> FinishedCase:
    return replace(case(variant, bench), result=CaseResult({}, {}, Failure("the engine gave up")))


STUDY = (
    case(AS_FOUND, "steady", light_A=0.10, flicker_pct=100.0, weakest_part="film"),
    case(AS_FOUND, "heat", light_A=0.08, flicker_pct=99.0, sink_die_worst_C=95.0),
    case(AS_FOUND, "surge", surge_sink_peak_A=0.4),
    case("22 µF", "steady", light_A=0.20, flicker_pct=0.2),
    case("22 µF", "heat", light_A=0.10, flicker_pct=64.0, sink_die_worst_C=140.0),
    failed("22 µF", "surge"),
)


def test_cold_and_warm_are_two_readings_whatever_the_order_of_the_benches() -> None:
    seen = []
    for order in itertools.permutations(STUDY[:3]):
        results = Results([*order, *reversed(STUDY[3:])])
        assert results.benches == ("steady", "heat", "surge")
        assert results.value("22 µF", "flicker_pct", "steady") == 0.2
        assert results.value("22 µF", "flicker_pct", "heat") == 64.0
        assert results.value("22 µF", "flicker_pct") == 64.0
        seen.append([(one.case.variant, one.case.bench) for one in results])
    assert seen == [seen[0]] * len(seen)


def test_light_has_one_base_the_lamp_as_found_warm() -> None:
    results = Results(STUDY)
    assert results.value(AS_FOUND, "light_pct") == 100.0
    assert results.value("22 µF", "light_pct") == pytest.approx(125.0)  # 0.10 of 0.08
    assert results.value("22 µF", "light_pct", "steady") == pytest.approx(
        250.0
    )  # the remark, on the same base
    cold = Results([one for one in STUDY if one.case.bench != "heat"])
    assert cold.value(AS_FOUND, "light_pct") == 100.0
    assert cold.value("22 µF", "light_pct") == pytest.approx(200.0)


def test_light_without_the_lamp_as_found_or_of_a_dark_one_has_no_share() -> None:
    dark = [case(AS_FOUND, "steady", light_A=0.0), case("22 µF", "steady", light_A=0.2)]
    assert math.isnan(Results(dark).value("22 µF", "light_pct"))
    assert math.isnan(Results(dark[1:]).value("22 µF", "light_pct"))


def test_each_supply_has_its_own_base_of_light() -> None:
    results = Results(
        [
            case(AS_FOUND, "steady", light_A=0.1),
            case(AS_FOUND, "steady", 253.0, light_A=0.12),
            case("x", "steady", light_A=0.1),
            case("x", "steady", 253.0, light_A=0.06),
        ]
    )
    worst = results.worst("x", "light_pct")
    assert worst is not None
    assert worst.value == pytest.approx(50.0)
    assert worst.conditions == "253 V 50 Hz"


def test_the_worst_is_over_all_conditions_and_warm_where_warm_was_run() -> None:
    results = Results(
        [
            case("x", "steady", flicker_pct=50.0, power_factor=0.5),
            case("x", "heat", flicker_pct=10.0, power_factor=0.9),
            case("x", "steady", 253.0, flicker_pct=20.0, power_factor=0.7),
        ]
    )
    assert results.worst("x", "flicker_pct") == Worst(20.0, "steady", "253 V 50 Hz")
    assert results.worst("x", "flicker_pct", ["steady"]) == Worst(50.0, "steady", "230 V 50 Hz")
    assert results.worst("x", "power_factor") == Worst(0.7, "steady", "253 V 50 Hz")
    assert results.worst("x", "surge_sink_peak_A") is None


@pytest.mark.parametrize(("values", "worst"), [((1.0, math.nan), 1.0), ((1.0, math.inf), math.inf)])
def test_nan_is_no_worst_and_never_is(values: tuple[float, float], worst: float) -> None:
    low, high = values
    results = Results(
        [case("x", "unplug", discharge_60V_s=low), case("x", "unplug", 253.0, discharge_60V_s=high)]
    )
    found = results.worst("x", "discharge_60V_s")
    assert found is not None
    assert found.value == worst


def test_holes_are_seen() -> None:
    results = Results(STUDY)
    hole = Hole("22 µF", "surge", "230 V 50 Hz", "failed", "the engine gave up")
    assert results.holes() == [hole] == results.holes("22 µF")
    assert results.hole("22 µF", "surge") == hole
    assert results.hole(AS_FOUND, "surge") is None
    assert results.readings("22 µF", "surge") == {}
    assert math.isnan(results.value("22 µF", "surge_sink_peak_A"))
    skipped = replace(case("x", "off-glow"), result=CaseResult({}, {}, not_applicable="no leakage path"))
    assert Results([skipped]).holes()[0].word == "not applicable"


def test_words_are_no_numbers_and_what_is_not_there_says_what_is() -> None:
    results = Results(STUDY)
    assert results.word(AS_FOUND, "weakest_part") == "film"
    assert math.isnan(results.value(AS_FOUND, "weakest_part"))
    assert results.word(AS_FOUND, "flicker_pct") == ""
    assert results.readings(AS_FOUND, "surge", "99 V 50 Hz") == {}
    with pytest.raises(
        KeyError, match=r"no case '23 µF' on 'steady'; variants: as found, 22 µF; benches: steady"
    ):
        results.case("23 µF", "steady")
    assert "2 variants" in repr(results)
    assert "1 failed" in repr(results)


def test_the_order_of_benches_in_a_file_changes_no_byte_of_the_tables(tmp_path: Path) -> None:
    orders = (["heat", "steady", "unplug"], ["unplug", "steady", "heat"])
    seen = set()
    for number, order in enumerate(orders):
        table = {"lamp": "pantry-bulb", "name": "order", "benches": order}
        study = study_from(table, tmp_path / f"{number}.toml")
        found = {
            "steady": ("svm", 64.0),
            "heat": ("svm", 0.2),
            "unplug": ("unplug_bus_V", 325.0),
        }
        done = [FinishedCase(case, CaseResult(dict([found[case.bench]]), {})) for case in study_cases(study)]
        results = Results(done)
        seen.add((csv_text(tidy(results)), variants_text(results)))
        assert wide(results)["steady", "svm"].tolist() == [64.0]
        assert wide(results)["heat", "svm"].tolist() == [0.2]
        # The tables do not lean on the order of the study either.
        again = Results(reversed(done))
        seen.add((csv_text(tidy(again)), variants_text(again)))
    assert len(seen) == 1


def test_frames_hold_numbers_as_float64_and_everything_else_in_the_order_of_the_study() -> None:
    results = Results(STUDY)
    frame = tidy(results)
    assert frame["value"].dtype == "float64"
    assert frame["variant"].cat.ordered
    assert frame["reading"].cat.categories[-1] == "failed"
    assert frame.query("reading == 'weakest_part'")["text"].tolist() == ["film"]
    assert frame.query("reading == 'failed'")["text"].tolist() == ["the engine gave up"]
    assert set(wide(results).dtypes.astype(str)) == {"float64"}
    assert wide(results).index.tolist() == ["as found", "22 µF"]
    several = wide(Results([*STUDY, case("22 µF", "steady", 253.0, flicker_pct=1.0)]))
    assert several["steady", "flicker_pct", "253 V 50 Hz"].tolist()[1] == 1.0
