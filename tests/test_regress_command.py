"""`coldiron regress` from end to end: a lamp of our own on a real engine, and what is changed in it."""

from __future__ import annotations

import contextlib
import io
import json
import os
import shutil
import subprocess
import sys
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import pytest

from coldiron.cli.main import main
from coldiron.cli.running import run_with_progress
from coldiron.sweep.case_result import CaseResult, Failure
from coldiron.sweep.run import FinishedCase
from coldiron.tables import files
from hanging import HANG_S

ROOT = Path(__file__).resolve().parents[1]

pytestmark = pytest.mark.ngspice

# Invented for these tests.
LAMP = """
name = "Bench lamp"

[mains]
voltage = "230 V"
frequency = "50 Hz"

[line_fusing]
resistance = "10 Ω"
power = "3 W"

[varistor]
ac_rating = "275 V"
one_milliamp_voltage = "430 V"
clamping_voltage = "710 V"
clamping_current = "10 A"
energy = "20 J"
peak_current = "1.2 kA"
place = "mains terminals"

[bridge]
forward_voltage = "1.0 V"
forward_current = "0.5 A"

[film]
capacitance = "100 nF"

[bleed]
resistance = "470k"

[string]
series = 90
parallel = 2
forward_voltage = "3 V"
forward_current = "60 mA"
slope = "4 Ω"

[sinks]
count = 2
sense_voltage = "0.6 V"
sense_resistor = "12 Ω"

[housing]
earthed = false

[ratings]
power = "20 W"
"""

STUDY = """
name = "bench"
lamp = "lamp.toml"
benches = ["steady", "surge"]

[conditions]
surge_angle = [90]
surge_polarity = ["+"]

[[variant]]
name = "10 µF"
change = { reservoir = { capacitance = "10 µF" } }

[[variant]]
name = "no varistor"
change = { varistor = "none" }
"""


@dataclass(frozen=True)
class Said:
    """How a command ended, and what it said."""

    status: int
    out: str
    err: str


@dataclass(frozen=True)
class Workplace:
    """A folder with a lamp, a study and an accepted reference."""

    folder: Path

    @property
    def reference(self) -> Path:
        return self.folder / "results" / "reference" / "bench.toml"

    def regress(self, *words: str) -> Said:
        """Run the command in the folder."""
        out, err = io.StringIO(), io.StringIO()
        with contextlib.chdir(self.folder), redirect_stdout(out), redirect_stderr(err):
            status = main(["regress", "study.toml", "--workers", "1", *words])
        return Said(status, out.getvalue(), err.getvalue().strip())

    def regress_copy(self) -> Said:
        """Run the command of a copy of the program that stands in the folder."""
        run = "import sys; from coldiron.cli.main import main; sys.exit(main())"
        done = subprocess.run(
            [sys.executable, "-W", "error", "-c", run, "regress", "study.toml", "--workers", "1"],
            cwd=self.folder,
            env={**os.environ, "PYTHONPATH": str(self.folder / "runner")},
            capture_output=True,
            text=True,
            check=False,
            timeout=HANG_S,
        )
        return Said(done.returncode, done.stdout, done.stderr.strip())

    def change(self, path: str, old: str, new: str) -> None:
        """Replace text in one file."""
        file = self.folder / path
        text = file.read_text(encoding="utf-8")
        assert old in text
        file.write_text(text.replace(old, new, 1), encoding="utf-8")


@pytest.fixture(scope="module")
def accepted(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("accepted")
    (folder / "lamp.toml").write_text(LAMP, encoding="utf-8")
    (folder / "study.toml").write_text(STUDY, encoding="utf-8")
    said = Workplace(folder).regress("--accept")
    assert said.status == 0, said.err
    assert "accepted" in said.out
    return folder


@pytest.fixture
def place(accepted: Path, tmp_path: Path) -> Workplace:
    folder = tmp_path / "place"
    shutil.copytree(accepted, folder)
    return Workplace(folder)


@pytest.fixture
def place_with_program(place: Workplace) -> Workplace:
    for name in ("runner/coldiron", "netlists", "variants"):
        shutil.copytree(ROOT / name, place.folder / name, ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copy(ROOT / "pyproject.toml", place.folder)
    return place


def test_nothing_changed(place: Workplace) -> None:
    said = place.regress()
    assert (said.status, said.err) == (0, "")
    assert "nothing moved" in said.out
    assert "all to the last digit" in said.out


def test_accepting_again_changes_no_byte(place: Workplace) -> None:
    before = place.reference.read_bytes()
    assert place.regress("--accept", "--fresh").status == 0
    assert place.reference.read_bytes() == before


def test_a_varistor_of_another_class(place: Workplace) -> None:
    place.change("lamp.toml", 'ac_rating = "275 V"', 'ac_rating = "420 V"')
    place.change("lamp.toml", 'one_milliamp_voltage = "430 V"', 'one_milliamp_voltage = "680 V"')
    place.change("lamp.toml", 'clamping_voltage = "710 V"', 'clamping_voltage = "1.12 kV"')
    said = place.regress()
    assert said.status == 1
    assert "varistor.ac_rating 275 V → 420 V" in " ".join(said.out.split())
    # A varistor of a higher class clamps higher: its law, shifted. Without one there is nothing to shift.
    moves = json.loads((place.folder / "results/bench/regress.json").read_text(encoding="utf-8"))["moves"]
    assert "surge_lamp_peak_V" in {move["reading"] for move in moves}
    assert "no varistor" not in {move["variant"] for move in moves}


def test_a_comment_in_a_template_moves_nothing(place_with_program: Workplace) -> None:
    place_with_program.change("netlists/parts/bridge.cir.j2", "{#- Four", "{#- (looked at again) Four")
    said = place_with_program.regress_copy()
    assert said.status == 0
    assert "all to the last digit" in said.out


def test_a_value_in_a_template_is_named(place_with_program: Workplace) -> None:
    place_with_program.change("netlists/parts/bleed_resistor.cir.j2", "{{ d.ohm }}", "1{{ d.ohm }}")
    said = place_with_program.regress_copy()
    assert said.status == 1
    assert "template parts/bleed_resistor" in said.out


def test_finer_steps_and_tolerances_of_the_engine_stay_within(place_with_program: Workplace) -> None:
    # More than another engine or machine would do: 0.8 times the steps of each deck, 0.6 times its Newton
    # tolerance. The demo studies have been held against ngspice 46 too (DEVELOPERS.md).
    render = "runner/coldiron/deck/render.py"
    place_with_program.change(render, '"reltol": fineness.reltol', '"reltol": 0.6 * fineness.reltol')
    place_with_program.change(render, '"step_s": fineness.step_s', '"step_s": 0.8 * fineness.step_s')
    said = place_with_program.regress_copy()
    assert said.status == 0, said.out
    assert "nearest to its end" in said.out


def test_a_slightly_other_diode_stays_within(place: Workplace) -> None:
    # Two junctions in series carry the mean current: 2 mV more are 2 mV of 230 V, far below 1 % of the power.
    place.change("lamp.toml", 'forward_voltage = "1.0 V"', 'forward_voltage = "1.002 V"')
    said = place.regress()
    assert said.status == 0
    assert "nearest to its end" in said.out


def test_a_renamed_variant_is_renamed(place: Workplace) -> None:
    place.change("study.toml", 'name = "no varistor"', 'name = "without varistor"')
    said = place.regress()
    assert said.status == 1
    assert "bench: 1 renamed variant;" in said.out
    assert "no varistor → without varistor" in said.out
    assert place.regress("--accept").status == 0
    assert place.regress().status == 0


def test_a_new_variant_shows_what_it_breaks(place: Workplace) -> None:
    place.change("study.toml", 'change = { varistor = "none" }', 'change = { "film.voltage" = "100 V" }')
    place.change("study.toml", 'name = "no varistor"', 'name = "low film"')
    said = place.regress()
    assert said.status == 1
    assert "1 vanished variant, 1 new variant" in said.out
    text = (place.folder / "results" / "bench" / "regress.md").read_text(encoding="utf-8")
    assert "| breaks " in text
    assert "film capacitor voltage" in text


def test_a_small_change_is_a_small_diff(place: Workplace) -> None:
    """Only what moved is written: a lamp that takes two per cent less does not rewrite its surge voltages."""
    files = [place.reference, place.reference.with_name("bench.all.toml")]
    before = [file.read_text(encoding="utf-8").splitlines() for file in files]
    place.change("lamp.toml", 'sense_resistor = "12 Ω"', 'sense_resistor = "12.02 Ω"')
    assert place.regress().status == 0
    assert place.regress("--accept").status == 0
    after = [file.read_text(encoding="utf-8").splitlines() for file in files]
    changed = [len(set(now) - set(was)) for was, now in zip(before, after, strict=True)]
    assert changed == [1, 1]  # the hash of the other file; the sense resistor
    assert len(after[0]) < 60


def test_strict_counts_what_stays_over(place: Workplace) -> None:
    said = place.regress()
    assert said.status == 0
    assert "over as before" in said.out
    assert place.regress("--strict").status == 1


def test_a_study_that_is_refused_leaves_a_page_for_the_build(place: Workplace) -> None:
    place.change("study.toml", 'benches = ["steady", "surge"]', 'benches = ["steady", "splash"]')
    said = place.regress()
    assert said.status == 2
    text = (place.folder / "results" / "study" / "regress.md").read_text(encoding="utf-8")
    assert "not compared" in text
    assert "splash" in text


@pytest.mark.parametrize(
    ("old", "new", "expected"),
    [
        ("format = 2", "format = 1", "an older coldiron wrote this"),
        ("format = 2", "<<<<<<< ours", "expected valid TOML"),
        ('all = "', 'all = "0', "one of the two was changed or merged"),
    ],
)
def test_a_wrong_reference_is_one_line_and_accepting_mends_it(
    place: Workplace, old: str, new: str, expected: str
) -> None:
    place.change("results/reference/bench.toml", old, new)
    said = place.regress()
    assert said.status == 2
    assert expected in said.err
    assert "\n" not in said.err
    assert place.regress("--accept").status == 0
    assert place.regress().status == 0


def test_a_missing_reference_says_how_to_write_it(place: Workplace) -> None:
    place.reference.unlink()
    said = place.regress()
    assert (said.status, said.err.count("\n")) == (2, 0)
    assert "coldiron regress study.toml --accept writes the first" in said.err


def test_failed_cases_are_told_and_never_accepted(place: Workplace, monkeypatch: pytest.MonkeyPatch) -> None:
    def run_and_lose_one(*args: Any, **kwargs: Any) -> list[FinishedCase]:
        *others, last = run_with_progress(*args, **kwargs)
        return [*others, replace(last, result=CaseResult({}, {}, Failure("no answer", "Timestep too small")))]

    monkeypatch.setattr("coldiron.cli.regress.run_with_progress", run_and_lose_one)
    before = place.reference.read_bytes()
    said = place.regress()
    assert said.status == 3
    assert "1 failed case;" in said.out
    said = place.regress("--accept")
    assert said.status == 3
    assert "not written, because 1 of 6 cases failed" in said.err
    assert "no varistor | surge | 230 V 50 Hz: no answer" in said.err
    assert place.reference.read_bytes() == before


def test_the_studys_tolerances_count(place: Workplace) -> None:
    place.change("lamp.toml", 'sense_voltage = "0.6 V"', 'sense_voltage = "0.61 V"')
    assert place.regress().status == 1
    with (place.folder / "study.toml").open("a", encoding="utf-8") as file:
        file.write('\n[tolerance]\n"*" = { relative = "30 %", absolute = 10 }\n')
    assert place.regress().status == 0


def test_a_tolerance_of_an_unknown_reading_is_refused(place: Workplace) -> None:
    with (place.folder / "study.toml").open("a", encoding="utf-8") as file:
        file.write('\n[tolerance]\nsurge_sink_peek_A = "5 %"\n')
    said = place.regress()
    assert said.status == 2
    assert "did you mean surge_sink_peak_A?" in said.err


def test_a_place_that_cannot_be_written(place: Workplace) -> None:
    (place.folder / "file").touch()
    said = place.regress("--accept", "--reference", "file/in/it")
    assert (said.status, said.out) == (2, "")
    assert said.err == "cannot write file/in/it/bench.toml: Not a directory"


@pytest.mark.parametrize("out", ["file", "/dev/null/x", "/proc/x", "x" * 300])
def test_results_that_cannot_be_written_cost_one_line(place: Workplace, out: str) -> None:
    (place.folder / "file").touch()
    said = place.regress("--out", out, "--store", "results/.store")
    assert said.status == 2
    assert said.err.startswith(f"cannot write {out[:100]}")
    assert said.err.endswith("what moved is shown all the same, but no file is written")
    assert said.err.count("\n") == 0
    assert "nothing moved" in said.out


def test_a_disk_that_fills_up_meanwhile_costs_one_line(
    place: Workplace, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fill_up(path: Path, content: bytes) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(files, "_replace", fill_up)
    said = place.regress()
    assert said.status == 2
    lost = "No space left on device; what moved is shown all the same, but no file is written"
    assert said.err == f"cannot write results/bench/regress.md: {lost}"
    assert "nothing moved" in said.out
    place.change("lamp.toml", 'sense_voltage = "0.6 V"', 'sense_voltage = "0.61 V"')
    before = place.reference.read_bytes()
    said = place.regress("--accept")
    assert said.status == 2
    assert "cannot write results/reference/bench.all.toml: No space left on device" in said.err
    assert place.reference.read_bytes() == before
