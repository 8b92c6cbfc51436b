"""The outputs of regress, each read by a reader that is not ours."""

from __future__ import annotations

import io
import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from markdown_it import MarkdownIt
from rich.console import Console

from coldiron.regress.compare import compare
from coldiron.regress.files import json_text, junit, markdown, write_comparison, write_refusal
from coldiron.regress.groups import grouped
from coldiron.regress.moves import Comparison
from coldiron.regress.terminal import moves_table
from coldiron.regress.words import HEADINGS, changed_inputs, place, row, summary
from regress_records import (
    AS_FOUND,
    BIGGER,
    BIGGER_STEADY,
    RECORD,
    STEADY,
    SURGE,
    held,
    verdict,
    with_input,
    with_reading,
    without_variant,
)


def much() -> Comparison:
    """A drift, a broken limit, a vanished variant, a failed case."""
    now = with_reading(without_variant(RECORD, BIGGER), STEADY, "input_power_W", 20.0)
    now = replace(now, readings={case: rows for case, rows in now.readings.items() if case != SURGE})
    return held(
        now,
        failures={SURGE: "stopped at 1 s: \x1b[31mTimestep too small\x00"},
        verdicts=(verdict(STEADY, "input_power_W", 20.0, 15.0),),
    )


def parsed(comparison: Comparison, folder: Path) -> list[Any]:
    """Suite and cases as a JUnit reader sees them."""
    junitparser = pytest.importorskip("junitparser")
    path = folder / "regress.xml"
    path.write_text(junit(comparison, []), encoding="utf-8")
    [suite] = junitparser.JUnitXml.fromfile(str(path))
    return [suite, *suite]


def test_a_junit_reader_finds_one_case_a_variant_and_bench(tmp_path: Path) -> None:
    suite, *cases = parsed(held(RECORD), tmp_path)
    assert sorted((case.name, case.classname) for case in cases) == [
        (BIGGER, "corridor.steady"),
        (AS_FOUND, "corridor.steady"),
        (AS_FOUND, "corridor.surge"),
    ]
    assert (suite.tests, suite.failures, suite.errors) == (3, 0, 0)
    assert all(case.is_passed for case in cases)


def test_a_junit_reader_tells_failures_from_errors(tmp_path: Path) -> None:
    suite, *cases = parsed(much(), tmp_path)
    outcomes = {(case.name, case.classname): case.result for case in cases}
    [steady] = outcomes[AS_FOUND, "corridor.steady"]
    [surge] = outcomes[AS_FOUND, "corridor.surge"]
    [gone] = outcomes[BIGGER, "corridor.steady"]
    assert type(steady).__name__ == "Failure"
    assert steady.type == "newly applying limit"
    assert (
        "drift: as found | 230 V 50 Hz | input power, steady: 9.37 W → 20 W (+113 tolerances" in steady.text
    )
    assert type(surge).__name__ == "Error"
    assert "Timestep too small" in surge.text
    assert gone.type == "vanished variant"
    assert (suite.tests, suite.failures, suite.errors) == (3, 2, 1)


@given(st.text(min_size=1, max_size=20))
def test_any_name_is_well_formed_xml(tmp_path_factory: pytest.TempPathFactory, name: str) -> None:
    now = replace(RECORD, inputs={**RECORD.inputs, name: {}}, readings={STEADY._replace(variant=name): {}})
    _, *cases = parsed(held(now), tmp_path_factory.mktemp("junit"))
    assert cases


def test_a_markdown_reader_finds_the_table() -> None:
    tokens = MarkdownIt("commonmark").enable("table").parse(markdown(much()))
    cells = [tokens[n + 1].content for n, token in enumerate(tokens) if token.type in ("th_open", "td_open")]
    assert tuple(cells[: len(HEADINGS)]) == HEADINGS
    assert len(cells) == len(HEADINGS) * (1 + len(grouped(much().moves)))


def test_a_name_cannot_break_the_markdown() -> None:
    name = "a | b <script>`x` *y* [z](http://w)"
    now = replace(RECORD, inputs={**RECORD.inputs, name: {}})
    html = MarkdownIt("commonmark").enable("table").render(markdown(held(now)))
    assert "<td>a | b &lt;script&gt;`x` *y* [z](http://w)</td>" in html


def test_a_quiet_markdown_says_so() -> None:
    assert "nothing moved" in markdown(held(RECORD))
    assert "| what |" not in markdown(held(RECORD))


def refuse_constants(constant: str) -> None:
    raise AssertionError(f"{constant} is no JSON")


def test_json_is_plain_json_with_a_version() -> None:
    content = json.loads(json_text(much()), parse_constant=refuse_constants)
    assert (content["version"], content["status"]) == (2, 3)
    assert content["counts"] == {
        "failed case": 1, "newly applying limit": 1, "vanished variant": 1, "drift": 1
    }  # fmt: skip
    drift = next(move for move in content["moves"] if move["kind"] == "drift")
    assert (drift["reading"], drift["reference"], drift["now"], drift["unit"]) == (
        "input_power_W",
        9.37,
        20,
        "W",
    )
    assert drift["tolerance"] == {"relative_ratio": 0.01, "absolute": 0.001}


def test_json_has_the_values_of_a_limit() -> None:
    looser = verdict(STEADY, "flicker_pct", 99.0, 12.0)
    now = replace(RECORD, rules={"ieee-1789.low-risk": "of the study"})
    [move] = json.loads(json_text(held(now, verdicts=(looser,))))["moves"]
    assert move["limit"] == {
        "id": "ieee-1789.low-risk",
        "group": "practice",
        "what": "flicker (low risk)",
        "source": "IEEE 1789",
        "bound": "at most",
        "reference": 8.0,
        "now": 12.0,
    }


def test_json_has_no_text_where_a_number_belongs() -> None:
    now = with_reading(with_reading(RECORD, BIGGER_STEADY, "discharge_34V_s", 5.0), STEADY, "glows", "yes")
    was = with_reading(RECORD, STEADY, "glows", "no")
    by_reading = {move["reading"]: move for move in json.loads(json_text(held(now, was)))["moves"]}
    never, word = by_reading["discharge_34V_s"], by_reading["glows"]
    assert (never["reference"], never["reference_text"], never["now"]) == (None, "inf", 5.0)
    assert (never["distance_tolerances"], word["reference"], word["now_text"]) == (None, None, "yes")
    numbers = {"reference", "now", "distance_tolerances"}
    for move in by_reading.values():
        assert all(move[key] is None or isinstance(move[key], float) for key in numbers)


def test_a_study_that_is_refused_leaves_all_three_files(tmp_path: Path) -> None:
    junitparser = pytest.importorskip("junitparser")
    write_refusal(tmp_path, "corridor", ['corridor.toml: lamp is "x": expected a lamp | of <any> kind'])
    text = (tmp_path / "regress.md").read_text(encoding="utf-8")
    assert "expected a lamp | of <any> kind" in MarkdownIt("commonmark").render(text).replace(
        "&lt;", "<"
    ).replace("&gt;", ">")
    content = json.loads((tmp_path / "regress.json").read_text(encoding="utf-8"))
    assert (content["version"], content["status"], len(content["problems"])) == (2, 2, 1)
    [suite] = junitparser.JUnitXml.fromfile(str(tmp_path / "regress.xml"))
    assert (suite.tests, suite.errors) == (1, 1)


def test_files_are_written_whole(tmp_path: Path) -> None:
    write_comparison(tmp_path / "corridor", much(), [])
    assert sorted(path.name for path in (tmp_path / "corridor").iterdir()) == [
        "regress.json",
        "regress.md",
        "regress.xml",
    ]


def shown(comparison: Comparison) -> str:
    screen = io.StringIO()
    Console(width=160, file=screen).print(moves_table(comparison))
    return screen.getvalue()


def test_what_came_on_every_variant_is_one_row() -> None:
    now = RECORD
    for number in range(60):
        case = STEADY._replace(conditions="253 V 50 Hz", variant=f"variant {number:02}")
        now = replace(
            now,
            inputs={**now.inputs, case.variant: {}},
            readings={**now.readings, case: {"input_power_W": 1.0}},
        )
    was = replace(RECORD, inputs=now.inputs)
    comparison = held(now, was)
    assert len(comparison.moves) == 60
    [group] = grouped(comparison.moves)
    assert row(group, ())[:2] == ("new case", "steady; breaks no limit")
    assert place(group) == "variant 00 and 59 more"
    assert len(shown(comparison).splitlines()) < 8


def test_a_topic_is_one_row_with_its_worst_case_first() -> None:
    orders = (
        verdict(STEADY, f"harmonic_{n}_pct", 10.0 + n, 10.0, limit_id="iec-61000-3-2.h11-39")
        for n in (11, 13)
    )
    other = verdict(BIGGER_STEADY, "harmonic_11_pct", 35.0, 10.0, limit_id="iec-61000-3-2.h11-39")
    [group] = grouped(held(RECORD, verdicts=(*orders, other)).moves)
    assert (group.worst.variant, group.worst.now) == (BIGGER, 35.0)
    assert row(group, ())[4] == "22 µF and 1 more"


def test_rows_say_words_and_which_way_is_worse() -> None:
    now = with_reading(with_reading(RECORD, STEADY, "flicker_pct", 50.0), SURGE, "surge_bus_peak_V", 900.0)
    text = " ".join(shown(held(now)).split())
    assert "peak voltage of the bus in the surge" in text
    assert "+9.52 worse" in text
    assert "−49.5 better" in text
    assert "surge_bus_peak_V" not in text


def test_what_did_not_move_is_neither_better_nor_worse() -> None:
    looser = verdict(STEADY, "flicker_pct", 99.0, 12.0)
    now = replace(RECORD, rules={"ieee-1789.low-risk": "of the study"})
    said = shown(held(now, verdicts=(looser,)))
    assert "worse" not in said
    assert "better" not in said


def test_a_cause_is_told_once_and_rows_refer_to_it() -> None:
    now = with_input(with_reading(RECORD, STEADY, "input_power_W", 12.0), "varistor.ac_rating_v", 300.0)
    now = with_reading(with_reading(now, SURGE, "surge_bus_peak_V", 900.0), SURGE, "surge_sink_peak_A", 0.9)
    comparison = held(now)
    assert changed_inputs(comparison) == ["varistor.ac_rating 275 V → 300 V (behind all 3)"]
    assert "because" not in shown(comparison)
    assert markdown(comparison).count("300 V") == 1
    templates = {**RECORD.templates, "benches/surge.cir.j2": "33333333"}
    two = held(replace(now, templates=templates))
    assert [text[:2] for text in changed_inputs(two)] == ["a:", "b:"]
    assert "a b" in shown(two)


def test_markup_in_a_name_is_shown_as_it_is() -> None:
    now = replace(RECORD, inputs={**RECORD.inputs, "[red]x[/red]": {}})
    assert "[red]x[/red]" in shown(held(now))


def test_the_summary_counts() -> None:
    assert summary(much()) == (
        "corridor: 1 failed case, 1 newly applying limit, 1 vanished variant, 1 drift; "
        "3 readings of 1 cases were compared with the reference"
    )


def test_names_of_a_reference_make_no_links_and_mentions() -> None:
    evil = "![x](https://a.test) @all #1 <img src=x> `y` www.a.test"
    was = replace(RECORD, inputs={**RECORD.inputs, evil: RECORD.inputs[AS_FOUND]})
    text = markdown(compare(was, RECORD, {}, {}, ()))
    assert "a.test" in text, "the variant that is gone is told"
    for active in ("https://", " @all", " #1", "<img", "www.a"):
        assert active not in text
    page = MarkdownIt().enable("table").render(text)
    assert "<a " not in page
    assert "<img" not in page
