"""The guide, done: a part, a supply and a topology added to a copy of the tree, and nothing else touched."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

pytestmark = pytest.mark.ngspice
ROOT = Path(__file__).resolve().parents[2]

FILAMENT = '''"""Light bulb: a filament that resists the more the hotter it stands; here at its rated heat.

v = V² / P · i. Valid at its rated voltage.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, ClassVar

from pydantic import Field

from coldiron.lamp.model import Part as PartValues
from coldiron.parts.part import Array, Part, PartConditions, PartWaveforms
from coldiron.quantities import Volt, Watt


class FilamentValues(PartValues):
    """What is printed on it."""

    rated_voltage_v: Annotated[Volt, Field(ge=1, le=500)]
    power_w: Annotated[Watt, Field(ge=0.1, le=1000)]


class Filament(Part):
    """A test bulb."""

    values: FilamentValues
    kind: ClassVar[str] = "filament"
    model: ClassVar[type[PartValues]] = FilamentValues
    known_by: ClassVar[str] = "power"

    @property
    def ohm(self) -> float:
        """Resistance at its rated heat [Ω]."""
        return self.values.rated_voltage_v**2 / self.values.power_w

    def deck(self, conditions: PartConditions) -> Mapping[str, object]:
        """Its resistance."""
        return {"ohm": self.ohm}

    def current_a(self, w: PartWaveforms) -> Array:
        """Voltage over resistance [A]."""
        return self.across_v(w) / self.ohm
'''
MACRO = '{% macro part(p, d) -%}\n{{ p.e("R") }} {{ p.n("a") }} {{ p.n("b") }} {{ d.ohm }}\n{%- endmacro %}\n'

STEPPED = '''"""An inverter that steps from minus through nothing to plus: a quarter of the cycle each.

With the crest on for half of the time, V_rms = crest / √2: the crest is that of a sine.
"""

from __future__ import annotations

from typing import ClassVar

import numpy as np

from coldiron.parts.part import Array
from coldiron.sources.source import Supply


class SteppedSupply(Supply):
    """A test inverter."""

    kind: ClassVar[str] = "stepped inverter"
    waveform: ClassVar[str] = "stepped"

    def open_v(self, time_s: Array) -> Array:
        """Its voltage with nothing on it [V]."""
        sine = np.sin(self.omega_per_s * time_s)
        return self.values.peak_v * np.sign(sine) * (np.abs(sine) > np.sqrt(0.5))
'''
STEPPED_MACRO = """{% from "sources/wiring.cir.j2" import wiring %}
{% macro part(p, m) -%}
Bunit unit 0 V = sin({{ m.omega_per_s }}*time+{{ m.phase_rad }})
Bmains mains {{ p.n("back") }} V = {{ m.peak_v }}*0.5*(tanh(200*(v(unit)-0.7071))+tanh(200*(v(unit)+0.7071)))
{{ wiring(p, m) }}
{%- endmacro %}
"""

BALLASTED = '''"""Ballasted string: bridge, string and one resistor; nothing regulates."""

from __future__ import annotations

from collections.abc import Iterator
from typing import ClassVar, Literal

from coldiron.lamp import parts as values
from coldiron.lamp.lamp import Lamp
from coldiron.parts.bridge import Bridge
from coldiron.parts.circuit import Circuit
from coldiron.parts.led_string import LedString
from coldiron.parts.part import Part
from coldiron.parts.resistor import Resistor, ResistorValues
from coldiron.parts.stray_capacitance import StrayCapacitance, StrayValues


class BallastedLamp(Lamp):
    """A string behind a resistor."""

    topology_word: ClassVar[str] = "ballasted string"

    topology: Literal["ballasted string"]
    ballast: ResistorValues
    bridge: values.Bridge = values.Bridge()
    string: values.LedString

    def expanded(self) -> Circuit:
        """Circuit that its short keys stand for."""
        return Circuit(tuple(self._parts()), self.anchors)

    def _parts(self) -> Iterator[Part]:
        yield Resistor("ballast", ("line", "line_f"), self.ballast, seat="series")
        yield Bridge("bridge", ("line_f", "neutral", "bus", "minus"), self.bridge)
        yield StrayCapacitance("stray", ("bus", "minus"), StrayValues(capacitance_f=20e-12))
        yield LedString("string", ("bus", "minus"), self.string)

    @property
    def lit_a(self) -> float:
        """Current of its LEDs [A]."""
        return self.string.forward_current_a
'''
LAMP = """name = "Test lamp"
topology = "ballasted string"
[mains]
voltage = "230 V"
frequency = "50 Hz"
[ballast]
resistance = "1k"
power = "5 W"
[string]
series = 80
forward_voltage = "3 V"
forward_current = "30 mA"
[housing]
earthed = false
[part.B9]
kind = "filament"
after = "ballast"
rated_voltage = "24 V"
power = "3 W"
"""


@pytest.fixture(scope="module")
def grown(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the tree with one part and one topology more, and a lamp and a study of them."""
    tree = tmp_path_factory.mktemp("tree")
    for name in ("runner", "netlists", "variants"):
        shutil.copytree(ROOT / name, tree / name, ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copy(ROOT / "pyproject.toml", tree)
    package = tree / "runner" / "coldiron"
    (package / "parts" / "filament.py").write_text(FILAMENT, encoding="utf-8")
    (tree / "netlists" / "parts" / "filament.cir.j2").write_text(MACRO, encoding="utf-8")
    (package / "lamp" / "topologies" / "ballasted_string.py").write_text(BALLASTED, encoding="utf-8")
    (package / "sources" / "stepped.py").write_text(STEPPED, encoding="utf-8")
    (tree / "netlists" / "sources" / "stepped.cir.j2").write_text(STEPPED_MACRO, encoding="utf-8")
    inverter = LAMP.replace("[mains]", '[mains]\nwaveform = "stepped"', 1)
    (tree / "inverter.toml").write_text(inverter, encoding="utf-8")
    (tree / "lamp.toml").write_text(LAMP, encoding="utf-8")
    study = 'lamp = "lamp.toml"\nbenches = ["switch-on", "steady", "heat", "surge", "unplug"]\n'
    other = '[[variant]]\nname = "6 W"\nchange = { "B9.power" = "6 W" }\n'
    (tree / "study.toml").write_text(study + other, encoding="utf-8")
    return tree


def coldiron(tree: Path, *words: str) -> str:
    """Run a command on the copy; what it says."""
    done = subprocess.run(
        [sys.executable, "-c", "import sys; from coldiron.cli.main import main; sys.exit(main())", *words],
        cwd=tree,
        env={**os.environ, "PYTHONPATH": str(tree / "runner")},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


def test_a_new_part_in_a_new_topology_is_checked(grown: Path) -> None:
    said = coldiron(grown, "check", "lamp.toml")
    assert "B9" in said
    assert "ballast" in said


def test_a_new_part_in_a_new_topology_prints_a_legible_deck(grown: Path) -> None:
    deck = coldiron(grown, "deck", "study.toml", "--variant", "as found", "--bench", "steady")
    assert "* --- B9: filament" in deck
    assert "RB9 line_f line_f_B9 192" in deck


def test_a_new_part_in_a_new_topology_runs_on_the_benches(grown: Path) -> None:
    said = coldiron(grown, "study", "study.toml", "--no-pictures")
    assert "6 W" in said
    lines = (grown / "results" / "study" / "readings.csv").read_text(encoding="utf-8").splitlines()
    rows = [line.split(",") for line in lines]
    watts = [float(row[4]) for row in rows if row[1] == "steady" and row[3] == "B9_W"]
    amps = [float(row[4]) for row in rows if row[1] == "steady" and row[3] == "input_current_A"]
    assert len(watts) == 2
    # Ohm: 24² / 3 and 24² / 6.
    for watt, ampere, ohm in zip(watts, amps, (192.0, 96.0), strict=True):
        assert watt == pytest.approx(ohm * ampere**2, rel=1e-3)


def test_a_new_supply_is_one_module_and_its_macro(grown: Path) -> None:
    (grown / "run.toml").write_text('lamp = "inverter.toml"\nbenches = ["steady"]\n', encoding="utf-8")
    assert "* --- mains: stepped inverter" in coldiron(grown, "deck", "run.toml", "--bench", "steady")
    coldiron(grown, "study", "run.toml", "--no-pictures")
    text = (grown / "results" / "run" / "readings.csv").read_text(encoding="utf-8")
    rows = [row.split(",") for row in text.splitlines()]
    bus_v, string_a = [
        float(row[4]) for name in ("bus_highest_V", "led_current_A") for row in rows if row[3] == name
    ]
    # Ohm: while it stands at the crest, which is half of the time, ballast and bulb bear what the LEDs leave.
    assert string_a == pytest.approx(0.5 * (325.3 - 1.6 - bus_v) / (1000.0 + 24.0**2 / 3.0), rel=0.03)
