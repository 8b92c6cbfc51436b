"""What a person enters: flags and files to findings, and one line for each thing that is wrong."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import pytest

from coldiron.diagnosis.findings import entries_of, findings, mains_of, read_file
from coldiron.diagnosis.look import CONTRADICTIONS, SYMPTOMS
from coldiron.diagnosis.measurable import measurables
from coldiron.diagnosis.rank import Findings
from coldiron.errors import FileProblems
from coldiron.lamp.load import load_lamp

FLOOD = load_lamp("kerbside-flood")


def entered(symptoms: Sequence[str] = (), discoloured: str = "", **flags: str | list[str]) -> Findings:
    named = {flag.replace("_", "-"): value for flag, value in flags.items()}
    return findings(FLOOD, entries_of(named), symptoms, discoloured)


def said(findings_of: object) -> dict[str, float]:
    assert isinstance(findings_of, Findings)
    every = measurables(FLOOD)
    return {every[one.place].name: one.value for one in findings_of.readings}


def test_flags_name_parts_points_and_pairs() -> None:
    found = entered(
        watts="37.4 W", amperes="181 mA", mains="231", volts=["drain=16 V"],
        ohms=["line_fusing=4R7", "bus-minus=470k", "varistor=open", "sinks_sense=9R1"], farads=["film=98n"],
        led_volts=["string=220 V"], diode_volts=["line_f-bus=0.55"],
    )  # fmt: skip
    assert said(found) == {
        "input power": 37.4,
        "input current": 0.181,
        "mains voltage": 231.0,
        "voltage drain to minus": 16.0,
        "resistance line to line_f": 4.7,
        "resistance bus to minus": 470e3,
        "resistance line_f to neutral": 20e6,
        "resistance of sinks sense, the one that is off": 9.1,
        "capacitance of film": pytest.approx(98e-9),
        "string test of string": 220.0,
        "diode test line_f to bus": 0.55,
    }


def test_a_part_across_two_points_names_the_pair() -> None:
    assert said(entered(ohms=["film=open"])) == said(entered(ohms=["minus-bus=open"]))


def test_a_file_says_the_same_as_flags(tmp_path: Path) -> None:
    file = tmp_path / "found.toml"
    file.write_text(
        'symptoms = ["dark", "bang"]\ndiscoloured = "line_fusing"\n'
        '[[reading]]\nwhat = "input power"\nvalue = "0 W"\ntolerance = "3 %"\n'
        '[[reading]]\nwhat = "resistance"\nof = "line_fusing"\nvalue = "open"\n'
        '[[reading]]\nwhat = "voltage"\nbetween = ["bus", "minus"]\nvalue = 240\n'
    )
    readings, symptoms, discoloured = read_file(file)
    found = findings(FLOOD, readings, symptoms, discoloured, file=str(file))
    assert said(found) == {
        "input power": 0.0,
        "resistance line to line_f": 20e6,
        "voltage bus to minus": 240.0,
    }
    assert found.readings[0].tolerance_ratio == pytest.approx(0.03)
    assert found.seen.symptoms == ("dark", "bang", "part discoloured")
    assert found.seen.discoloured == "line_fusing"


@pytest.mark.parametrize(
    ("given", "line"),
    [
        ({"ohms": ["fuse=3"]}, '--ohms is "fuse": expected a part of this lamp that has one'),
        ({"volts": ["drian=3"]}, "did you mean drain?"),
        ({"ohms": ["bus-drian=3"]}, "expected two points of this lamp"),
        ({"ohms": ["line_fusing=3 V"]}, '--ohms is "3 V": expected a resistance'),
        ({"ohms": ["3"]}, "expected a place and a value"),
        ({"watts": "-3 W"}, '--watts is "-3 W": expected between 0 W and 5 kW'),
        ({"watts": "400 W", "amperes": "220 mA", "mains": "230 V"}, "expected at most 50.6 W"),
        ({"ohms": ["film=470k", "bleed=3 Ω"]}, "resistance bus to minus once, or twice alike"),
        ({"symptoms": ["dark", "dim"]}, 'symptom is "dark" and "dim": expected one of the two'),
        ({"symptoms": ["darkk"]}, 'symptom is "darkk": expected dark, dim'),
        ({"discoloured": "line_fuse"}, 'discoloured is "line_fuse": expected a part of this lamp'),
        ({}, "expected a reading or a symptom"),
    ],
)
def test_one_line_for_each_mistake(given: dict[str, object], line: str) -> None:
    with pytest.raises(FileProblems) as refused:
        entered(**given)  # type: ignore[arg-type]
    assert line in str(refused.value)
    assert "\n" not in str(refused.value)


def test_a_lamp_without_the_part_says_so() -> None:
    with pytest.raises(FileProblems, match="did you mean"):
        findings(load_lamp("pantry-bulb"), entries_of({"ohms": ["neutral_fusing=4.7"]}))


def test_every_mistake_of_a_file_at_once(tmp_path: Path) -> None:
    file = tmp_path / "found.toml"
    file.write_text('symptom = ["dark"]\n[[reading]]\nwhat = "input powr"\nvalue = "0 W"\n')
    with pytest.raises(FileProblems) as refused:
        read_file(file)
    text = str(refused.value)
    assert "symptom is an unknown key" in text
    assert "did you mean symptoms?" in text
    assert "did you mean input power?" in text


def test_contradictions_are_between_symptoms_there_are() -> None:
    assert {word for pair in CONTRADICTIONS for word in pair} <= set(SYMPTOMS)


def test_far_mains_are_computed_on() -> None:
    assert mains_of(FLOOD, entered(watts="40 W", mains="233 V")) == 230.0
    assert mains_of(FLOOD, entered(watts="40 W", mains="252.6 V")) == 253.0
