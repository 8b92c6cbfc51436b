"""The reference file: the same back, quiet in a diff, a clear word for each way in which it can be wrong."""

from __future__ import annotations

import difflib
import math
import subprocess
import tomllib
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldiron.errors import FileProblems
from coldiron.regress.head import complete_file, digest, head, to_tolerance
from coldiron.regress.read import read_reference
from coldiron.regress.reference import CaseName, ReferenceTable, rounded, written
from regress_records import (
    AS_FOUND,
    RECORD,
    STEADY,
    SUPPLY,
    SURGE,
    verdict,
    with_case,
    with_reading,
    without_variant,
)

ANEW = "coldiron regress corridor --accept"
WORDS = st.text(st.characters(codec="utf-8", exclude_categories=("C", "Z")), min_size=1, max_size=20)
VALUES = st.one_of(st.floats(), WORDS).map(rounded)
ROWS = st.dictionaries(WORDS, VALUES, max_size=4)


def read_back(
    text: str, folder: Path, study: str = "corridor", reviewed: str = head(RECORD, (), {}, "")
) -> ReferenceTable:
    """Read a complete file with a reviewed one beside it that has the hash of it."""
    path = folder / "corridor.toml"
    reviewed = reviewed.replace(digest(""), digest(text))
    path.write_text(reviewed, encoding="utf-8")
    complete_file(path).write_text(text, encoding="utf-8")
    return read_reference(path, study, ANEW)


def refusal(text: str, folder: Path, **files: str) -> str:
    with pytest.raises(FileProblems) as caught:
        read_back(text, folder, **files)
    [problem] = caught.value.problems
    return str(problem).removeprefix(f"{folder}/")


def same(one: float | str, other: float | str) -> bool:
    return one == other or (one != one and other != other)


def test_a_record_comes_back_the_same(tmp_path: Path) -> None:
    assert read_back(written(RECORD), tmp_path) == RECORD


def test_a_variant_without_a_part_comes_back_without_it(tmp_path: Path) -> None:
    found = RECORD.inputs[AS_FOUND]
    own = {key: value for key, value in found.items() if not key.startswith("varistor.")} | {
        "varistor": "none"
    }
    record = replace(RECORD, inputs={AS_FOUND: found, "22 µF": own})
    assert read_back(written(record), tmp_path).inputs["22 µF"] == own


@given(WORDS.filter(lambda word: word != AS_FOUND), ROWS, ROWS)
def test_any_names_and_values_come_back(
    tmp_path_factory: pytest.TempPathFactory,
    variant: str,
    inputs: dict[str, float | str],
    rows: dict[str, float | str],
) -> None:
    inputs = {key: value for key, value in inputs.items() if same(value, value) and value != "gone"}
    case = CaseName(variant, "switch-on", SUPPLY)
    record = ReferenceTable("corridor", {AS_FOUND: {}, variant: inputs}, {}, {}, {case: rows})
    back = read_back(written(record), tmp_path_factory.mktemp("reference"))
    assert back.inputs[variant].keys() == inputs.keys()
    assert back.readings[case].keys() == rows.keys()
    assert all(same(back.readings[case][name], value) for name, value in rows.items())
    assert written(back) == written(record)


def test_a_plain_toml_reader_finds_the_readings() -> None:
    # TOML 1.0 as Python's own reader has it.
    table = tomllib.loads(written(RECORD))
    assert ["surge_bus_peak_V", 700] in table["case"][AS_FOUND]["surge"][SUPPLY]
    assert table["readings"] == 11


def test_the_order_of_the_study_does_not_show() -> None:
    turned = replace(
        RECORD,
        inputs={name: RECORD.inputs[name] for name in reversed(list(RECORD.inputs))},
        readings={
            case: dict(reversed(list(RECORD.readings[case].items())))
            for case in reversed(list(RECORD.readings))
        },
    )
    assert written(turned) == written(RECORD)


def test_one_moved_reading_is_one_line_of_a_diff() -> None:
    before = written(RECORD).splitlines()
    after = written(with_reading(RECORD, SURGE, "surge_bus_peak_V", 710.0)).splitlines()
    diff = [line for line in difflib.unified_diff(before, after, lineterm="", n=0) if line[0] in "+-"]
    assert diff[2:] == ['-    ["surge_bus_peak_V", 700],', '+    ["surge_bus_peak_V", 710],']


def test_git_says_above_each_piece_which_case_it_is(tmp_path: Path) -> None:
    rows = {f"harmonic_{order}_pct": 1.0 for order in range(2, 40)}
    for number, last in enumerate((1.0, 2.0)):
        record = replace(RECORD, readings={SURGE: {**rows, "zzz_W": last}})
        (tmp_path / str(number)).write_text(written(record), encoding="utf-8")
    said = subprocess.run(
        ["git", "diff", "--no-index", "0", "1"], cwd=tmp_path, capture_output=True, text=True, check=False
    )
    [piece] = [line for line in said.stdout.splitlines() if line.startswith("@@")]
    assert piece.endswith(f'case."{AS_FOUND}".surge."{SUPPLY}" = [')


def test_digits_are_fixed() -> None:
    noise = with_reading(RECORD, STEADY, "input_power_W", rounded(9.3700000001))
    assert written(noise) == written(RECORD)
    assert rounded(9.370001) == 9.37
    assert math.copysign(1.0, float(rounded(-0.0))) == 1.0


@given(st.floats(-1e6, 1e6), st.floats(1e-7, 10.0))
def test_what_is_not_written_is_far_below_a_tolerance(value: float, amount: float) -> None:
    kept = rounded(value, amount)
    assert isinstance(kept, float)
    # Half a digit in the last of six places, or half a hundredth of the amount's decade.
    assert abs(kept - value) <= 0.501 * max(1e-5 * abs(value), amount / 100) * (1 + 1e-9)


def test_the_first_reference_is_told_how_to_come_about(tmp_path: Path) -> None:
    with pytest.raises(FileProblems) as caught:
        read_reference(tmp_path / "corridor.toml", "corridor", ANEW)
    assert "coldiron regress corridor --accept writes the first" in str(caught.value)


def damaged(old: str, new: str) -> str:
    text = written(RECORD)
    assert old in text
    return text.replace(old, new, 1)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        pytest.param("", "expected a reference, not an empty file", id="empty"),
        pytest.param("garbage", "expected valid TOML", id="no TOML"),
        pytest.param(damaged("format = 2", "format = 1"), "an older coldiron wrote this", id="older format"),
        pytest.param(damaged("format = 2", "format = 3"), "a newer coldiron wrote this", id="newer format"),
        pytest.param(damaged("format = 2", ""), "format is missing", id="no format"),
        pytest.param(damaged("format = 2", 'format = "x"'), "a reference of format 2", id="format in words"),
        pytest.param(damaged('    ["surge_bus_peak_V", 700],\n', ""), "lines are missing", id="a line lost"),
        pytest.param(damaged("700]", "700, 1]"), "damaged", id="three in a row"),
        pytest.param(damaged("700]", "true]"), "damaged", id="a truth for a number"),
        pytest.param(damaged('"surge_bus_peak_V"', "7"), "each name once, as text", id="a number for a name"),
        pytest.param(
            damaged('"surge_bus_peak_V"', '"surge_sink_peak_A"'), "each name once", id="one reading twice"
        ),
        pytest.param(damaged("versions = [", "vershuns = ["), "damaged", id="another key"),
        pytest.param(damaged(f'input."{AS_FOUND}"', 'input."x"'), "damaged", id="no lamp as found"),
        pytest.param(damaged('input."22 µF"', 'input."23 µF"'), "of which it has readings", id="inputs lost"),
        pytest.param(
            damaged('case."22 µF"', "<<<<<<< ours\ncase"), "expected valid TOML", id="an unresolved merge"
        ),
        pytest.param(
            damaged('flicker_pct", 8]', 'flicker_pct", "8"]'), "a number for each", id="a limit in words"
        ),
    ],
)
def test_a_damaged_reference_gets_one_line(tmp_path: Path, text: str, expected: str) -> None:
    said = refusal(text, tmp_path)
    assert said.startswith("corridor.all.toml: ")
    assert expected in said
    assert "\n" not in said


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        ("format = 2", "format = 1", "an older coldiron wrote this"),
        ("format = 2", "<<<<<<< ours", "expected valid TOML"),
        ("readings = 11", "reedings = 11", "no such key"),
        ('all = "', 'all = "0', "as it was written with it: one of the two was changed or merged"),
        ("corridor", "kerbside", "it is of another study"),
    ],
)
def test_a_damaged_first_file_gets_one_line(tmp_path: Path, old: str, new: str, expected: str) -> None:
    text = head(RECORD, (), {}, "")
    assert old in text
    said = refusal(written(RECORD), tmp_path, reviewed=text.replace(old, new))
    assert said.startswith("corridor.toml: ")
    assert expected in said
    assert "\n" not in said


def test_a_missing_complete_file_gets_one_line(tmp_path: Path) -> None:
    (tmp_path / "corridor.toml").write_text(head(RECORD, (), {}, ""), encoding="utf-8")
    with pytest.raises(
        FileProblems, match=r"corridor.all.toml is missing: expected the readings of corridor"
    ):
        read_reference(tmp_path / "corridor.toml", "corridor", ANEW)


def test_two_accepts_that_a_merge_mixed_are_noticed(tmp_path: Path) -> None:
    # Each side of the merge is whole; together they are of no one writing.
    other = written(with_reading(RECORD, SURGE, "surge_bus_peak_V", 710.0))
    reviewed = head(RECORD, (), {}, written(RECORD))
    assert "one of the two was changed or merged" in refusal(other, tmp_path, reviewed=reviewed)


def test_other_line_ends_are_the_same_file() -> None:
    assert digest(written(RECORD)) == digest(written(RECORD).replace("\n", "\r\n"))


def test_the_first_file_has_one_row_a_variant_and_a_line_for_each_broken_limit() -> None:
    broken = verdict(STEADY, "flicker_pct", 99.0, 8.0)
    table = tomllib.loads(head(RECORD, (broken,), {}, ""))
    assert table["columns"] == ["steady flicker_pct", "steady input_power_W", "surge surge_sink_peak_A"]
    # 1 % of 99 % is about one, 1 % of 9.37 W is 0.09 W, 3 % of 0.4 A is 0.012 A.
    assert table["headline"] == {AS_FOUND: [99, 9.37, 0.40], "22 µF": [0.06, 21.4, "-"]}
    assert table["over"] == {AS_FOUND: ["flicker (low risk), steady: 99.0 of 8 % (×12)"]}


def test_the_worst_of_all_conditions_is_the_headline_and_warm_stands_for_cold() -> None:
    record = with_case(RECORD, STEADY._replace(conditions="253 V 50 Hz"), {"input_power_W": 11.0})
    assert tomllib.loads(head(record, (), {}, ""))["headline"][AS_FOUND][1] == 11.0
    record = with_case(record, STEADY._replace(bench="heat"), {"input_power_W": 8.5})
    assert tomllib.loads(head(record, (), {}, ""))["columns"][1] == "heat input_power_W"


@given(st.floats(1e-3, 1e4))
def test_a_headline_figure_is_within_half_a_tolerance(value: float) -> None:
    said = float(to_tolerance(value, "input_power_W", {}))
    assert abs(said - value) <= 0.5001 * max(0.01 * value, 1e-3)


def test_a_review_of_a_demo_study_is_at_most_300_lines() -> None:
    folder = Path(__file__).resolve().parents[1] / "results" / "reference"
    reviewed = [path for path in folder.glob("*.toml") if not path.name.endswith(".all.toml")]
    assert len(reviewed) >= 7
    for path in reviewed:
        assert complete_file(path).exists(), path
        assert len(path.read_text(encoding="utf-8").splitlines()) <= 300, path
    # What is generated stays out of a diff, and is left to be unfolded where a page shows one.
    assert "*.all.toml -diff linguist-generated=true" in (folder / ".gitattributes").read_text(
        encoding="utf-8"
    )


def test_the_way_out_is_named(tmp_path: Path) -> None:
    assert "coldiron regress corridor --accept" in refusal(damaged("format = 2", "format = 1"), tmp_path)


def test_a_reference_of_another_study_is_refused(tmp_path: Path) -> None:
    with pytest.raises(FileProblems, match="another study"):
        read_back(written(RECORD), tmp_path, study="kerbside")


def test_a_cut_file_is_never_taken_for_a_smaller_study(tmp_path: Path) -> None:
    lines = written(RECORD).splitlines(keepends=True)
    whole = "".join(lines)
    for count in range(len(lines)):
        text = "".join(lines[:count])
        if text.rstrip() == whole.rstrip() or "case." not in text:
            continue
        try:
            back = read_back(text, tmp_path)
        except FileProblems:
            continue
        # What may be lost unseen is the list of limits alone: then each of them is told as broken.
        assert back.readings == RECORD.readings


def test_what_is_left_out_of_the_study_leaves_the_file(tmp_path: Path) -> None:
    assert "22 µF" not in written(without_variant(RECORD, "22 µF"))


@pytest.mark.parametrize("at", ["input", "case", "study", "versions", "reading"])
@pytest.mark.parametrize("name", ["\x1b[2J", "a\rb", "\u202eevil", "x" * 2000], ids=ascii)
def test_a_name_that_does_not_print_is_damage(tmp_path: Path, at: str, name: str) -> None:
    """A reference may come with a pull request; its names go to terminals and pages of builds."""
    case = next(iter(RECORD.readings))
    record = {
        "input": replace(RECORD, inputs={**RECORD.inputs, name: RECORD.inputs[AS_FOUND]}),
        "case": replace(RECORD, readings={**RECORD.readings, case._replace(conditions=name): {}}),
        "study": replace(RECORD, study=name),
        "versions": replace(RECORD, versions={name: "1"}),
        "reading": replace(RECORD, readings={case: {**RECORD.readings[case], "weakest_part": name}}),
    }[at]
    said = refusal(written(record), tmp_path)
    assert "names and texts of one line that prints" in said
    assert said.isprintable()
    assert len(said) < 1000
