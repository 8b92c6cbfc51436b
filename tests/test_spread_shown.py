"""A spread as it is shown: terminal, files, page, frames; and the assumption that changes the answer."""

from __future__ import annotations

import csv
from collections.abc import Callable, Mapping
from pathlib import Path

import pytest
from rich.cells import cell_len

from coldiron.answer.answer import Answer, answer
from coldiron.answer.words import answer_lines
from coldiron.benches.base import Case
from coldiron.cli.fit import run_in_worker
from coldiron.cli.main import main
from coldiron.cli.spreading import Spreads, leaning, worth_a_spread
from coldiron.errors import NoConvergence
from coldiron.fit.solve import Fit, FitWork
from coldiron.limits import judge
from coldiron.report.page import page
from coldiron.report.spread import spread_view
from coldiron.spread.decides import deciding
from coldiron.spread.pinned import pinned
from coldiron.spread.subject import Subject
from coldiron.spread.sways import swaying
from coldiron.spread.whole import SpreadOf, spread_of
from coldiron.study.load import load_study, make_study
from coldiron.study.model import Study
from coldiron.study.spread import Spread
from coldiron.sweep.cases import study_cases
from coldiron.sweep.results import Results
from coldiron.tables.spread import spread_screen, write_spread
from toy_benches import Formula, toy

Number = Callable[[str], float]


def table(path: Path) -> list[dict[str, str]]:
    return list(csv.DictReader(path.read_text(encoding="utf-8").splitlines()))


def no_fit(work: FitWork) -> Fit:
    raise NoConvergence("no engine here")


def toy_study() -> Study:
    changes = {
        "cool": {"sinks.sense_resistor": "18 Ω"},
        "less": {"sinks.sense_resistor": "16 Ω"},
    }
    aim = {"want": ["cool sinks"]}
    return make_study("kerbside-flood", changes, benches=["steady"], aim=aim, spread={"runs": 60})


def lamp(number: Number, case: Case) -> Mapping[str, float]:
    """Sinks that are coolest with 18 Ω, whose resistor then hangs on what the mains is assumed to have."""
    sense = number("sinks.sense_resistor")
    mains = (number("mains.resistance") / 0.4) if sense > 17.0 else 1.0
    return {
        "line_fusing_W": 1.7 * mains * (case.conditions.voltage_v / 230.0) ** 2,
        "neutral_fusing_W": 2.5,
        "sinks_W": 7.0 * 9.1 / sense,
        "light_A": 0.15 * 9.1 / sense,
        "input_power_W": 45.0,
    }


def toy_answer(study: Study, formula: Formula) -> tuple[Results, Answer]:
    done = toy(formula)(list(study_cases(study)))
    results = Results(done)
    return results, answer(study, results, judge(study, done))


def toy_spread(variant: str = "cool") -> SpreadOf:
    return spread_of(toy_study(), variant, toy(lamp), no_fit)


def test_an_assumption_that_changes_the_answer_is_in_its_lines() -> None:
    """By hand: 1.7 W · R/0.4 reaches 2 W less the tolerance at 0.448 Ω; past that the other is named."""
    study = toy_study()
    _, found = toy_answer(study, lamp)
    assert found.named is not None
    assert found.named.ranked.candidate.name == "cool"
    decided = deciding(Subject(study, "cool", study.benches, toy(lamp)))
    [sway] = swaying(study, found, {"cool": decided}, toy(lamp))
    assert (sway.before, sway.after, sway.above) == ("cool", "less", True)
    assert sway.flip.at[0] == pytest.approx(0.4 * 2.0 / 1.05 / 1.7, rel=0.01)
    told = leaning(found, Spreads((), (sway,)))
    [line] = [line for line in answer_lines(told) if "leans on mains resistance" in line]
    assert "above 448 mΩ it would be less" in line
    assert "To measure:" in line
    assert worth_a_spread(found) == ["as found", "cool"]


def test_an_assumption_that_turns_all_alike_changes_no_answer() -> None:
    """The verdict turns for both; who is named does not."""

    def alike(number: Number, case: Case) -> Mapping[str, float]:
        return {**lamp(number, case), "line_fusing_W": 1.7 * number("mains.resistance") / 0.4}

    study = toy_study()
    _, found = toy_answer(study, alike)
    decided = deciding(Subject(study, "cool", study.benches, toy(alike)))
    assert any(one.flips for one in decided)
    assert swaying(study, found, {"cool": decided}, toy(alike)) == []


@pytest.mark.parametrize("width", [60, 80, 100, 160])
def test_lines_are_as_wide_as_they_may_be(width: int) -> None:
    lines = spread_screen(toy_spread(), width)
    assert max(map(cell_len, lines)) <= width
    whole = " ".join(" ".join(lines).split())
    assert "60 lamps of its tolerances on 207 V to 253 V, 15 °C to 35 °C" in whole
    assert any(line.startswith("To keep neutral fusing watts (×1.31)") for line in lines)


def test_files_hold_every_lamp_and_where_each_tolerance_is_from(tmp_path: Path) -> None:
    found = [toy_spread(), toy_spread("as found")]
    files = {path.name: path for path in write_spread(tmp_path, found)}
    lamps = table(files["lamps.csv"])
    assert len(lamps) == 2 * 61
    assert {float(row["mains"]) for row in lamps if row["lamp"] == "0"} == {0.0}
    tolerances = table(files["tolerances.csv"])
    assert all(row["source"] for row in tolerances)
    limits = table(files["limits.csv"])
    kept = next(row for row in limits if row["limit"] == "neutral fusing watts")
    assert (kept["n"], kept["kept"], float(kept["yield"])) == ("60", "0", 0.0)
    decides = table(files["decides.csv"])
    assert any(row["key"] == "mains.resistance" and row["over_above"] == "yes" for row in decides)
    passes = table(files["passes.csv"])
    assert any(row["key"] == "neutral_fusing.power" and float(row["after"]) == 3.0 for row in passes)
    again = {path.name: path.read_bytes() for path in write_spread(tmp_path / "again", found)}
    assert again == {name: path.read_bytes() for name, path in files.items()}


def test_the_page_has_its_section() -> None:
    study = toy_study()
    results, found = toy_answer(study, lamp)
    verdicts = judge(study, list(results))
    one = toy_spread()
    html = page(study, results, verdicts, found, [one])
    assert 'id="spread"' in html
    view = spread_view(one)
    assert view.title in html
    assert all(line.split(":")[0][:30] in html for line in view.lines)
    assert 'id="spread"' not in page(study, results, verdicts)


def test_an_odd_file_gets_its_line(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    def status(text: str) -> int:
        path = tmp_path / "odd.toml"
        path.write_text(
            f'lamp = "kerbside-flood"\nbenches = ["steady"]\n[spread]\n{text}\n', encoding="utf-8"
        )
        return main(["spread", str(path), "--out", str(tmp_path / "out")])

    assert status("runs = 3") == 2
    assert "spread.runs is 3: expected between 20 and 100000" in capsys.readouterr().err
    assert status('tolerance = { "film.colour" = "5 %" }') == 2
    assert "spread.tolerance.film.colour" in capsys.readouterr().err
    assert status('tolerance = { "film.capacitance" = "5 A" }') == 2
    assert status('shape = "triangle"') == 2
    assert status('ambient = ["40 °C", "10 °C"]') == 2
    assert not list((tmp_path / "out").glob("**/*.csv"))


def test_a_variant_that_is_none_is_refused(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    words = ["spread", "kerbside-rework", "--variant", "22 uF", "--out", str(tmp_path)]
    assert main(words) == 2
    assert "22 µF" in capsys.readouterr().err


def test_a_study_says_what_it_asks_of_tolerances() -> None:
    assert load_study("kerbside-rework").spread is None
    assert toy_study().spread == Spread(runs=60)


@pytest.mark.ngspice
def test_the_command_and_the_frames_say_the_same(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    from coldiron import run_spread

    path = tmp_path / "small.toml"
    path.write_text('lamp = "kerbside-flood"\nbenches = ["unplug"]\n[spread]\nruns = 20\n', encoding="utf-8")
    words = ["spread", str(path), "--variant", "as found", "--out", str(tmp_path / "out")]
    assert main(words) == 0
    shown = capsys.readouterr().out
    assert "20 lamps of its tolerances" in shown
    folder = next((tmp_path / "out").glob("**/spread"))
    text = (folder / "spread.csv").read_text(encoding="utf-8")
    found = run_spread(path, ["as found"], store=tmp_path / "out" / ".store")
    [row] = csv.DictReader(text.splitlines())
    assert found.readings["p50"].tolist() == pytest.approx([float(row["p50"])], rel=1e-6)
    assert found.limits["n"].tolist() == [20] * len(found.limits)
    assert len(found.lamps) == 21
    assert str(found).splitlines()[0] in shown.replace("\n  ", " ") or "20 lamps" in str(found)
    # The second run of the command is recalled, to the byte.
    assert main(words) == 0
    assert (folder / "spread.csv").read_text(encoding="utf-8") == text
    assert capsys.readouterr().out == shown


def test_no_fit_is_made_for_values_that_nobody_asks_about() -> None:
    """The flood's readings pin its housing's loss, which only a warm lamp depends on."""
    asked = []

    def fit(work: FitWork) -> Fit:
        asked.append(work)
        raise NoConvergence("no engine here")

    cold = toy_study()
    warm = make_study("kerbside-flood", benches=["steady", "heat"])
    assert pinned(cold.lamp, cold.lamp, ("steady",), fit) == {}
    assert asked == []
    assert pinned(warm.lamp, warm.lamp, ("heat",), fit) == {}  # a fit that fails pins nothing
    assert len(asked) == 1


@pytest.mark.ngspice
@pytest.mark.slow
def test_readings_pin_what_a_fit_finds() -> None:
    """The flood's housing was 61 °C: its loss lies where the fit has it, and other variants have it too."""
    study = load_study("kerbside-rework")
    ends = pinned(study.lamp, study.variants[2].lamp, ("heat",), lambda work: run_in_worker(work, 300.0))
    low, high = ends["heat.housing_to_ambient"]
    assert low < 1.05 < high
    assert 0.1 < high - low < 0.5
