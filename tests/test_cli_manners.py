"""What a person expects of any command: its version, help with an example, completion, what lies where."""

from __future__ import annotations

import argparse
import shlex
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from coldiron.benches.base import Case
from coldiron.cli import running
from coldiron.cli.arguments import EXAMPLES, alone_help, commands_of, parser
from coldiron.cli.main import main
from coldiron.engine.store import FILE_NAME, Store
from coldiron.lamp.toml_file import shipped_names
from coldiron.study.load import load_study, make_study
from coldiron.sweep.cases import study_cases
from coldiron.sweep.run import run_cases

COMMANDS = commands_of(parser())


def test_the_package_runs_as_the_command_does(tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "coldiron", "--version"],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=True,
    )
    assert done.stdout.startswith("coldiron ")
    assert f"Python {sys.version_info.major}.{sys.version_info.minor}" in done.stdout
    assert len(done.stdout.splitlines()) == 1


def test_every_command_has_an_example_that_it_takes() -> None:
    assert EXAMPLES.keys() == COMMANDS.keys()
    for name, example in EXAMPLES.items():
        inner = example.removeprefix('eval "$(').removesuffix(')"')
        words = shlex.split(inner.split(" > ")[0])
        assert words[0] == "coldiron"
        assert parser().parse_args(words[1:]).command == name


NEEDS_A_WORD = [name for name in COMMANDS if name == "check" or alone_help(parser(), [name])]


@pytest.mark.parametrize("name", NEEDS_A_WORD)
def test_a_command_alone_shows_its_help_with_an_example(
    name: str, capsys: pytest.CaptureFixture[str]
) -> None:
    # Nothing was done: a script whose word is empty must not pass.
    assert main([name]) == 2
    said = capsys.readouterr()
    assert said.out.startswith(f"usage: coldiron {name}")
    assert EXAMPLES[name] in said.out
    assert said.err == ""


def test_no_command_at_all_shows_them_all(capsys: pytest.CaptureFixture[str]) -> None:
    assert main([]) == 2
    said = capsys.readouterr().out
    assert all(f"    {name}" in said for name in COMMANDS)
    assert "Mains can kill" in said


def test_study_alone_lists_what_is_shipped(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["study"]) == 0
    said = capsys.readouterr().out
    assert load_study("kerbside-rework").note in said
    assert "stairwell-dome" in said
    assert "invented" in said


def completed(*words: str, folder: Path) -> list[str]:
    """What bash offers for the last of these words."""
    line = " ".join(words)
    lines = [
        "source completion.sh",
        f"COMP_WORDS=({line}) COMP_CWORD={len(words) - 1}",
        "_coldiron",
        'echo "${COMPREPLY[@]}"',
    ]
    run = subprocess.run(
        ["bash", "-c", "\n".join(lines)], cwd=folder, capture_output=True, text=True, check=True
    )
    assert run.stderr == ""
    return run.stdout.split()


def test_bash_completes_commands_options_names_and_files(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["completion", "bash"]) == 0
    (tmp_path / "completion.sh").write_text(capsys.readouterr().out, encoding="utf-8")
    (tmp_path / "kerb.toml").touch()
    assert completed("coldiron", "re", folder=tmp_path) == ["regress"]
    assert completed("coldiron", "regress", "--st", folder=tmp_path) == [
        "--store",
        "--store-limit",
        "--strict",
    ]
    shipped = [*shipped_names("studies"), *shipped_names("lamps"), "kerb.toml"]
    own = [name for name in shipped if name.startswith("kerb")]
    assert len(own) > 3
    assert completed("coldiron", "study", "kerb", folder=tmp_path) == own
    assert completed("coldiron", "fit", "corr", folder=tmp_path) == ["corridor-panel"]
    assert completed("coldiron", "lesson", "a-s", folder=tmp_path) == ["a-surge-arrives"]


@pytest.mark.parametrize("shell", ["zsh", "fish"])
def test_other_shells_get_every_command_and_option(shell: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["completion", shell]) == 0
    said = capsys.readouterr().out
    for name, command in COMMANDS.items():
        assert name in said
        for action in command._actions:
            for option in action.option_strings:
                assert option.startswith("--") is False or option.removeprefix("--") in said


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A folder of results with a store of three entries, one study and a reference."""
    store = Store(tmp_path / "results" / ".store", pytest.fail)
    store.put({f"key {n}": b"x" * 100 for n in range(3)})
    store.close()
    (tmp_path / "results" / "hallway").mkdir()
    (tmp_path / "results" / "hallway" / "readings.csv").write_bytes(b"x" * 2_500_000)
    (tmp_path / "results" / "reference").mkdir()
    (tmp_path / "results" / "reference" / "hallway.toml").write_text("format = 2\n")
    return tmp_path / "results"


def test_store_says_where_and_how_large(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    before = sorted(folder.rglob("*"))
    assert main(["store", "--out", str(folder)]) == 0
    said = capsys.readouterr().out
    assert f"{folder / '.store'}, " in said
    assert "3 entries" in said
    assert "2.5 MB" in said
    assert "keep it" in next(line for line in said.splitlines() if line.startswith("  reference"))
    # Who asks changes nothing.
    assert sorted(folder.rglob("*")) == before


def test_clearing_takes_the_finished_cases_and_nothing_else(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    other = folder / ".store" / "notes.txt"
    other.touch()
    (folder / ".store" / f"{FILE_NAME}.damaged-1").write_bytes(b"x" * 10)
    assert main(["store", "--out", str(folder), "--clear"]) == 0
    assert "freed" in capsys.readouterr().out
    assert list((folder / ".store").iterdir()) == [other]
    assert (folder / "hallway" / "readings.csv").exists()
    assert (folder / "reference" / "hallway.toml").exists()
    assert main(["store", "--out", str(folder)]) == 0
    assert "nothing yet" in capsys.readouterr().out


def test_a_store_that_is_none_is_said_to_be_unreadable(
    folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (folder / ".store" / FILE_NAME).write_bytes(b"no database " * 100)
    assert main(["store", "--out", str(folder)]) == 0
    assert "not to be read" in capsys.readouterr().out


@pytest.mark.parametrize(
    "words",
    [["deck", "kerbside-rework"], ["fit", "corridor-panel"]],
)
def test_without_an_engine_one_line_says_what_to_install(words: list[str], tmp_path: Path) -> None:
    done = subprocess.run(
        [sys.executable, "-m", "coldiron", *words],
        cwd=tmp_path,
        env={"NGSPICE_LIBRARY_PATH": "/nonexistent.so", "PATH": "/usr/bin:/bin"},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 2
    [line] = done.stderr.strip().splitlines()
    assert line.startswith("no ngspice library: /nonexistent.so")
    assert "apt-get install libngspice0" in line


def test_time_left_counts_only_what_is_computed(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Three of four cases were known: the bar is of one."""
    told: list[dict[str, Any]] = []
    monkeypatch.setattr("rich.progress.Progress.update", lambda self, task, **words: told.append(words))
    monkeypatch.setattr("rich.progress.Progress.advance", lambda self, task: told.append({"advanced": 1}))

    def recall_three(cases: list[Case], pool: object, **hooks: Any) -> list[Case]:
        for case in cases[:3]:
            hooks["finished"](case)
        hooks["recalled"](3)
        hooks["finished"](cases[3])
        return cases

    monkeypatch.setattr(running, "run_cases", recall_three)
    cases = list(
        study_cases(make_study("kerbside-flood", benches=["switch-on", "steady", "surge", "unplug"]))
    )
    words = {"out": tmp_path, "store": None, "store_limit": 1.0, "fresh": False, "deadline": 60.0}
    args = argparse.Namespace(cluster=None, workers=1, **words)
    assert len(running.run_with_progress(cases, args)) == 4
    [update] = [words for words in told if "total" in words]
    assert (update["total"], update["completed"]) == (1, 0)
    assert "3 more were known" in update["description"]


def test_what_is_recalled_is_told_before_anything_is_computed() -> None:
    class Knows:
        """A cache that has every case but the last."""

        def recall(self, case: Case, *, with_waves: bool) -> Any:
            return None if case is cases[-1] else object()

        def keep(self, found: object) -> None:
            """Nothing to keep."""

    class Pool:
        """Workers that say when they are asked."""

        def run_all(self, *_: object) -> list[object]:
            told.append("computing")
            raise KeyboardInterrupt

    told: list[object] = []
    cases = list(study_cases(make_study("kerbside-flood", benches=["steady", "unplug"])))
    with pytest.raises(KeyboardInterrupt):
        run_cases(cases, Pool(), cache=Knows(), recalled=told.append)  # type: ignore[arg-type]
    assert told == [1, "computing"]
