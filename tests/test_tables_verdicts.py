"""Sentences, marks and verdict files: what a person reads of a study, made from numbers put in by hand."""

from __future__ import annotations

import io
import math
import subprocess
import sys
import tomllib
from dataclasses import replace
from pathlib import Path

import pandas as pd
import pytest
from rich.console import Console

from coldiron.cli.check import check
from coldiron.errors import FileProblems
from coldiron.limits import Verdict, judge
from coldiron.resources import resource_dir
from coldiron.study.load import study_from
from coldiron.sweep.case_result import CaseResult, Failure
from coldiron.sweep.results import Results
from coldiron.sweep.run import FinishedCase
from coldiron.sweep.stored import read_back, written
from coldiron.tables.screen import left_out_lines
from coldiron.tables.sentences import sentence, sentences
from coldiron.tables.tidy import tidy
from coldiron.tables.verdicts import verdict_lines, verdict_table
from hanging import HANG_S
from judging import current, done_of, study_of
from lamps import plain_lamp, reservoir

FOUND: dict[str, float | str] = {
    **current(45.0, 0.9, {3: 20.0}), "flicker_pct": 100.0, "svm": 5.3, "sinks_W": 12.0, "light_A": 0.1,
    "pst_lm": 0.1, "displacement_factor": 1.0,
}  # fmt: skip
FITTED: dict[str, float | str] = {
    **current(60.0, 0.65, {3: 86.0, 5: 60.0}), "flicker_pct": 0.4, "svm": 0.01, "sinks_W": 30.0,
    "light_A": 0.2, "pst_lm": 0.1, "displacement_factor": 0.95,
}  # fmt: skip
MAIN = "from coldiron.cli.main import main; raise SystemExit(main())"


def both() -> tuple[Results, list[Verdict]]:
    found = plain_lamp()
    fitted = found.model_copy(update={"reservoir": reservoir(22e-6)})
    done = [done_of(FOUND, lamp=found), done_of(FITTED, lamp=fitted, variant="22 µF")]
    return Results(done), judge(study_of(found), done)


def printed(*things: object) -> str:
    console = Console(file=io.StringIO(), width=200, color_system=None)
    for thing in things:
        console.print(thing)
    file = console.file
    assert isinstance(file, io.StringIO)
    return file.getvalue()


def test_a_sentence_of_what_got_better_what_worse_and_what_breaks() -> None:
    text = sentences(*both())["22 µF"]
    assert text.startswith("Flicker falls from 100 % to 0.4 %")
    assert ", but the sinks now carry 30 W in place of 12 W" in text
    assert "breaks IEC 61000-3-2" in text
    assert "now kept: " in text
    assert "IEEE 1789" in text
    assert text.endswith(".")


def test_the_lamp_as_found_is_described() -> None:
    text = sentences(*both())["as found"]
    assert text.startswith("Flicker 100 %, the sinks carry 12 W")
    assert "stroboscopic effect 5.3 breaks Regulation (EU) 2019/2020 (at most 0.4)" in text


def test_a_part_that_is_gone_keeps_nothing() -> None:
    found = plain_lamp()
    bare = found.model_copy(update={"film": None})
    done = [
        done_of({"bus_highest_V": 500.0}, lamp=found),
        done_of({"bus_highest_V": 500.0}, lamp=bare, variant="bare"),
    ]
    said = sentences(Results(done), judge(study_of(found), done))
    assert "film capacitor is over its rating" in said["as found"]
    assert "kept" not in said["bare"]


def test_a_change_too_small_for_a_word() -> None:
    assert sentence({"svm": 1.02}, [], found={"svm": 1.0}).startswith("Nothing that was read changes by 5 %")


def test_a_variant_that_only_gets_worse_has_no_but() -> None:
    text = sentence({"inrush_peak_A": 20.0}, [], found={"inrush_peak_A": 10.0})
    assert text == "Inrush rises from 10 A to 20 A."


AVALANCHE: dict[str, float | str] = {"surge_sink_peak_A": 2.26, "surge_limited_by": "avalanche"}
DRIVEN: dict[str, float | str] = {"surge_sink_peak_A": 0.214, "surge_limited_by": "gate drive, assumed"}


def test_a_current_that_the_gate_sets_is_no_gain_against_an_avalanche() -> None:
    ceased = sentence(DRIVEN, [], found=AVALANCHE)
    assert ceased == (
        "The sinks no longer avalanche in a surge, 0.214 A through one "
        "(limited by the drive of the sink, assumed)."
    )
    assert sentence(AVALANCHE, [], found=DRIVEN) == "The sinks now avalanche in a surge, 2.26 A through one."
    more = sentence({**DRIVEN, "surge_sink_peak_A": 0.4}, [], found=DRIVEN)
    assert more.endswith("rises from 0.214 A to 0.4 A (limited by the drive of the sink, assumed).")
    assert "limited by the drive" in sentence(DRIVEN, [])


def test_never_is_said_of_what_does_not_end() -> None:
    text = sentence({"discharge_60V_s": math.inf}, [], found={"discharge_60V_s": 3.0})
    assert text == "Time down to 60 V inside: never in place of 3 s."


def test_a_limit_from_memory_says_so_in_the_sentence() -> None:
    lamp = plain_lamp()
    low = {"displacement_factor": 0.5, "input_power_W": 45.0}
    verdicts = judge(study_of(lamp), [done_of(low, lamp=lamp)])
    assert "(at least 0.9, from memory)" in sentence({"displacement_factor": 0.5}, verdicts)


def test_a_rule_on_top_of_a_rating_is_told() -> None:
    """The lamp file has a rated voltage; 1.6 times that is a proof voltage (IEC 60384-16, from memory)."""
    lamp = plain_lamp()
    assert lamp.film is not None
    pulse: dict[str, float | str] = {
        f"surge_{name}": 1.0
        for name in ("string_pulse_us", "bridge_pulse_us", "string_peak_A", "bridge_peak_A", "bridge_i2t_A2s")
    }
    pulse["surge_bus_peak_V"] = 5.0 * lamp.film.voltage_v
    verdicts = [
        verdict
        for verdict in judge(study_of(lamp), [done_of(pulse, lamp=lamp, bench="surge")])
        if verdict.what == "film, voltage"
    ]
    said = sentence(pulse, verdicts)
    assert f"at most {1.6 * lamp.film.voltage_v:.0f} V" in said
    assert "rated" not in said
    table = verdict_table([replace(verdict, provenance="data sheet") for verdict in verdicts])
    assert table is not None
    assert "IEC 60384-16, from memory" in " ".join(printed(table).split())


def test_a_bench_without_an_answer_is_named() -> None:
    done, verdicts = both()
    case = done_of({}, bench="surge", variant="22 µF").case
    lost = Results([*done, FinishedCase(case, CaseResult({}, {}, Failure("no answer")))])
    assert "; no answer from surge; " in sentences(lost, verdicts)["22 µF"]
    assert sentence({}, [], failed=["steady", "surge"]) == "No answer from steady and surge."


def test_no_readings_no_sentence() -> None:
    assert sentence({}, []) == "No readings."
    assert sentences(Results([]), []) == {}


def test_broken_limits_are_marked_without_colour() -> None:
    table = verdict_table(both()[1])
    assert table is not None
    text = printed(table)
    assert "‼ over" in text
    assert "close" in text
    assert "verified" in text


def test_nothing_broken_no_table() -> None:
    lamp = plain_lamp()
    verdicts = judge(study_of(lamp), [done_of({"svm": 0.1}, lamp=lamp)])
    assert verdict_table(verdicts) is None
    assert verdict_lines(verdicts)[0] == "verdicts: 1 ok"


def test_where_no_limit_applies_is_said_and_why() -> None:
    lamp = plain_lamp()
    done = [done_of(current(45.0, 0.9, {}), lamp=lamp, voltage_v=120.0, frequency_hz=60.0)]
    lines = verdict_lines(judge(study_of(lamp), done))
    [line] = [line for line in lines if "IEC 61000-3-2" in line]
    assert line.startswith("no limit applies: ")
    assert "no limit at 120 V" in line


def test_variant_names_cannot_style_the_terminal() -> None:
    lamp = plain_lamp()
    done = [done_of({"svm": 5.0}, lamp=lamp, variant="[red]x[/red] [bold")]
    table = verdict_table(judge(study_of(lamp), done))
    assert table is not None
    assert "[red]x[/red] [bold" in printed(table)


def test_a_bench_that_does_not_apply_is_one_line_and_a_row_of_the_table() -> None:
    case = done_of({}, bench="off-glow").case
    done = [FinishedCase(case, CaseResult({}, {}, not_applicable="no leakage path"))]
    assert left_out_lines(Results(done)) == ["left out: off-glow (every variant): no leakage path"]
    assert tidy(Results(done))[["reading", "text"]].to_numpy().tolist() == [
        ["not applicable", "no leakage path"]
    ]
    assert read_back(written(done[0].result)) == done[0].result


def run(folder: Path, text: str) -> subprocess.CompletedProcess[str]:
    study = folder / "tried.toml"
    study.write_text(text, encoding="utf-8")
    return subprocess.run(
        [sys.executable, "-c", MAIN, "study", str(study), "--no-pictures", "--out", "out", "--limits"],
        cwd=folder,
        capture_output=True,
        text=True,
        timeout=HANG_S,
        check=False,
    )


@pytest.mark.ngspice
def test_a_bench_that_lacks_something_is_skipped_and_the_rest_goes_on(tmp_path: Path) -> None:
    bulb = (resource_dir("variants") / "lamps" / "pantry-bulb.toml").read_text(encoding="utf-8")
    (tmp_path / "bulb.toml").write_text(
        bulb.replace('power = "9 W"\nkind = "self-ballasted lamp"\n', ""), encoding="utf-8"
    )
    done = run(tmp_path, 'lamp = "./bulb.toml"\nbenches = ["surge", "off-glow", "steady"]\n')
    assert done.returncode == 0, done.stderr
    assert "left out: off-glow (every variant): no leakage path" in done.stdout
    assert "left out: surge (every variant): no surge level" in done.stdout
    assert "no limit at 120 V" in done.stdout.replace("\n", " ")
    verdicts = pd.read_csv(tmp_path / "out" / "tried" / "verdicts.csv")
    assert set(verdicts["verdict"]) <= {"ok", "close", "over", "no limit applies"}
    assert (verdicts["verdict"] == "over").any()
    assert verdicts["source"].notna().all()


def test_a_limit_that_does_not_exist_is_one_line(tmp_path: Path) -> None:
    done = run(tmp_path, 'lamp = "pantry-bulb"\n[limits.replace]\n"eu-2019-2020.svn" = 0.9\n')
    assert done.returncode == 2
    assert "did you mean eu-2019-2020.svm?" in done.stderr
    assert "Traceback" not in done.stderr
    assert not (tmp_path / "out").exists()


@pytest.mark.parametrize(
    ("table", "said"),
    [
        ("[limits]\nmargin = 3", "limits.margin"),
        ("[limits]\nmargin = '10 V'", "limits.margin"),
        ("[conditions.leakage]\nindicator = 'lamp'", "neon or LED"),
        ("[conditions.leakage]\ncable_length = '10 s'", "a length"),
        ("[conditions.leakage]\nglow_threshold = '1 uA'", "a cable_length, a capacitance"),
        ("[conditions.burst]\ncoupling = ['earth']", "all, line or neutral"),
        ("[conditions.burst]\nrate = '5 V'", "a frequency"),
        ("[conditions.dip]\nduration = '1 h'", "conditions.dip.duration"),
        ("[conditions.sag]\nresidual = '170 %'", "conditions.sag.residual"),
    ],
)  # fmt: skip
def test_mistakes_in_conditions_of_single_benches(table: str, said: str) -> None:
    with pytest.raises(FileProblems) as caught:
        study_from(tomllib.loads(f'lamp = "pantry-bulb"\n{table}\n'), Path("study.toml"))
    [problem] = caught.value.problems
    assert said in str(problem)


def test_check_refuses_a_limit_that_does_not_exist(tmp_path: Path) -> None:
    file = tmp_path / "tried.toml"
    file.write_text('lamp = "pantry-bulb"\n[limits.replace]\n"ieee-1789.low-rsk" = 5\n', encoding="utf-8")
    with pytest.raises(FileProblems, match=r"did you mean ieee-1789\.low-risk"):
        check(str(file))


def test_a_lamp_that_does_not_settle_hot_is_said_to() -> None:
    running = sentence(
        {"flicker_pct": 5.0, "heat_outcome": "thermal runaway"}, [], found={"flicker_pct": 5.0}
    )
    assert "ends in thermal runaway" in running
    floor = "the sinks hold at the floor of their foldback"
    assert floor in sentence({"heat_outcome": floor}, [])
    assert "settled" not in sentence({"heat_outcome": "settled", "flicker_pct": 5.0}, [])
