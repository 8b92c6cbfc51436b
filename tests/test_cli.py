"""The command line as a person meets it: exit statuses, one clear line, nothing half written."""

from __future__ import annotations

import csv
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from coldiron.cli.main import main
from hanging import HANG_S

pytestmark = pytest.mark.ngspice


def coldiron(*words: str, cwd: Path, **environment: str) -> subprocess.CompletedProcess[str]:
    """Run the command in a folder of its own."""
    return subprocess.run(
        [sys.executable, "-c", "import sys; from coldiron.cli.main import main; sys.exit(main())", *words],
        cwd=cwd,
        env={**os.environ, **environment},
        capture_output=True,
        text=True,
        timeout=HANG_S,
        check=False,
    )


def test_a_study_leaves_its_table_and_its_files(tmp_path: Path) -> None:
    done = coldiron(
        "study", "kerbside-rework", "--variant", "22 µF", "--bench", "steady", "--no-pictures", cwd=tmp_path
    )
    assert done.returncode == 0, done.stderr
    assert "22 µF" in done.stdout
    assert "Mains can kill" in done.stdout
    folder = tmp_path / "results" / "kerbside-rework" / "chosen" / "variants_22-uF_benches_steady"
    with (folder / "readings.csv").open(newline="") as file:
        rows = list(csv.DictReader(file))
    assert list(rows[0]) == ["variant", "bench", "conditions", "reading", "value", "text", "unit"]
    power = [row for row in rows if row["reading"] == "input_power_W"]
    assert [row["variant"] for row in power] == ["as found", "22 µF"]
    assert {row["unit"] for row in power} == {"W"}
    assert 40 < float(power[0]["value"]) < 50
    with (folder / "variants.csv").open(newline="") as file:
        assert [row["variant"] for row in csv.DictReader(file)] == ["as found", "22 µF"]
    assert json.loads((folder / "manifest.json").read_text())["failed"] == 0
    assert sorted(path.suffix for path in (folder / "decks").iterdir()) == [".cir", ".cir"]
    said = (folder / "answer.txt").read_text()
    assert done.stdout.splitlines()[0] in said.replace("\n", " ")
    assert (
        (folder / "rank.csv").read_text().startswith("variant,number,recommended,parts,shock,law,advice,own,")
    )
    use = (folder / "use.csv").read_text().splitlines()
    assert use[0].startswith('variant,"parts: ')
    assert [line.split(",")[0] for line in use[1:]] == ["as found", "22 µF"]


def test_a_reader_that_leaves_loses_no_file_and_columns_is_honoured(tmp_path: Path) -> None:
    main = "import sys; from coldiron.cli.main import main; sys.exit(main())"
    words = "study pantry-sinks --bench steady --variant 'one sink' --no-pictures"
    done = subprocess.run(
        ["bash", "-c", f"{sys.executable} -c '{main}' {words} | head -1; echo ${{PIPESTATUS[0]}}"],
        cwd=tmp_path,
        env={**os.environ, "COLUMNS": "72"},
        capture_output=True,
        text=True,
        timeout=HANG_S,
        check=False,
    )
    assert done.stdout.splitlines()[-1] == "0"
    assert done.stderr.strip() == ""
    folder = tmp_path / "results" / "pantry-sinks" / "chosen" / "variants_one-sink_benches_steady"
    assert {"answer.txt", "rank.csv", "use.csv", "variants.csv"} <= {path.name for path in folder.iterdir()}
    narrow = coldiron(*words.replace("'", "").split()[:4], "--no-pictures", cwd=tmp_path, COLUMNS="72")
    assert max(map(len, narrow.stdout.splitlines())) <= 72


@pytest.fixture(scope="module")
def one_store(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder whose store recalls what one test of this module has computed for the next."""
    return tmp_path_factory.mktemp("one store")


@pytest.mark.parametrize(
    ("option", "said"),
    [
        (("--about", "one sink"), "one sink: "),
        (("--changes",), "compared with as found"),
        (("--limits",), "limits broken, or nearly so"),
        ((), "More: --about NAME, --changes, --limits."),
    ],
)
def test_what_a_person_asks_for_is_behind_an_option(
    one_store: Path, option: tuple[str, ...], said: str
) -> None:
    words = ("study", "pantry-sinks", "--bench", "steady", "--variant", "one sink", "--no-pictures")
    done = coldiron(*words, *option, cwd=one_store)
    assert done.returncode == 0, done.stderr
    assert said in " ".join(done.stdout.split())
    if not option:
        assert "limits broken" not in done.stdout
        assert "no limit applies" not in done.stdout


def test_the_same_study_writes_the_same_bytes(tmp_path: Path) -> None:
    words = ("study", "pantry-sinks", "--bench", "unplug", "--no-pictures", "--fresh")
    texts = []
    for workers in ("1", "2"):
        done = coldiron(*words, "--workers", workers, "--out", workers, cwd=tmp_path)
        assert done.returncode == 0, done.stderr
        texts.append(
            (tmp_path / workers / "pantry-sinks" / "chosen" / "benches_unplug" / "readings.csv").read_bytes()
        )
    assert texts[0] == texts[1]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("study", "kerbside-rewrok"), "did you mean kerbside-rework?"),
        (("study", "kerbside-rework", "--variant", "22 uF"), "did you mean 22 µF?"),
        (("study", "kerbside-rework", "--bench", "stedy"), "did you mean steady?"),
        (("check", "missing.toml"), "missing.toml"),
    ],
)
def test_a_slip_gets_one_line_and_status_2(tmp_path: Path, words: tuple[str, ...], said: str) -> None:
    done = coldiron(*words, cwd=tmp_path)
    assert done.returncode == 2
    assert said in done.stderr
    assert len(done.stderr.strip().splitlines()) == 1
    assert list(tmp_path.iterdir()) == []


def test_a_wrong_lamp_file_runs_nothing_and_writes_nothing(tmp_path: Path) -> None:
    (tmp_path / "lamp.toml").write_text("name = 'x'\n[mains]\nvoltage = '230 Hz'\n")
    (tmp_path / "study.toml").write_text("lamp = 'lamp.toml'\nbenches = ['steady']\n")
    done = coldiron("study", "study.toml", cwd=tmp_path)
    assert done.returncode == 2
    assert "lamp.toml: mains.voltage" in done.stderr
    assert "Traceback" not in done.stderr
    assert sorted(path.name for path in tmp_path.iterdir()) == ["lamp.toml", "study.toml"]


def test_a_folder_that_cannot_be_written_gets_one_line(tmp_path: Path) -> None:
    (tmp_path / "results").write_text("a file where a folder should be")
    done = coldiron("study", "pantry-sinks", "--bench", "unplug", "--no-pictures", cwd=tmp_path)
    assert done.returncode == 2
    assert "Traceback" not in done.stderr
    assert (tmp_path / "results").read_text() == "a file where a folder should be"


def test_a_terminal_without_greek_letters_is_no_accident(tmp_path: Path) -> None:
    done = coldiron("check", "kerbside-flood", cwd=tmp_path, PYTHONIOENCODING="ascii", LC_ALL="C")
    assert done.returncode == 0, done.stderr
    assert "Kerbside flood" in done.stdout


def test_deck_prints_a_deck_that_the_engine_takes(tmp_path: Path) -> None:
    done = coldiron(
        "deck", "kerbside-rework", "--variant", "22 µF and 10 Ω", "--bench", "surge", cwd=tmp_path
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.startswith("* coldiron surge ")
    assert "* variant 22 uF and 10 Ohm" in done.stdout
    (tmp_path / "deck.cir").write_text(done.stdout)
    run = subprocess.run(
        ["ngspice", "-n", "-b", "-r", "deck.raw", "deck.cir"], cwd=tmp_path, capture_output=True, check=False
    )
    assert run.returncode == 0
    assert (tmp_path / "deck.raw").stat().st_size > 1000


@pytest.mark.parametrize(
    ("moment", "said"),
    [
        ("coldiron.cli.main.importlib.import_module", "interrupted\n"),
        ("coldiron.cli.study.write_results", "the same command shows and writes them\n"),
    ],
)
def test_an_interrupt_at_any_moment_is_one_line(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], moment: str, said: str
) -> None:
    def interrupt(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("coldiron.cli.study.run_with_progress", lambda *_, **__: [])
    monkeypatch.setattr(moment, interrupt)
    assert main(["study", "kerbside-rework", "--no-pictures"]) == 130
    assert capsys.readouterr().err.endswith(said)


def test_a_case_without_an_answer_leaves_its_deck(tmp_path: Path) -> None:
    (tmp_path / "study.toml").write_text(
        "lamp = 'kerbside-flood'\nbenches = ['steady']\n[[variant]]\nname = 'absurd'\n"
        # Ten thousand microfarads behind the leakage of an open resistor charge for a day.
        "change = { line_fusing = 'open', reservoir = { capacitance = '10 mF', voltage = '400 V' } }\n"
    )
    done = coldiron("study", "study.toml", "--no-pictures", cwd=tmp_path)
    assert done.returncode == 3
    said = " ".join((done.stdout + done.stderr).split())
    assert "absurd | steady" in said
    assert "check reservoir.capacitance" in said
    decks = [path.name for path in (tmp_path / "results" / "study" / "decks").iterdir()]
    assert any(name.startswith("absurd_steady") and "failed" in name for name in decks)
    printed = coldiron("deck", "study.toml", "--variant", "absurd", "--bench", "steady", cwd=tmp_path)
    assert printed.returncode == 3
    assert printed.stdout.startswith("* coldiron steady ")


def test_any_bench_can_be_printed_and_one_that_does_not_apply_says_why(tmp_path: Path) -> None:
    burst = coldiron("deck", "kerbside-rework", "--bench", "burst", cwd=tmp_path)
    assert burst.returncode == 0, burst.stderr
    assert "* bench   burst" in burst.stdout
    dark = coldiron("deck", "kerbside-rework", "--bench", "off-glow", cwd=tmp_path)
    assert dark.returncode == 2
    assert "leakage" in dark.stderr
    assert len(dark.stderr.strip().splitlines()) == 1
