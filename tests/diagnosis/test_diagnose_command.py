"""`coldiron diagnose` as a person meets it."""

from __future__ import annotations

from pathlib import Path

import pytest

from coldiron.cli.main import main
from coldiron.diagnosis.words import share_text

pytestmark = pytest.mark.ngspice
WIDTH = 100


@pytest.fixture
def ask(tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch):  # type: ignore[no-untyped-def]
    """Run the command on the bulb; return its status, its lines and what went to standard error."""
    monkeypatch.setenv("COLUMNS", str(WIDTH))
    monkeypatch.chdir(tmp_path)
    store = tmp_path.parent / "diagnose-store"

    def run(*words: str) -> tuple[int, list[str], str]:
        status = main(["diagnose", "pantry-bulb", *words, "--store", str(store)])
        out = capsys.readouterr()
        return status, out.out.splitlines(), out.err

    return run


def test_a_sink_that_is_off(ask) -> None:  # type: ignore[no-untyped-def]
    status, lines, _ = ask(
        "--watts", "4.8 W", "--amperes", "44 mA", "--volts", "bus=127 V", "--symptom", "dim"
    )
    text = " ".join(" ".join(lines).split())
    assert status == 0
    assert max(map(len, lines)) <= WIDTH
    assert "Most likely: sinks one off or sinks one sense open." in text
    assert "Next: resistance of sinks sense, the one that is off: about" in text
    assert "nothing wrong" in text
    assert "certain" not in text.replace("never certain", "")
    assert "Mains can kill." in text


def test_a_good_bulb_is_not_accused(ask) -> None:  # type: ignore[no-untyped-def]
    _, lines, _ = ask("--watts", "8.8 W", "--amperes", "83 mA")
    assert "No fault shown" in " ".join(lines)


def test_dark_after_a_bang(ask) -> None:  # type: ignore[no-untyped-def]
    _, lines, _ = ask("--watts", "0 W", "--symptom", "dark", "--symptom", "bang")
    text = " ".join(" ".join(lines).split())
    assert "Do not plug it in" in text
    assert "Dark does not mean dead" in text
    assert "Next: resistance" in text or "Next: diode test" in text
    assert "work on live parts" not in text


def test_an_odd_reading_is_named(ask) -> None:  # type: ignore[no-untyped-def]
    _, lines, _ = ask(
        "--watts", "4.8 W", "--amperes", "44 mA", "--volts", "bus=160 V", "--volts", "drain=11.5 V"
    )
    assert "Not explained: voltage bus to minus 160 V" in " ".join(" ".join(lines).split())


def test_bad_input_is_one_line_and_status_2(ask) -> None:  # type: ignore[no-untyped-def]
    status, lines, err = ask("--symptom", "dark", "--symptom", "bright")
    assert (status, lines) == (2, [])
    assert err.count("\n") == 1
    assert "a dark lamp gives no light at all" in err


def test_nothing_is_ever_certain() -> None:
    assert share_text(1.0) == "over 99 %"
