"""`coldiron check`: what was understood, in a person's units, with what is typical marked."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

from coldiron.cli.check import TYPICAL_MARK, check
from coldiron.cli.main import main
from coldiron.errors import FileProblems
from coldiron.lamp.describe import lines
from coldiron.lamp.toml_file import find_file, shipped_names
from coldiron.parts.ladder import ladder
from coldiron.resources import resource_dir
from coldiron.study.keys import key_list
from coldiron.study.load import load_study
from coldiron.wording import one_of
from lamps import load_lamp

SHIPPED_LAMPS = ("kerbside-flood", "pantry-bulb", "corridor-panel")
SHIPPED_STUDIES = ("kerbside-rework", "pantry-sinks", "corridor-recap")


@pytest.fixture
def printed(capsys: pytest.CaptureFixture[str], request: pytest.FixtureRequest) -> list[str]:
    """Lines that check prints of a shipped file."""
    assert check(request.param, defaults=True) == 0
    return [line.rstrip() for line in capsys.readouterr().out.splitlines()]


@pytest.mark.parametrize("printed", ["kerbside-flood"], indirect=True)
def test_a_lamp_in_a_persons_units(printed: list[str]) -> None:
    text = "\n".join(" ".join(line.split()) for line in printed)
    assert text.startswith("Kerbside flood\n")
    for line in (
        "mains voltage 230 V data sheet",
        "line fusing resistance 4.7 Ω measured",
        "film capacitor capacitance 100 nF measured",
        "1 mA voltage 470 V data sheet",
        "tempco -5 mV/K data sheet",
        "? resistance 400 mΩ typical, not given",
        "? spread 3 % typical, not given",
        "? heat die to board 14 K/W typical",
        "housing earthed yes data sheet",
        "not fitted: reservoir",
        "input current cold 220 mA ± 2 %",
    ):
        assert f"\n{line}\n" in text


@pytest.mark.parametrize("printed", ["kerbside-flood"], indirect=True)
def test_what_follows_from_the_values(printed: list[str]) -> None:
    text = "\n".join(" ".join(line.split()) for line in printed)
    # Closed forms: 5 · 0.6 V / 9.1 Ω = 330 mA; √2 · 230 V = 325 V; the sine is above 0.759 of its peak for
    # 1 − 2/π · asin(0.759) = 45.1 % of a half cycle; ln(10 A / 1 mA) / ln(774 V / 470 V) = 18.5,
    # and with 775 V / 1.1 for the nominal disc 22.8.
    assert "set current, cold 330 mA (5 × 65.9 mA), 65.9 mA in each LED of 60 mA" in text
    assert "string at that current 247 V, 75.9 % of the mains peak (325 V)" in text
    assert "without a reservoir lit for about 45.1 % of each half cycle" in text
    assert "varistor exponent 22.8, of the high disc 18.5, between 1 mA and 10 A" in text


def test_a_reservoir_says_what_it_stores(capsys: pytest.CaptureFixture[str]) -> None:
    check("corridor-panel")
    # Closed form: ½ · 1.9 µF · (√2 · 230 V)² = 100.5 mJ.
    assert "101 mJ stored" in capsys.readouterr().out


@pytest.mark.parametrize("name", SHIPPED_LAMPS)
def test_every_typical_value_is_marked_without_colour(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    check(name, defaults=True)
    out = capsys.readouterr().out
    assert "\x1b" not in out  # not a terminal: no colour
    every = [line for line in lines(load_lamp(name)) if line.provenance == "typical"]
    left_out = sum(line.by_default for line in every)
    table = out.split("not fitted")[0]
    marked = [line.rstrip() for line in table.splitlines() if line.startswith(TYPICAL_MARK)]
    assert len(marked) == len(every) > 20
    assert sum(line.endswith("typical, not given") for line in marked) == left_out
    assert sum(line.endswith("typical") for line in marked) == len(every) - left_out
    assert f"{TYPICAL_MARK} {left_out} more are typical, not given" in out
    # Without being asked for, what the file leaves out is only counted.
    check(name)
    table = capsys.readouterr().out.split("not fitted")[0]
    assert table.count(f"\n{TYPICAL_MARK}") == len(every) - left_out


def test_given_without_a_source_is_no_default(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    lamp = tmp_path / "lamp.toml"
    text = find_file("pantry-bulb", "lamps").read_text(encoding="utf-8")
    lamp.write_text(text.replace('provenance = "data sheet"\n', ""), encoding="utf-8")
    check(str(lamp))
    out = capsys.readouterr().out
    rows = [" ".join(line.split()) for line in out.splitlines()]
    assert "mains voltage 120 V given, source not said" in rows
    assert "resistance 10 Ω measured" in " ".join(rows)
    unsaid = sum(row.endswith("given, source not said") for row in rows)
    assert f", {unsaid} of them given without saying from where" in out


def test_the_circuit_is_drawn(capsys: pytest.CaptureFixture[str]) -> None:
    check("kerbside-flood")
    out = capsys.readouterr().out
    drawing = out.split("\n\n")[1].splitlines()
    assert drawing[0].startswith("L ─ line fusing ──")
    assert drawing[-1].startswith("N ──")
    assert "neutral fusing" in drawing[-1]  # in the lower rail
    assert {len(row) for row in (drawing[0], drawing[-1])} == {len(drawing[0])}
    # Across both rails at its own place: the varistor behind the first fusing resistor, before the second.
    at = drawing[0].index("┬")
    assert drawing[-1][at] == "┴"
    assert drawing[0].index("line fusing") < at < drawing[-1].index("neutral fusing")
    assert "varistor" in drawing[2][at - 8 : at + 8]


@pytest.mark.parametrize("width", [40, 60, 80, 100])
@pytest.mark.parametrize("name", SHIPPED_LAMPS)
def test_a_drawing_fits_its_page_and_loses_no_part(name: str, width: int) -> None:
    circuit = load_lamp(name).circuit
    drawing = ladder(circuit, width)
    assert max(map(len, drawing.splitlines())) <= width
    for part in circuit:
        assert not part.shown or drawing.count(part.name.replace("_", " ")) == 1


def test_the_key_list_is_current() -> None:
    # When this falls: coldiron check --keys > variants/KEYS.md
    assert resource_dir("variants").joinpath("KEYS.md").read_text(encoding="utf-8") == key_list()


def test_the_key_list_has_every_key_of_the_shipped_files(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", "--keys"]) == 0
    said = capsys.readouterr().out
    for folder in ("lamps", "studies"):
        for path in (resource_dir("variants") / folder).glob("*.toml"):
            for key in re.findall(r"^([a-z_0-9]+) =", path.read_text(encoding="utf-8"), re.MULTILINE):
                assert f"`{key}`" in said, (path.name, key)
    assert "| `series`" in said
    assert main(["check"]) == 2


@pytest.mark.parametrize("name", SHIPPED_STUDIES)
def test_a_study_lists_its_variants_and_counts_its_cases(
    name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    check(name)
    out = " ".join(capsys.readouterr().out.split())
    study = load_study(name)
    for number, variant in enumerate(study.variants):
        changes = "; ".join(str(change) for change in variant.changes) or "nothing"
        assert f"{number} {variant.name} {changes}" in out
    cases = len(study.variants) * len(study.conditions.mains) * len(study.benches)
    assert f"{cases} cases: {len(study.variants)} variants" in out


def test_a_new_capacitance_with_the_old_esr_is_pointed_out(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    study = tmp_path / "trial.toml"
    study.write_text(
        'lamp = "corridor-panel"\n'
        '[[variant]]\nname = "old"\nchange = { "reservoir.capacitance" = "22u" }\n'
        '[[variant]]\nname = "new"\nchange = { reservoir = { capacitance = "22u", esr = "none" } }\n',
        encoding="utf-8",
    )
    check(str(study))
    out = capsys.readouterr().out
    assert 'old: keeps the ESR of the reservoir as found; write esr = "none" for a new capacitor' in out
    assert "new: keeps" not in out


def test_text_of_a_file_is_not_markup(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    study = tmp_path / "trial.toml"
    study.write_text('lamp = "pantry-bulb"\nnote = "[red]a[/red] :bulb: [/b]"\n', encoding="utf-8")
    check(str(study))
    assert "[red]a[/red] :bulb: [/b]" in capsys.readouterr().out


def test_mistakes_stop_it_before_it_prints(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    broken = tmp_path / "lamp.toml"
    broken.write_text('name = "x"\nmians = 5\n', encoding="utf-8")
    with pytest.raises(FileProblems):
        check(str(broken))
    assert capsys.readouterr().out == ""


def test_status_2_one_line_each_and_no_traceback(tmp_path: Path) -> None:
    broken = tmp_path / "lamp.toml"
    broken.write_text('name = "x"\nmains = 5\nbridge = 7\n', encoding="utf-8")
    run = subprocess.run(
        [sys.executable, "-c", "import sys; from coldiron.cli.main import main; sys.exit(main())",
         "check", str(broken)],
        capture_output=True, text=True, check=False, cwd=tmp_path,
    )  # fmt: skip
    assert run.returncode == 2
    assert run.stdout == ""
    assert run.stderr.splitlines() == [
        f"{broken}: mains is 5: expected a table [mains]",
        f"{broken}: bridge is 7: expected a table [bridge]",
        *(
            f"{broken}: {part} is missing: expected a table [{part}]"
            for part in ("housing", "string", "sinks")
        ),
    ]
    assert [path.name for path in tmp_path.iterdir()] == ["lamp.toml"]  # nothing written


def test_an_unknown_name_lists_lamps_and_studies(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", "kerbside-floo"]) == 2
    assert capsys.readouterr().err == (
        "kerbside-floo is not known: expected a file, or the name of a shipped one "
        f"({one_of([*shipped_names('lamps'), *shipped_names('studies')])}) (did you mean kerbside-flood?)\n"
    )
