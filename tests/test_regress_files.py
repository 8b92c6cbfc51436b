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
from coldiron.regress.files import json_text, junit, markdown, write_comparison
from coldiron.regress.moves import Comparison
from coldiron.regress.terminal import moves_table
from coldiron.regress.words import HEADINGS, summary
from regress_records import (
    AS_FOUND,
    BIGGER,
    BIGGER_STEADY,
    RECORD,
    STEADY,
    SURGE,
    held,
    verdict,
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
    assert steady.type == "broken limit"
    assert "drift: as found | steady | 230 V 50 Hz | input_power_W: 9.37 W → 20 W" in steady.text
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
    assert len(cells) == len(HEADINGS) * (1 + len(much().moves))


def test_a_name_cannot_break_the_markdown() -> None:
    name = "a | b <script>`x` *y* [z](http://w)"
    now = replace(RECORD, inputs={**RECORD.inputs, name: {}})
    html = MarkdownIt("commonmark").enable("table").render(markdown(held(now)))
    assert "<td>a | b &lt;script&gt;`x` *y* [z](http://w)</td>" in html


def test_a_quiet_markdown_says_so() -> None:
    assert "nothing moved" in markdown(held(RECORD))
    assert "| what |" not in markdown(held(RECORD))


def test_json_is_plain_json() -> None:
    def refuse(constant: str) -> None:
        raise AssertionError(f"{constant} is no JSON")

    content = json.loads(json_text(much()), parse_constant=refuse)
    assert content["status"] == 3
    assert content["counts"] == {"failed case": 1, "broken limit": 1, "vanished variant": 1, "drift": 1}
    drift = next(move for move in content["moves"] if move["kind"] == "drift")
    assert (drift["reading"], drift["reference"], drift["now"], drift["unit"]) == (
        "input_power_W",
        9.37,
        20,
        "W",
    )
    assert drift["tolerance"] == {"relative_ratio": 0.01, "absolute": 0.001}
    never = json.loads(json_text(held(with_reading(RECORD, BIGGER_STEADY, "discharge_34V_s", 5.0))))
    assert (never["moves"][0]["reference"], never["moves"][0]["distance_tolerances"]) == ("inf", "inf")


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


def test_the_terminal_shows_one_screen_farthest_first() -> None:
    now = RECORD
    for number in range(60):
        case = STEADY._replace(conditions=f"{200 + number} V 50 Hz")
        now = replace(now, readings={**now.readings, case: {"input_power_W": 1.0}})
    lines = shown(held(now)).splitlines()
    assert len(lines) < 40
    assert "new case" in lines[3]


def test_markup_in_a_name_is_shown_as_it_is() -> None:
    now = replace(RECORD, inputs={**RECORD.inputs, "[red]x[/red]": {}})
    assert "[red]x[/red]" in shown(held(now))


def test_the_summary_counts() -> None:
    assert summary(much()) == (
        "corridor: 1 failed case, 1 broken limit, 1 vanished variant, 1 drift; "
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
