"""`coldiron faults` and the key `faults` of a study, as a person meets them."""

from __future__ import annotations

from pathlib import Path

import pytest

from coldiron.cli.main import main
from coldiron.errors import FileProblems
from coldiron.study.load import load_study

STUDY = """
lamp = "pantry-bulb"
benches = ["steady"]
faults = ["film short", "line_fusing open"]
[[variant]]
name = "22 Ω"
change = { "line_fusing.resistance" = "22 Ω" }
"""


def test_faults_of_a_lamp_leave_table_decks_and_pictures(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "100")
    words = [
        "faults",
        "pantry-bulb",
        "--fault",
        "film short",
        "--fault",
        "string open",
        "--out",
        str(tmp_path),
    ]
    assert main(words) == 0
    said = capsys.readouterr().out
    assert "opens, then dark but live" in said
    assert "Computed, not measured" in said.replace("\n  ", " ")
    assert "Mains can kill." in said
    folder = tmp_path / "pantry-bulb" / "faults"
    assert {path.name for path in (folder / "pictures").iterdir()} >= {
        "fault-moment-1.svg",
        "fault-live-1.svg",
    }
    assert " LIVE" in (folder / "pictures" / "fault-live-1.svg").read_text(encoding="utf-8")
    assert any("moment" in path.name for path in (folder / "decks").iterdir())
    before = (folder / "faults.csv").read_bytes()
    assert main(words) == 0
    assert (folder / "faults.csv").read_bytes() == before


def test_a_study_with_faults_tells_them_on_the_terminal_and_in_the_report(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "mine.toml"
    file.write_text(STUDY, encoding="utf-8")
    assert main(["study", str(file), "--out", str(tmp_path / "out")]) == 0
    said = capsys.readouterr().out.replace("\n  ", " ")
    assert "2 faults: 1 opens; 1 dark but live." in said
    assert "with 22 Ω: film short opens line fusing" in said
    page = (tmp_path / "out" / "mine" / "report.html").read_text(encoding="utf-8")
    assert 'id="faults"' in page
    assert "If a part breaks" in page
    assert "picture-fault-live-1" in page
    assert "IEC 62368-1" in page
    assert (tmp_path / "out" / "mine" / "faults.csv").exists()


@pytest.mark.parametrize(
    ("written", "expected"),
    [
        ('faults = ["varistor short"]', "faults is 'varistor short'"),
        ('faults = ["film burst"]', "a fault that film can have"),
        ('faults = "every part"', "every single part"),
        ('faults = ["film short", "film short"]', "each entry once"),
        ("faults = 3", "faults"),
    ],
)
def test_a_fault_that_no_lamp_of_a_study_can_have_is_one_line(
    written: str, expected: str, tmp_path: Path
) -> None:
    file = tmp_path / "mine.toml"
    file.write_text(f'lamp = "pantry-bulb"\n{written}\n', encoding="utf-8")
    with pytest.raises(FileProblems) as refused:
        load_study(file)
    assert len(str(refused.value).splitlines()) == 1
    assert expected.replace("'", '"') in str(refused.value).replace("'", '"')


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        (["faults", "pantry-bulb", "--fault", "varistor short"], "a part of this lamp and how it breaks"),
        (["faults", "pantry-bulb", "--fault", "film shrt"], "did you mean film short?"),
        (["faults", "pantry-bulb", "--mains", "12 bananas"], "conditions.mains"),
        (["faults", "no-such-lamp"], "no-such-lamp"),
    ],
)
def test_a_wrong_word_is_one_line_and_status_2(
    words: list[str], expected: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main([*words, "--out", str(tmp_path)]) == 2
    said = capsys.readouterr().err.strip()
    assert expected in said
    assert len(said.splitlines()) == 1
