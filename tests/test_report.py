"""The report as a file: its order, its size, its sources, its colours, and nothing from outside."""

from __future__ import annotations

import html
import re
from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest

from coldiron.answer.answer import answer
from coldiron.answer.words import answer_lines, caution_lines, further_lines, verdict_line
from coldiron.engine.local_pool import shared_pool
from coldiron.limits import Verdict, judge
from coldiron.limits.harmonic import harmonic_limits_pct
from coldiron.limits.verdict import Word
from coldiron.pictures.ink import FAINT, INK, LIMIT, PAPER
from coldiron.report.caveats import caveats
from coldiron.report.first import first_screen
from coldiron.report.page import page, write_report
from coldiron.study.aims import Aims
from coldiron.study.load import load_study
from coldiron.sweep.case_result import CaseResult, Failure
from coldiron.sweep.cases import study_cases
from coldiron.sweep.results import Results
from coldiron.sweep.run import FinishedCase, run_cases
from coldiron.sweep.worker import start_worker
from contrast import contrast_ratio
from reporting import finished, renamed, with_failure

STYLE = Path(__file__).resolve().parents[1] / "runner" / "coldiron" / "report" / "page.css"
SECTIONS = ("answer", "cautions", "variants", "use", "pictures", "lamp", "computed", "sources")

pytestmark = pytest.mark.ngspice


@cache
def small_page() -> str:
    return page(*finished())


def test_the_answer_stands_first_and_the_rest_in_order() -> None:
    places = [small_page().index(f'id="{name}"') for name in SECTIONS]
    assert places == sorted(places)


def test_the_same_findings_give_the_same_bytes() -> None:
    assert page(*finished()) == small_page()


def test_nothing_comes_from_outside() -> None:
    text = re.sub(r'xmlns(:\w+)?="[^"]*"', "", small_page())
    assert re.findall(r'(?:src|href)="(?!#)([^"]*)"', text) == []
    assert re.findall(r"url\((?!#)([^)]*)\)", text) == []
    assert "http:" not in text
    assert "https:" not in text
    assert "@import" not in text


def test_one_file_is_left_whole(tmp_path: Path) -> None:
    study, done, verdicts = finished()
    path = write_report(tmp_path, study, done, verdicts)
    assert path == tmp_path / "report.html"
    assert path.read_text(encoding="utf-8") == small_page()
    assert [each.name for each in tmp_path.iterdir()] == ["report.html"]


def test_every_picture_has_its_words() -> None:
    # WCAG 2.1, 1.1.1: what is no ornament has a text alternative.
    opening = re.findall(r"<svg [^>]*>", small_page())
    assert len(opening) > 10
    for tag in opening:
        told = re.search(r'role="img" aria-label="([^"]+)"', tag)
        assert 'aria-hidden="true"' in tag or (told and len(told.group(1)) > 40), tag


def test_limits_of_harmonics_stand_beside_the_dots() -> None:
    # IEC 61000-3-2, class C above 25 W: 30 % times the power factor for the third, 10 % for the fifth.
    study, done, _ = finished()
    found = next(one for one in done if (one.case.variant, one.case.bench) == ("as found", "steady"))
    limits_pct = harmonic_limits_pct(study, found)
    if float(found.result.readings["input_power_W"]) > 25.0:
        assert limits_pct["limit"][3] == pytest.approx(30 * float(found.result.readings["power_factor"]))
        assert limits_pct["limit"][5] == 10.0
    else:
        assert set(limits_pct) == {"alternative 1", "alternative 2", "alternative 3"}
        assert limits_pct["alternative 2"] == {3: 86.0, 5: 61.0}
    assert "IEC 61000-3-2" in small_page()[small_page().index('id="picture-harmonics"') :][:900]


def test_every_verdict_shown_says_its_source_in_its_row_and_in_the_list() -> None:
    _, _, verdicts = finished()
    text = small_page()
    marks = re.findall(r'<span class="mark [^"]*" title="([^"]+)"', text)
    assert len(marks) >= 16
    listed = dict(re.findall(r'<li id="source-(\d+)">\d+\. <strong>([^<]+)</strong>', text))
    assert {verdict.source for verdict in verdicts} == set(listed.values())
    assert all(any(name in mark for name in listed.values()) for mark in marks)
    told = re.findall(r'</span> ([^<]+) <a href="#source-(\d+)">', text)
    assert all(listed[number] in said for said, number in told)
    # Whoever is over or close says so in place: as many rows unfold as have such a verdict.
    names = {v.variant for v in verdicts if v.verdict in ("over", "close")}
    assert text.count('<tr class="told"') == len(names)


def test_sources_stand_in_two_groups() -> None:
    text = small_page()
    rules, ratings = text.index("<h3>Rules and advice</h3>"), text.index("<h3>Ratings of the parts</h3>")
    assert rules < text.index("<strong>IEC 61000-3-2") < ratings


def test_the_answer_is_that_of_the_terminal() -> None:
    study, done, verdicts = finished()
    said, shown = answer(study, done, verdicts), html.unescape(small_page())
    for line in (verdict_line(said), *caution_lines(said), *further_lines(said)):
        assert f"{line}</p>" in shown
    assert answer_lines(said)[0] == verdict_line(said)


def test_the_first_screen_says_gains_price_and_what_is_over() -> None:
    study, done, verdicts = finished()
    wanted = study.model_copy(update={"aim": Aims(want=("steady light",))})
    said = answer(wanted, done, verdicts)
    first = first_screen(wanted, said)
    assert said.named is not None
    assert said.named.title == "1 · 22 µF"
    assert first.asked == "Asked for: steady light."
    assert [change.what for change in first.gains][:2] == ["flicker", "SVM"]
    assert "inrush" in [change.what for change in first.price]
    over = {use.verdict.what for use in (*said.named.over, *said.named.still)}
    assert any(bar.is_over for bar in first.bars) == bool(over)
    for bar in first.bars:
        assert bar.is_cut or bar.length_pct == pytest.approx(float(bar.times) * first.allowed_pct, abs=1.0)
    assert "changed" in page(wanted, done, verdicts) or "fitted" in page(wanted, done, verdicts)


def verdict(variant: str, what: str, word: Word, **values: str) -> Verdict:
    return Verdict(
        variant=variant, bench="steady", conditions="230 V 50 Hz", reading=values.pop("reading", "svm"),
        value=2.0, limit=1.0, verdict=word, limit_id=f"a-standard.{what}", group="law",
        source="a standard", clause="1",
        provenance=values.pop("provenance", "verified"), note=values.pop("note", ""), what=what,
    )  # fmt: skip


def test_limits_from_memory_and_limits_that_do_not_apply_are_said() -> None:
    _, done, _ = finished()
    verdicts = [
        verdict("as found", "light", "ok", provenance="from memory"),
        verdict("as found", "third", "no limit applies", note="none below 220 V"),
    ]
    assert caveats(done, verdicts) == [
        "1 of 2 verdicts rest on limits quoted from memory; the list says which.",
        "No limit applies, which is not a pass: a standard: none below 220 V.",
    ]


def test_a_variant_with_a_hole_is_said_to_have_one() -> None:
    _, done, verdicts = with_failure("the engine gave up", "timestep too small")
    assert any("1 of 16 cases gave no answer (22 µF)" in line for line in caveats(done, verdicts))


def test_a_failed_case_leaves_a_hole_with_its_reason() -> None:
    text = page(*with_failure("the engine gave up", "timestep too small"))
    assert text.count('<span class="hole" title="steady: the engine gave up">failed</span>') >= 4
    assert "steady: the engine gave up" in text
    assert "timestep too small" in text


def test_a_study_without_any_answer_still_has_a_report() -> None:
    study, done, _ = finished()
    lost = [
        FinishedCase(one.case, CaseResult({}, {}, Failure("the engine gave up", "timestep too small")))
        for one in done
    ]
    text = page(study, Results(lost), judge(study, lost))
    assert text.count("the engine gave up") >= 16
    assert "16 of 16 cases gave no answer" in text
    assert "No case has waves to draw" in text


def test_a_study_whose_waves_were_not_kept_has_its_tables_and_schematics() -> None:
    study, done, verdicts = finished()
    bare = [FinishedCase(one.case, replace(one.result, waves=None)) for one in done]
    text = page(study, Results(bare), verdicts)
    assert 'id="picture-watts"' in text
    assert 'id="picture-surge"' not in text
    assert text.count('class="part"') > 20


def test_a_bench_that_does_not_apply_says_what_the_lamp_lacks() -> None:
    study, done, verdicts = finished()
    skipped = [
        FinishedCase(one.case, CaseResult({}, {}, not_applicable="no leakage path in the study"))
        if (one.case.variant, one.case.bench) == ("22 µF", "surge")
        else one
        for one in done
    ]
    text = page(study, Results(skipped), [v for v in verdicts if (v.variant, v.bench) != ("22 µF", "surge")])
    assert "surge (22 µF): no leakage path in the study" in text
    assert "gave no answer" not in text
    assert '<span class="hole" title="surge: no leakage path in the study">not applicable</span>' in text


def test_names_are_escaped_wherever_they_stand() -> None:
    hostile = "<script>alert(1)</script>\"'&"
    text = page(*renamed(hostile, (f"{hostile}a", f"{hostile}b", f"{hostile}c")))
    assert text.count("<script>") == 1
    assert "<script>alert" not in text


@pytest.mark.parametrize("ink", ["ink", "faint", "accent", "over", "close", "ok"])
@pytest.mark.parametrize("ground", ["paper", "sheet"])
def test_text_can_be_read(ink: str, ground: str) -> None:
    # WCAG 2.1, 1.4.3 (AA): text at least 4.5:1.
    colours = dict(re.findall(r"--(\w+):(#[0-9a-f]{6})", STYLE.read_text(encoding="utf-8")))
    assert contrast_ratio(colours[ink], colours[ground]) >= 4.5


@pytest.mark.parametrize("ink", [INK, FAINT, LIMIT])
def test_text_in_pictures_can_be_read(ink: str) -> None:
    # WCAG 2.1, 1.4.3 (AA).
    assert contrast_ratio(ink, PAPER) >= 4.5


def test_contrast_of_known_pairs() -> None:
    # WCAG 2.1: black on white is 21:1; #767676 on white is the lightest grey that passes 4.5:1 (from memory).
    assert contrast_ratio("#000000", "#ffffff") == pytest.approx(21.0)
    assert contrast_ratio("#767676", "#ffffff") == pytest.approx(4.54, abs=0.01)


def test_the_report_of_the_main_demo_study_is_small_enough_to_send() -> None:
    study = load_study("kerbside-rework")
    done = run_cases(list(study_cases(study)), shared_pool(2, start_worker), keep_waves=True)
    text = page(study, Results(done), judge(study, done))
    assert len(text.encode()) < 3_000_000
    assert text.count('class="lay lay-17"') >= 10
