"""An invented lamp file, as small as a lamp can be, and what is wrong with a file."""

from __future__ import annotations

from pathlib import Path

import pytest

from coldiron.errors import FileProblems
from lamps import load_lamp

SMALL = """\
name = "Bench lamp"

[mains]
voltage = "230 V"
frequency = "50 Hz"

[line_fusing]
resistance = "10 Ω"

[varistor]
ac_rating = "275 V"
one_milliamp_voltage = "430 V"
clamping_voltage = "710 V"
clamping_current = "25 A"

[bridge]

[film]
capacitance = "100 nF"

[string]
series = 80
forward_voltage = "3 V"
forward_current = "60 mA"
slope = "3 Ω"

[sinks]
count = 2
sense_resistor = "15R"

[housing]
earthed = true

[ratings]
power = "15 W"
"""


def write(folder: Path, *changes: tuple[str, str]) -> Path:
    """Write the small lamp with some of its text replaced."""
    text = SMALL
    for old, new in changes:
        assert old in text, f"{old!r} is not in the small lamp"
        text = text.replace(old, new, 1)
    path = folder / "lamp.toml"
    path.write_text(text, encoding="utf-8")
    return path


def complaints(path: Path | str) -> list[str]:
    """Lines of what is wrong with a lamp file, without the folder."""
    with pytest.raises(FileProblems) as refusal:
        load_lamp(path)
    assert refusal.value.exit_status == 2
    lines = str(refusal.value).split("\n")
    assert len(lines) == len(refusal.value.problems), "each problem is one line"
    folder = str(Path(path).parent)
    return [line.removeprefix(f"{folder}/") for line in lines]
