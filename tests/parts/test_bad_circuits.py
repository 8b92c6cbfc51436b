"""Lamp files whose circuit is wrong: one line each, exit status 2, nothing written."""

from __future__ import annotations

from pathlib import Path

import pytest

from coldiron.cli.main import main

ACROSS = 'kind = "resistor"\nresistance = "100k"\nacross = '
CASES = {
    "across one point": ('[part.R9]\n' + ACROSS + '["bus", "bus"]', "two different points"),
    "floating": ('[part.R9]\n' + ACROSS + '["earth", "housing"]', "way to the mains"),
    "split": ('[part.R9]\nkind = "resistor"\nresistance = "10 Ω"\nafter = "sinks"', "behind it"),
    "name of a short key": ('[part.BLEED]\n' + ACROSS + '["bus", "minus"]', "two parts of one name"),
    "two names but for capitals": (
        '[part.r9]\n' + ACROSS + '["bus", "minus"]\n[part.R9]\n' + ACROSS + '["bus", "minus"]',
        "two parts of one name",
    ),
    "unknown kind": ('[part.R9]\nkind = "resistr"\nresistance = "1k"\nacross = "film"', "resistor"),
    "unknown part": (
        '[part.R9]\nkind = "resistor"\nresistance = "10 Ω"\nafter = "line_fusin"', "mean line_fusing",
    ),
    "unknown point": ('[part.R9]\n' + ACROSS + '["buss", "minus"]', "bus"),
    "a circle": (
        '[part.A1]\nkind = "resistor"\nresistance = "10 Ω"\nafter = "B1"\n'
        '[part.B1]\nkind = "resistor"\nresistance = "10 Ω"\nafter = "A1"',
        "circle",
    ),
    "a sink off minus": (
        '[part.S9]\nkind = "linear sink"\ncount = 1\nsense_resistor = "10 Ω"\nacross = ["line", "neutral"]',
        "second end on minus",
    ),
    "a supply's word": ('[part.mains]\n' + ACROSS + '["bus", "minus"]', "no word of the supply"),
}  # fmt: skip


def flood_with(tables: str, folder: Path) -> Path:
    """The flood's file with further tables."""
    shipped = Path(__file__).resolve().parents[2] / "variants" / "lamps" / "kerbside-flood.toml"
    path = folder / "lamp.toml"
    path.write_text(shipped.read_text(encoding="utf-8") + "\n" + tables + "\n", encoding="utf-8")
    return path


@pytest.mark.parametrize("words", CASES)
def test_a_wrong_circuit_is_told_in_one_line(
    words: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    tables, said = CASES[words]
    flood_with(tables, tmp_path)
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("sys.argv", ["coldiron", "check", "lamp.toml"])
    before = sorted(tmp_path.rglob("*"))
    assert main() == 2
    out, err = capsys.readouterr()
    lines = [line for line in err.splitlines() if "lamp.toml" in line]
    assert len(lines) == 1, err
    assert said in lines[0]
    assert "Traceback" not in out + err
    assert sorted(tmp_path.rglob("*")) == before
    if words.startswith("unknown p"):
        assert "│ bridge │" in err  # and the lamp is drawn


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ('{ "varistor" = "short", "line_fusing" = "short", "neutral_fusing" = "short" }', "joined by shorts"),
        (
            '{ "part.R9" = { kind = "resistor", resistance = "1k", across = ["bus", "bus"] } }',
            "two different",
        ),
        ('{ "part.R9" = { kind = "resistor", resistance = "1k", after = "filmm" } }', "film"),
    ],
)
def test_a_change_that_makes_no_circuit_is_told_in_one_line(
    change: str,
    said: str,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    study = f'lamp = "kerbside-flood"\nbenches = ["steady"]\n[[variant]]\nname = "wrong"\nchange = {change}\n'
    (tmp_path / "wrong.toml").write_text(study, encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("sys.argv", ["coldiron", "study", "wrong.toml"])
    assert main() == 2
    err = capsys.readouterr().err
    lines = [line for line in err.splitlines() if "wrong.toml" in line]
    assert len(lines) == 1, err
    assert said in lines[0]
    assert [path.name for path in tmp_path.iterdir()] == ["wrong.toml"]
