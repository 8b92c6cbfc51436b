"""The Python interface: what it returns, what it refuses, and the example of the documentation."""

from __future__ import annotations

import doctest
import html
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

import coldiron
from coldiron.api import StudyResult
from lamps import linear
from reporting import finished, renamed, small_study, with_failure

pytestmark = pytest.mark.ngspice
EXAMPLE = Path(__file__).resolve().parents[1] / "README.md"


def result() -> StudyResult:
    study, done, _ = finished()
    return StudyResult(study, done)


def test_the_example_of_the_documentation_runs() -> None:
    done = doctest.testfile(
        str(EXAMPLE), module_relative=False, encoding="utf-8", optionflags=doctest.NORMALIZE_WHITESPACE
    )
    assert done.attempted >= 9
    assert done.failed == 0


def test_importing_the_package_is_light() -> None:
    ask = (
        "import sys, coldiron; print(sorted({'pandas', 'numpy', 'matplotlib', 'PySpice'} & set(sys.modules)))"
    )
    told = subprocess.run([sys.executable, "-c", ask], capture_output=True, text=True, check=True).stdout
    assert told == "[]\n"


def test_public_names() -> None:
    assert coldiron.run_study.__module__ == "coldiron.api"
    with pytest.raises(AttributeError, match="no attribute 'nothing'"):
        _ = coldiron.nothing


def test_help_and_completion_show_the_public_names() -> None:
    ask = "import pydoc, coldiron; print(dir(coldiron), pydoc.render_doc(coldiron, renderer=pydoc.plaintext))"
    told = subprocess.run([sys.executable, "-c", ask], capture_output=True, text=True, check=True).stdout
    for name in coldiron.__all__:
        assert f"'{name}'" in told
    for line in ("class Lamp(", "class StudyResult(", "class FileProblems(", "load_study(", "run_study("):
        assert line in told
    assert coldiron.load_lamp("pantry-bulb").mains.voltage_v == 120.0


def test_a_study_needs_no_file() -> None:
    lamp = coldiron.load_lamp("kerbside-flood")
    for text, farads in (("10 µF", 10e-6), ("22 µF", 22e-6)):
        study = coldiron.make_study(lamp, {text: {"reservoir.capacitance": text}}, benches=["unplug"])
        changed = linear(study.variants[1].lamp).reservoir
        assert changed is not None
        assert changed.capacitance_f == farads
    with pytest.raises(coldiron.FileProblems, match=r"variant\[1\]\.reservoir.capacitance is \"10 V\""):
        coldiron.make_study(lamp, {"x": {"reservoir.capacitance": "10 V"}})


def test_what_a_notebook_prints_is_short() -> None:
    found = result()
    lines = [repr(each) for each in (found, found.study, found.study.lamp, found.study.variants[1])]
    assert all(len(line) < 120 for line in lines)
    assert lines[0] == "<StudyResult of small study: 4 variants, 1 condition, 4 benches, 16 cases, 0 failed>"


def test_the_answer_its_ranking_and_what_is_used_of_each_limit() -> None:
    found = result()
    assert str(found.answer).splitlines()[0]
    assert len(repr(found.answer)) < 100
    assert sorted(found.rank().index) == sorted(found.wide.index)
    assert found.rank().index[0] == found.answer.ranked[0].candidate.name
    assert list(found.use.index) == list(found.wide.index)
    assert set(found.use.dtypes.astype(str)) == {"float64"}
    # One definition: what is over in the matrix is what has a verdict "over".
    over = {variant for variant, row in found.use.iterrows() if (row > 1.0).any()}
    assert over == set(found.verdicts.query("verdict == 'over'")["variant"])


def test_pictures_show_themselves() -> None:
    assert result().plot()._repr_svg_().startswith("<svg")
    with pytest.raises(KeyError, match="no picture 'heat' of this study; there are: trade-off, switch-on"):
        result().plot("heat")


def test_frames_hold_the_readings_of_the_cases() -> None:
    found = result()
    assert len(found.tidy) >= sum(len(one.result.readings) for one in found.results)
    for one in found.results:
        if one.case.bench == "steady":
            assert found.wide["steady", "sinks_W"][one.case.variant] == one.result.readings["sinks_W"]
    assert list(found.wide.index) == [variant.name for variant in found.study.variants]
    assert set(found.verdicts["verdict"]) <= {"ok", "close", "over", "no limit applies"}
    assert set(found.sentences) == set(found.wide.index)


def test_waves_are_those_of_the_readings() -> None:
    found = result()
    for variant in found.wide.index:
        waves = found.waves(found.case(str(variant), "switch-on"))
        time_s = waves.index.to_numpy()
        assert (np.diff(time_s) > 0).all()
        # The reading looks at the first half cycle; the charging pulse is in it.
        early = time_s <= 0.01
        peak_a = np.abs(waves["i(vinput) [A]"].to_numpy()[early]).max()
        assert peak_a == pytest.approx(found.wide["switch-on", "inrush_peak_A"][variant], rel=1e-6)


def test_runs_of_a_chain_are_asked_for_by_label() -> None:
    found = result()
    case = found.case("as found", "surge")
    assert found.waves(case, "before").index.max() > found.waves(case).index.max()
    with pytest.raises(KeyError, match=r"no run 'after'.*there are: before, surge"):
        found.waves(case, "after")


def test_what_is_not_there_is_said() -> None:
    found = result()
    with pytest.raises(KeyError, match="no case '47 µF' on 'steady'; variants: as found, 22 µF"):
        found.case("47 µF", "steady")
    study, done, _ = with_failure("the engine gave up", "timestep too small")
    lost = StudyResult(study, done)
    with pytest.raises(KeyError, match="no waves of '22 µF' on 'steady': the engine gave up"):
        lost.waves(lost.case("22 µF", "steady"))
    with pytest.raises(KeyError, match="no variant '47 µF' in the study; there are: as found, 22 µF"):
        coldiron.run_study(small_study(), variants=["47 µF"])
    with pytest.raises(KeyError, match="no bench 'oven'"):
        coldiron.run_study(small_study(), benches=["oven"])


def test_as_found_stays_in_and_the_store_gives_the_same(tmp_path: Path) -> None:
    first = coldiron.run_study(small_study(), variants=["two sinks"], benches=["unplug"], store=tmp_path)
    again = coldiron.run_study(small_study(), variants=["two sinks"], benches=["unplug"], store=tmp_path)
    assert [case.variant for case in first.cases] == ["as found", "two sinks"]
    assert first.tidy.equals(again.tidy)
    assert first.waves(first.cases[0]).equals(again.waves(again.cases[0]))


def test_a_notebook_shows_the_answer_and_the_table() -> None:
    shown = result()._repr_html_()
    assert shown.startswith("<div")
    for variant in result().wide.index:
        assert f'<th scope="row">{variant}</th>' in shown
    assert "<script" not in shown
    assert "<style" not in shown


def test_hostile_names_stay_text_in_a_notebook() -> None:
    hostile = "<script>alert(1)</script>"
    study, done, _ = renamed(hostile, (f"{hostile}a", f"{hostile}b", f"{hostile}c"))
    shown = StudyResult(study, done)._repr_html_()
    assert hostile not in shown
    assert html.escape(hostile) in shown


def test_the_report_is_written_where_asked(tmp_path: Path) -> None:
    assert result().report(tmp_path) == tmp_path / "report.html"
    assert (tmp_path / "report.html").stat().st_size > 100_000
