"""The files of a study: none overwrites another's, none is lost, and where none can be, that is said."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any, NamedTuple

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldiron.benches.base import Case
from coldiron.cli.main import main
from coldiron.errors import CannotWrite
from coldiron.sweep.case_result import CaseResult
from coldiron.sweep.run import FinishedCase
from coldiron.tables import files, run_folder
from coldiron.tables.files import stems
from coldiron.tables.tidy import csv_text, number_text, plain_text

NAMES = ("+10 %", "-10 %", "Лампа 1", "Свет 1", "a", "A", "22 µF", "22 uF", "=1+1", "@SUM(A1)", "x;=2+2")
DECK = "* a title\nR1 a 0 100\n.tran 1e-05 0.001 0 1e-05 uic\n.end\n"


class Ran(NamedTuple):
    """What a command gave: its status, and what it said."""

    status: int
    said: str
    complaints: str


Run = Callable[..., Ran]


@pytest.fixture
def run(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    """Run commands in a folder with a study, without an engine: every case has its number for a reading."""
    monkeypatch.chdir(tmp_path)
    variants = "".join(
        f'[[variant]]\nname = "{name}"\nchange = {{ "reservoir.capacitance" = "{n + 1} µF" }}\n'
        for n, name in enumerate(NAMES)
    )
    Path("trial.toml").write_text(f'lamp = "kerbside-flood"\nbenches = ["steady", "unplug"]\n{variants}')

    def made_up(cases: list[Case], *args: object, **more: object) -> list[FinishedCase]:
        said = capsys.readouterr()
        heard.append(said.err)
        return [
            FinishedCase(case, CaseResult({"bus_mean_V": 300.0 + n}, {case.bench: DECK}, waves={}))
            for n, case in enumerate(cases)
        ]

    heard: list[str] = []
    monkeypatch.setattr("coldiron.cli.study.run_with_progress", made_up)

    def run(*words: str, study: str = "trial.toml") -> Ran:
        heard.clear()
        status = main(["study", study, "--no-pictures", *words])
        said = capsys.readouterr()
        return Ran(status, said.out, "".join(heard) + "|" + said.err)

    return run


def texts(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def test_every_deck_has_its_file_and_the_manifest_says_whose_it_is(run: Run) -> None:
    assert run().status == 0
    folder = Path("results/trial")
    told = json.loads((folder / "manifest.json").read_text("utf-8"))
    assert len(told["decks"]) == 2 * (len(NAMES) + 1) == len(list((folder / "decks").iterdir()))
    assert {entry[0] for entry in told["decks"].values()} == {"as found", *NAMES}
    for name, (variant, bench, _, _) in told["decks"].items():
        lines = (folder / name).read_text().splitlines()
        assert lines[2] == "* study   trial"
        assert bench in name
        if variant.isascii() and ";" not in variant and "=" not in variant and "@" not in variant:
            assert lines[3] == f"* variant {variant}"
        assert name in told["files"]


@given(st.lists(st.text(max_size=300), unique=True, max_size=8))
def test_no_two_names_share_a_file_on_any_file_system(names: list[str]) -> None:
    found = [stem.casefold() for stem in stems(names).values()]
    assert len(set(found)) == len(names)
    assert all(len(stem) <= 100 and stem.isascii() and "/" not in stem for stem in found)


@pytest.mark.parametrize(
    "part",
    [("--variant", "+10 %"), ("--bench", "steady"), ("--variant", "a", "--bench", "unplug")],
)
def test_a_part_of_a_study_leaves_the_whole_alone(run: Run, part: tuple[str, ...]) -> None:
    run()
    before = texts(Path("results/trial"))
    assert run(*part).status == 0
    after = texts(Path("results/trial"))
    assert {name: text for name, text in after.items() if not name.startswith("chosen")} == before
    [folder] = Path("results/trial/chosen").iterdir()
    told = json.loads((folder / "manifest.json").read_text("utf-8"))
    assert told["complete"]
    assert told["left_out"] != {"variants": [], "benches": []}


def test_two_parts_have_two_folders(run: Run) -> None:
    for name in NAMES:
        run("--variant", name)
    assert len(list(Path("results/trial/chosen").iterdir())) == len(NAMES)


class Broken(NamedTuple):
    """How a place to write is spoilt, the option that leads there, and a word of what is said."""

    spoil: Callable[[pytest.MonkeyPatch], object]
    words: tuple[str, ...]
    said: str


def fail(*words: object, **more: object) -> None:
    raise OSError(30, "Read-only file system")


def full(where: object) -> Any:
    class Usage(NamedTuple):
        free: int = 1000

    return Usage()


BROKEN = {
    "a file in the way": Broken(lambda patch: Path("x").touch(), ("--out", "x"), "cannot write x/trial: "),
    "a device": Broken(lambda patch: None, ("--out", "/dev/null/x"), "cannot write /dev/null/x/trial: "),
    "no folder can be made": Broken(lambda patch: None, ("--out", "/proc/x"), "cannot write /proc/x/trial: "),
    "a name too long": Broken(lambda patch: None, ("--out", "x" * 300), "File name too long"),
    "read-only": Broken(lambda patch: patch.setattr(Path, "write_bytes", fail), (), "Read-only file system"),
    "a full disk": Broken(
        lambda patch: patch.setattr("shutil.disk_usage", full), (), "No space left on device"
    ),
}


@pytest.mark.parametrize("how", BROKEN)
def test_where_nothing_can_be_written_that_is_said_before_the_first_case(
    run: Run, monkeypatch: pytest.MonkeyPatch, how: str
) -> None:
    broken = BROKEN[how]
    broken.spoil(monkeypatch)
    found = run("--bench", "steady", *broken.words) if how == "read-only" else run(*broken.words)
    before, _, after = found.complaints.partition("|")
    [line] = before.splitlines()
    assert broken.said in line
    assert line.endswith("the table is shown all the same, but no file is written")
    assert after == ""
    assert "No file was written." in " ".join(found.said.split())
    assert "22 µF" in found.said
    assert found.status == 2


def test_a_disk_that_fills_up_meanwhile_costs_the_files_and_leaves_those_before(
    run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    run()
    before = texts(Path("results"))
    calls = 0

    def fills_up(path: Path, content: bytes) -> None:
        nonlocal calls
        calls += 1
        if calls == 5:
            raise OSError(28, "No space left on device")
        path.write_bytes(content)

    monkeypatch.setattr(files, "_replace", fills_up)
    found = run()
    assert found.status == 2
    assert "No space left on device" in found.complaints
    assert ".part-" not in found.complaints
    assert "22 µF" in found.said
    assert texts(Path("results")) == before


def test_what_a_killed_run_left_beside_goes_with_the_next(run: Run) -> None:
    left = Path("results/trial/.part-999999999-x")
    (left / "decks").mkdir(parents=True)
    mine = Path("results/trial/.part-mine")
    mine.touch()
    run()
    assert not left.exists()
    assert mine.exists()


@pytest.mark.parametrize("out", ["x[/b]", "x[bold]", "[link=https://a.test]x", "x\x1b[2J", "-", "ü µ"])
def test_a_folder_may_have_any_name(run: Run, out: str) -> None:
    found = run(f"--out={out}")
    assert found.status == 0
    assert (Path(out) / "trial" / "readings.csv").is_file()
    assert "\x1b" not in found.said + found.complaints


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("reference", "another name than"), ("Reference", "another name than"),
        ("💡" * 80, "at most 240 bytes"), ("../x", "that a folder can have"),
        (".store", "that a folder can have"), ("a/b", "that a folder can have"),
    ],
)  # fmt: skip
def test_a_study_whose_folder_cannot_be_is_refused_in_a_line(run: Run, name: str, expected: str) -> None:
    Path("other.toml").write_text(f'name = "{name}"\nlamp = "pantry-bulb"\n')
    found = run(study="other.toml")
    [line] = found.complaints.removeprefix("|").splitlines()
    assert expected in line
    assert found.status == 2


def test_a_file_called_reference_is_refused_by_its_name(run: Run) -> None:
    Path("reference.toml").write_text('lamp = "pantry-bulb"\n')
    assert "another name than" in run(study="reference.toml").complaints


def test_no_cell_of_a_table_is_a_formula(run: Run) -> None:
    run()
    for path in Path("results/trial").glob("*.csv"):
        for row in csv.reader(io.StringIO(path.read_text("utf-8"))):
            for cell in row:
                assert not cell.startswith(("=", "@", "+")), f"{path.name}: {cell}"
                assert not cell.startswith("-") or float(cell), f"{path.name}: {cell}"
    assert '"x;=2+2"' in Path("results/trial/variants.csv").read_text("utf-8")
    names = pd.read_csv("results/trial/variants.csv")["variant"].str.removeprefix("'")
    assert tuple(names) == ("as found", *NAMES)


@given(st.text())
def test_a_text_comes_back_from_its_cell(text: str) -> None:
    assert plain_text(number_text(text)) == text
    assert number_text(text).lstrip()[:1] not in tuple("=+-@")


@given(st.lists(st.text(), min_size=1, max_size=4))
def test_a_table_reads_back_with_any_text(cells: list[str]) -> None:
    frame = pd.DataFrame({"a": cells, "b": cells})
    found = list(csv.reader(io.StringIO(csv_text(frame), newline="")))
    assert [[plain_text(cell) for cell in row] for row in found[1:]] == [[cell, cell] for cell in cells]


def test_a_move_that_fails_is_said(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with run_folder.RunFolder(tmp_path, pytest.fail) as own:
        (own.part / "readings.csv").write_text("x")
        monkeypatch.setattr(Path, "replace", fail)
        with pytest.raises(CannotWrite):
            own.finish({}, [own.part / "readings.csv"])
