"""`coldiron advise` as a person meets it, from the words to the files; the same in the API."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest

import coldiron
from coldiron.cli.main import main

STUDY = """
lamp = "kerbside-flood"
benches = ["steady"]
[advise]
set_aside = ["iec-61000-3-2.*", "ieee-1789.no-effect"]
[advise.reservoir]
least = "68 µF"
most = "68 µF"
voltage = ["400 V"]
life = ["5000 h"]
[advise.line_fusing]
least = "15 Ω"
most = "18 Ω"
power = ["3 W"]
[advise.sense_resistor]
least = "18 Ω"
most = "22 Ω"
series = "E12"
"""


@pytest.fixture
def study(tmp_path: Path) -> Path:
    path = tmp_path / "few.toml"
    path.write_text(STUDY, encoding="utf-8")
    return path


def advise(study: Path, *words: str) -> int:
    """Exit status of the command, its results beside the study."""
    return main(["advise", str(study), "--out", str(study.parent / "results"), "--no-pictures", *words])


@pytest.mark.ngspice
def test_what_to_buy_is_said_written_and_recalled(study: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert advise(study, "--workers", "1", "--stages") == 0
    said = capsys.readouterr().out
    assert "keep every limit" in said.splitlines()[0]
    assert "limited by" in said
    assert "Mains can kill" in said
    folder = study.parent / "results" / "few" / "advice"
    best = pd.read_csv(folder / "set.csv")
    everyone = pd.read_csv(folder / "candidates.csv")
    assert len(everyone) == 2 * 3 * 3
    assert set(best["number"]) <= set(everyone.loc[everyone["fate"] == "keeps every limit", "number"])
    first = {path.name: path.read_bytes() for path in folder.glob("*.csv")}
    # Anew, with two workers and nothing recalled: the same bytes.
    assert advise(study, "--workers", "2", "--fresh", "--stages") == 0
    assert capsys.readouterr().out == said
    assert {path.name: path.read_bytes() for path in folder.glob("*.csv")} == first
    # And from the store, through the API.
    result = coldiron.run_advice(str(study), workers=1, store=study.parent / "results" / ".store")
    assert list(result.set.index) == list(best["number"])
    assert str(result).splitlines()[0] == " ".join(said.split("\n\n")[0].split()).replace("  ", " ")
    assert result.limits["candidates"].iloc[0] >= result.limits["alone"].iloc[0]
    assert result.plot("advice-effects").svg.startswith("<svg")
    assert set(result.shortlist.wide.index) >= {"as found"}


@pytest.mark.ngspice
def test_where_nothing_keeps_every_limit_the_nearest_are_told(
    study: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    study.write_text(
        STUDY.replace('"ieee-1789.no-effect"', '"eu-2019-2020.*"')
        .replace("22 Ω", "18 Ω")
        .replace('"18 Ω"\nseries', '"10 Ω"\nseries')
        .replace('least = "18 Ω"', 'least = "9 Ω"'),
        encoding="utf-8",
    )
    assert advise(study, "--workers", "1") == 0
    said = capsys.readouterr().out
    assert said.startswith("None of ")
    assert "misses" in said
    assert "×" in said


@pytest.mark.ngspice
def test_those_that_are_shown_are_drawn_as_lamps_of_their_tolerances(
    study: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    one = STUDY.replace('least = "18 Ω"', 'least = "22 Ω"').replace('least = "15 Ω"', 'least = "18 Ω"')
    study.write_text(one, encoding="utf-8")
    assert advise(study, "--workers", "1", "--spread", "20") == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "Of 20 lamps of its tolerances the limit broken most is kept by: №" in said


@pytest.mark.parametrize(
    ("written", "expected"),
    [
        ("free_height = 'tall'", "free_height"),
        ("aims = ['cost', 'flicker']", "flicker_pct"),
        ("aims = ['cost', 'svm', 'flicker_pct', 'light_pct']", "at most 3"),
        ("[advise.capacitor]", "unknown key"),
        ("[advise.reservoir]\nleast = '10 Ω'", "capacitance"),
        ("free_height = '3 mm'\n[advise.reservoir]", "nothing to choose"),
    ],
)
def test_what_is_wrong_is_one_line(
    tmp_path: Path, written: str, expected: str, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "wrong.toml"
    path.write_text(f'lamp = "kerbside-flood"\n[advise]\n{written}\n', encoding="utf-8")
    assert advise(path) == 2
    said = capsys.readouterr().err.strip()
    assert expected in said
    assert len(said.splitlines()) == 1
