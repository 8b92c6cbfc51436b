"""The screen of a study: how wide, what is marked, what is folded; from numbers put in by hand."""

from __future__ import annotations

import pytest
from rich.cells import cell_len

from coldiron.study.model import AS_FOUND
from weighing import Tried, screened

NAMES = ("22 µF", "47 µF, 10 Ω in both legs, bleed 100 kΩ", "[red]x[/red] [bold", "四十七 µF")


def many(count: int = 4) -> list[Tried]:
    """As found and variants that differ in all that is shown."""

    def read(step: float) -> dict[str, dict[str, float | str]]:
        return {
            "switch-on": {"inrush_peak_A": 3.0 + step},
            "steady": {"svm": 5.0, "light_A": 0.1, "input_power_W": 40.0 + step, "flicker_pct": 99.97},
            "heat": {
                "svm": 5.26 - 0.4 * step,
                "light_A": 0.1 + 0.01 * step,
                "flicker_pct": 99.97 - 6 * step,
                "input_power_W": 40.0 + 3 * step,
                "sinks_W": 16.94 + step,
                "sink_die_worst_C": 95.0 + 3 * step,
                "heat_outcome": "settled",
            },
            "surge": {
                "surge_bridge_pulse_us": 20.0,
                "surge_string_pulse_us": 20.0,
                "surge_sink_peak_A": 0.4 + 0.1 * step,
                "surge_drain_peak_V": 554.0 - 10 * step,
                "surge_bus_peak_V": 600.0 + 20 * step,
            },
            "unplug": {"discharge_60V_s": 0.1 * (1 + step)},
        }

    names = [*NAMES, *(f"variant {n}" for n in range(5, count + 1))][:count]
    return [Tried(benches=read(0.0)), *(Tried(name, read(n)) for n, name in enumerate(names, 1))]


@pytest.mark.parametrize("width", [60, 80, 100, 160])
def test_no_line_is_wider_than_the_terminal_and_no_number_broken(width: int) -> None:
    lines = screened(many(), width, ["steady light"])
    assert max(map(cell_len, lines)) <= width
    rows = [line for line in lines if line[1:].lstrip().startswith("0  as found")]
    assert len(rows) == 2, "one row in the table, one in the matrix"
    assert "5.26" in rows[0].replace("▼", " ").split(), "what the aim asks for is there at any width"


def test_one_table_has_a_row_for_each_variant_and_every_reading_where_there_is_room() -> None:
    lines = screened(many(), 160, ["steady light"])
    heads = next(line for line in lines if "№" in line)
    for word in ("inrush", "light", "flicker", "SVM", "input", "sinks", "die", "one sink", "drain"):
        assert word in heads
    assert "need width" not in "\n".join(lines)
    matrix = next(number for number, line in enumerate(lines) if line.startswith("used / allowed"))
    assert sum("554" in line for line in lines[:matrix]) == 1, "one row, in one table"


def test_names_cannot_style_the_terminal() -> None:
    assert "[red]x[/red] [bold" in "\n".join(screened(many(), 160))


def test_the_verdict_is_first_and_last_and_the_named_variant_marked() -> None:
    lines = screened(many(), 100, ["steady light"])
    verdict = lines[0]
    assert "Nearest for steady light: 4 · 四十七 µF" in verdict
    assert lines.count(verdict) == 2
    assert lines[-6:].count(verdict) or lines[-8:].count(verdict)
    assert sum(line.startswith("▸4") for line in lines) == 2


def test_a_tie_is_no_worst() -> None:
    tried = [
        Tried(benches={"switch-on": {"inrush_peak_A": 3.0}, "steady": {"sinks_W": 5.0}}),
        Tried("a", {"switch-on": {"inrush_peak_A": 9.004}, "steady": {"sinks_W": 5.0}}),
        Tried("b", {"switch-on": {"inrush_peak_A": 9.001}, "steady": {"sinks_W": 8.0}}),
    ]
    rows = [line.split() for line in screened(tried, 100) if "9.00" in line]
    assert len(rows) == 2
    assert not any("▼9.00" in row for row in rows)
    assert [row for row in rows if "▼8.00" in row] == [rows[1]]


def test_variants_that_nothing_tells_apart_stand_in_one_row() -> None:
    same = {"steady": {"svm": 5.0, "sinks_W": 5.0}}
    tried = [Tried(benches=same), Tried("one", same), Tried("two", {"steady": {"svm": 1.0, "sinks_W": 5.0}})]
    tried += [Tried("three", {"steady": {"svm": 5.01, "sinks_W": 5.02}})]
    text = "\n".join(screened(tried, 100))
    assert "1, 3: as found" in text
    assert sum("  one" in line for line in text.splitlines()) == 0
    assert "Changes nothing: 1 · one, 3 · three." in text


def test_a_large_study_shows_its_first_rows_and_where_the_others_are() -> None:
    lines = screened(many(60), 100, ["steady light"])
    assert "21 more variants in rank.csv" in lines
    assert any(line.startswith("▸") for line in lines)


def test_as_found_comes_first() -> None:
    lines = screened(many(), 100)
    first = next(number for number, line in enumerate(lines) if "№" in line)
    assert AS_FOUND in lines[first + 2]
