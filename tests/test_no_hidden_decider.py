"""No number outside the lamp decides a reading: what the decks hold back moves none, the rest are values.

And the surge current of a sink that does not avalanche says what set it.
"""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import brentq

from coldiron.cli.check import check
from coldiron.deck.body import body_text
from coldiron.deck.circuit import OperatingPoint, circuit
from coldiron.deck.deck import Deck
from coldiron.engine.waves import Waveforms
from coldiron.lamp.topologies.linear_sinks import LinearSinksLamp as Lamp
from coldiron.parts.linear_sink import GATE_KEYS
from coldiron.resources import resource_dir
from coldiron.study.load import load_study
from laboratory import Laboratory, case_of, changed
from lamps import load_lamp
from printed import deck_of

VALUES = {
    "mains.damping": ("2.2 kΩ", "1 kΩ"),
    "bridge.emission": ("1.8", 1.5),
    "bridge.breakdown voltage": ("1.1 kV", "1.4 kV"),
    "bridge.stray capacitance": ("20 pF", "50 pF"),
    "sinks.gate threshold": ("3 V", "2 V"),
    "sinks.gate headroom": ("2 V", "4 V"),
    "sinks.gate drive": ("100 µA", "1 mA"),
    "sinks.transconductance": ("918.4 mA/V²", "2 A/V²"),
}
"""Value of the flood that no data sheet gives, as check prints it, and another."""


@pytest.mark.parametrize("key", VALUES)
def test_each_is_printed_as_typical(key: str, capsys: pytest.CaptureFixture[str]) -> None:
    check("kerbside-flood", defaults=True)
    lines = [" ".join(line.split()) for line in capsys.readouterr().out.splitlines()]
    what, value = key.partition(".")[2], VALUES[key][0]
    assert f"? {what} {value} typical, not given" in lines


@pytest.mark.parametrize("key", VALUES)
def test_each_can_be_changed_and_moves_the_deck(key: str, tmp_path: Path) -> None:
    study = tmp_path / "trial.toml"
    written = VALUES[key][1]
    value = f'"{written}"' if isinstance(written, str) else written
    study.write_text(
        'lamp = "kerbside-flood"\n[[variant]]\nname = "other"\n'
        f'change = {{ "{key.replace(" ", "_")}" = {value} }}\n',
        encoding="utf-8",
    )
    found, other = load_study(study).variants
    state = OperatingPoint(230.0, 50.0)
    printed = [circuit(lamp, state) for lamp in (found.lamp, other.lamp)]
    one, two = [(each.before, body_text(each.parts, each.conditions)) for each in printed]
    assert one != two


HELD_BACK = {
    "parts/linear_sink": {
        "1e8": "leak of a gate",
        "1e-14": "clamps and body diode",
        "1": "emission of clamps and body diode",
        "0.8": "junction potential of the output capacitance",
        "0.5": "its grading: an abrupt junction",
        "1e-05": "current at which breakdown is stated",
        "1e-12": "capacitance of a clamp",
        "0": "capacitances of the model itself, node 0",
    },
    "parts/bridge": {"1e-05": "current at which breakdown is stated", "0": "its ammeter"},
    "parts/film_capacitor": {},
    "parts/electrolytic": {"0": "its ammeter"},
    "parts/varistor": {"0": "its ammeter"},
    "sources/ammeter": {"0": "ammeters"},
    "parts/led_string": {"1e-05": "current at which breakdown is stated"},
    "sources/sine": {"0": "offset and delay of a sine, node 0"},
    "sources/wiring": {},
    "sources/unplugged": {},
}
"""Numbers that the lamp's templates print of themselves; `test_what_is_held_back_moves_nothing` runs them."""


@pytest.mark.parametrize("stage", HELD_BACK)
def test_a_template_prints_no_number_that_is_not_known_here(stage: str) -> None:
    text = (resource_dir("netlists") / f"{stage}.cir.j2").read_text(encoding="utf-8")
    printed = re.sub(r"{#.*?#}|{{.*?}}|{%.*?%}|^\*.*?$", " ", text, flags=re.DOTALL | re.MULTILINE)
    numbers = set(re.findall(r"(?<![A-Za-z_\d.])\d+\.?\d*(?:e-?\d+)?(?![A-Za-z_\d])", printed))
    assert numbers <= set(HELD_BACK[stage])


RUN_TO_PROVE = {
    "leak of a gate": (r"(Rgate\d+ \S+ 0) 1e8", r"\1 1e9"),
    "body diode": (r"body D\(IS=1e-14", "body D(IS=1e-12"),
    "grading of the output capacitance": (r"VJ=0.8 M=0.5", "VJ=0.6 M=0.4"),
    "where breakdown is stated": (r"IBV=1e-05", "IBV=3e-05"),
    "capacitance of a clamp": (r"CJO=1e-12", "CJO=5e-13"),
    "clamps": (r"clamp D\(IS=1e-14", "clamp D(IS=5e-15"),
    "leak of the string": (r"(Rleakage bus drain) \d+", r"\1 1e9"),
}
"""Numbers of `HELD_BACK` in a printed deck, and what is put in their place."""


def surge_deck(laboratory: Laboratory, lamp: Lamp, level_v: float) -> Deck:
    """The deck that decides the surge readings of a lamp."""
    [result] = laboratory.take(case_of(lamp, "surge", surge_level_v=level_v))
    return deck_of(result.decks["surge"])


def peaks(waves: Waveforms) -> dict[str, float]:
    """Headline peaks of a surge."""
    return {
        name: float(np.abs(waves[name]).max()) for name in ("v(sense1)", "v(drain)", "v(bus)", "i(vstring)")
    }


@pytest.mark.ngspice
@pytest.mark.parametrize("level_v", [500.0, 1000.0])
def test_what_is_held_back_moves_nothing(laboratory: Laboratory, level_v: float) -> None:
    # At 500 V the gate's drive limits the sinks, at 1000 V they avalanche.
    deck = surge_deck(laboratory, load_lamp("kerbside-flood"), level_v)
    found = peaks(laboratory.run(deck))
    for what, (old, new) in RUN_TO_PROVE.items():
        text, count = re.subn(old, new, deck.text)
        assert count, what
        assert peaks(laboratory.run(replace(deck, text=text))) == pytest.approx(found, rel=0.01), what


@pytest.mark.ngspice
@pytest.mark.parametrize("headroom_v", [2.0, 4.0])
def test_without_avalanche_the_gate_sets_the_current(laboratory: Laboratory, headroom_v: float) -> None:
    # Closed form, square law: K/2 (headroom + sense voltage - R I)^2 = I, with the gate as far up as it goes;
    # the 3 pF between drain and gate push it a little further while the surge rises.
    lamp = changed(load_lamp("kerbside-flood"), sinks={"gate_headroom_v": headroom_v})
    sinks = lamp.sinks

    def surplus_a(current_a: float) -> float:
        overdrive_v = headroom_v + sinks.sense_voltage_v - sinks.sense_resistor_ohm * current_a
        return sinks.gain_a_per_v2 / 2 * overdrive_v**2 - current_a

    ceiling_a = brentq(surplus_a, 0.0, (headroom_v + sinks.sense_voltage_v) / sinks.sense_resistor_ohm)
    readings = laboratory.readings(lamp, "surge")
    assert readings["surge_limited_by"] == "gate drive, assumed"
    assert readings["surge_sink_peak_A"] == pytest.approx(ceiling_a, rel=0.04)


@pytest.mark.ngspice
def test_what_limits_a_surge_is_said(laboratory: Laboratory) -> None:
    lamp = load_lamp("kerbside-flood")
    told = lamp.sinks.model_copy(update={"provenances": dict.fromkeys(GATE_KEYS, "data sheet")})
    for word, one in {
        "avalanche": changed(lamp, varistor=None),
        "gate drive": changed(lamp, sinks=told),
    }.items():
        assert laboratory.readings(one, "surge")["surge_limited_by"] == word
    weak = laboratory.readings(lamp, "surge", surge_level_v=1.0)
    assert weak["surge_limited_by"] == "set current"
    assert weak["surge_sink_peak_A"] == pytest.approx(1.03 * lamp.sinks.each_a, rel=0.1)
