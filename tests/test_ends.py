"""How commands end when a reader leaves, and when a file is nothing but wrong: soon, and in few lines."""

from __future__ import annotations

import difflib
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from coldiron.errors import FileProblems, Problem
from coldiron.lamp.load import load_lamp
from coldiron.lamp.understand import understand
from coldiron.resources import resource_dir
from coldiron.study.load import StudyFile, load_study

COMMAND = [sys.executable, "-c", "import sys; from coldiron.cli.main import main; sys.exit(main())"]
LAMP = (resource_dir("variants") / "lamps" / "pantry-bulb.toml").read_text(encoding="utf-8")
MEGABYTE = 999_000


@pytest.mark.parametrize("words", [("--help",), ("check", "kerbside-flood"), ("check", "--keys")], ids=str)
def test_a_reader_that_leaves_at_once_is_no_failure(words: tuple[str, ...]) -> None:
    # The pipe has no reader any more when the command begins, so nothing hangs on who is faster.
    reading, writing = os.pipe()
    os.close(reading)
    # Buffered, what is printed meets the broken pipe only at the end.
    env = {key: value for key, value in os.environ.items() if key != "PYTHONUNBUFFERED"}
    done = subprocess.run(
        [*COMMAND, *words], stdout=writing, stderr=subprocess.PIPE, text=True, check=False, env=env
    )
    os.close(writing)
    assert (done.returncode, done.stderr) == (0, "")


def test_at_most_fifty_lines_of_a_file_are_said() -> None:
    problems = [Problem("a.toml", f"key{n}", "", "nothing") for n in range(60)]
    problems += [Problem("b.toml", "key", "", "nothing")]
    lines = str(FileProblems(problems)).splitlines()
    assert len(lines) == 52
    assert lines[49].startswith("a.toml: key49")
    assert lines[50:] == ["a.toml: and 10 more", "b.toml: key: expected nothing"]
    assert len(FileProblems(problems).problems) == 61


_WRONG_GRID = "\n".join(f'"sinks.{key}" = {list(range(1, 142))}' for key in ("cuont", "sense_resistor"))
NONSENSE = {
    "keys": LAMP + "".join(f"[x{n}]\n" for n in range(80_000)),
    "keys of a part": LAMP.replace("[string]", "[string]\n" + "".join(f"k{n} = 1\n" for n in range(60_000))),
    "variants": 'lamp = "pantry-bulb"\n' + "[[variant]]\n" * 70_000,
    "named variants": 'lamp = "pantry-bulb"\n'
    + "".join(f'[[variant]]\nname = "v{n}"\nchange = {{ "sinks.cuont" = 1 }}\n' for n in range(14_000)),
    "changes": 'lamp = "pantry-bulb"\n[[variant]]\nname = "x"\n[variant.change]\n'
    + "".join(f"s{n} = 1\n" for n in range(70_000)),
    "variants of a grid": f'lamp = "pantry-bulb"\n[grid]\n{_WRONG_GRID}\n',
    "letters": "x" * MEGABYTE,
    "quotes": '"' * MEGABYTE,
    "brackets": "[" * MEGABYTE,
    "zeros": "\0" * MEGABYTE,
    "lines": "\n" * (MEGABYTE - 1) + "x",
    "a long name": f'name = "{"x" * MEGABYTE}"\n',
}


@pytest.mark.parametrize("what", NONSENSE)
def test_a_megabyte_of_nonsense_is_refused_in_few_lines_and_few_guesses(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, what: str
) -> None:
    """What takes the time is the search for the nearest right word, so it is counted: no clock decides."""
    guesses = 0
    near = difflib.get_close_matches

    def counted(*words: Any, **more: Any) -> Any:
        nonlocal guesses
        guesses += 1
        return near(*words, **more)

    monkeypatch.setattr("coldiron.wording.get_close_matches", counted)
    path = tmp_path / "nonsense.toml"
    path.write_text(NONSENSE[what][:1_000_000], encoding="utf-8")
    load: Callable[[Path], object] = load_study if "variant" in what or what == "changes" else load_lamp
    with pytest.raises(FileProblems) as refusal:
        load(path)
    said = str(refusal.value)
    assert len(said.splitlines()) <= 51
    assert len(said) < 60_000
    assert guesses <= 2 * FileProblems.MOST_SAID


def test_every_mistake_is_counted_however_many_there_are(tmp_path: Path) -> None:
    path = tmp_path / "nonsense.toml"
    path.write_text(NONSENSE["named variants"], encoding="utf-8")
    with pytest.raises(FileProblems, match=r"nonsense.toml: and 13950 more$"):
        load_study(path)


def test_a_study_is_read_once_more_only_where_its_changes_are_right(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A second reading finds what is wrong with the changes of a file whose other tables are wrong."""
    readings = 0

    def counted(model: Any, *words: Any) -> Any:
        nonlocal readings
        readings += model is StudyFile
        return understand(model, *words)

    monkeypatch.setattr("coldiron.study.load.understand", counted)
    lamp, wrong_change = 'lamp = "pantry-bulb"', '[[variant]]\nchange = { "sinks.cuont" = 1 }\n'
    for text, wanted, keys in (
        (f"{lamp}\n[[variant]]\n", 1, ["variant[1].change"]),
        (f"{lamp}\nnoet = 'x'\n{wrong_change}", 2, ["noet", "variant[1].sinks.cuont"]),
    ):
        readings = 0
        path = tmp_path / "study.toml"
        path.write_text(text, encoding="utf-8")
        with pytest.raises(FileProblems) as refusal:
            load_study(path)
        assert ([one.key for one in refusal.value.problems], readings) == (keys, wanted)
