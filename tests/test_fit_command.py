"""`coldiron fit` from the command line: prints, files, statuses."""

from __future__ import annotations

import math
import resource
from pathlib import Path

import pytest

from coldiron.cli.main import main
from coldiron.errors import FileProblems
from coldiron.fit.write import write_fitted
from coldiron.lamp.toml_file import find_file
from lamps import load_lamp

pytestmark = pytest.mark.ngspice

LAMP = find_file("kerbside-flood", "lamps").read_text()


def lamp_with(tmp_path: Path, *readings: str) -> Path:
    """A lamp file with its readings replaced; each is "what, state, value"."""
    text = LAMP[: LAMP.index("[[reading]]")]
    for reading in readings:
        what, state, value = reading.split(", ")
        text += f'[[reading]]\nwhat = "{what}"\nstate = "{state}"\nvalue = "{value}"\ntolerance = "1 %"\n\n'
    path = tmp_path / "lamp.toml"
    path.write_text(text)
    return path


def test_a_fit_prints_and_writes_beside_the_old_file(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = lamp_with(tmp_path, "input current, cold, 200 mA")
    old = path.read_text()
    assert main(["fit", str(path), "--free", "sinks.sense_voltage", "heat.die_to_board"]) == 0
    said = capsys.readouterr()
    assert said.err == ""
    assert "not identifiable from these readings: heat.die_to_board; left as it is" in said.out
    assert "Mains can kill" in said.out
    assert path.read_text() == old
    new = load_lamp(tmp_path / "lamp.fitted.toml")
    assert new.sinks.provenance("sense_voltage") == "fitted"
    # The current of a lamp without reservoir goes with what its sinks are set to: 222 mA at 0.6 V.
    assert new.sinks.sense_voltage_v == pytest.approx(0.6 * 200 / 222.2, rel=0.01)
    # Closed form without reservoir: the current is the set one times √D, D = 1 - 2/π asin(Vs/Vpk), so that a
    # forward voltage of a data sheet, 1.5 % uncertain, counts d ln √D / d ln Vs = -r/(π D √(1-r²)) times; the
    # reading of 1 % counts as 1 %/√3.
    ratio = 0.6 * 246.0 / (0.6 * 325.3)
    share = 1.0 - 2.0 / math.pi * math.asin(ratio)
    weight = ratio / (math.pi * share * math.sqrt(1.0 - ratio**2))
    wide = 1.96 * math.hypot(1.0 / 3**0.5, 1.5 * weight)
    row = next(line for line in said.out.splitlines() if "sinks.sense_voltage " in line)
    assert float(row.split()[-3]) == pytest.approx(wide, rel=0.15)
    # A second time there is a file already.
    assert main(["fit", str(path)]) == 2
    said = capsys.readouterr()
    assert "a new file (a fit overwrites nothing): name another with --out" in said.err
    assert said.err.count("\n") == 1


def test_contradictions_stop_a_fit_unless_told_otherwise(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = lamp_with(tmp_path, "input power, cold, 60 W", "input current, cold, 220 mA")
    assert main(["fit", str(path)]) == 2
    said = capsys.readouterr()
    assert "contradiction: input power cold 60 W and input current cold 220 mA: power above 230 V" in said.out
    # Both are named, since either may be the wrong one.
    both = "input power cold, if it were 49.52 W, or input current cold, if it were 266.5 mA"
    assert both in said.out.replace("\n", " ")
    assert "would reconcile the rest" in said.out.replace("\n", " ")
    assert said.err.count("\n") == 1
    assert "--anyway" in said.err
    assert list(tmp_path.iterdir()) == [path]
    assert main(["fit", str(path), "--anyway", "--free", "sinks.sense_voltage"]) == 1
    said = capsys.readouterr()
    assert "outside its meter tolerance even so: " in said.out
    assert "THE MODEL DOES NOT FOLLOW A READING: input power cold is 14 tolerances off" in said.out
    assert "suspect: input power cold: 60 W, and the rest have it at 4" in said.out
    assert "suspect: input current cold: 220 mA, and the rest have it at 2" in said.out
    assert (tmp_path / "lamp.fitted.toml").is_file()


def test_a_reading_far_off_is_loud_and_leaves_no_file(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    # No law is broken (a power factor of 0.71 can be), but no lamp near this one has it.
    path = lamp_with(tmp_path, "input current, cold, 222 mA", "input power, cold, 36 W")
    assert main(["fit", str(path), "--free", "sinks.sense_voltage"]) == 1
    said = capsys.readouterr()
    assert "THE MODEL DOES NOT FOLLOW A READING: " in said.out
    assert "nothing written" in said.out
    assert list(tmp_path.iterdir()) == [path]


def test_values_that_nothing_tells_end_in_one_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = lamp_with(tmp_path, "input current, cold, 200 mA")
    assert main(["fit", str(path), "--free", "film.capacitance", "bleed.resistance"]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    expected = "at least one value that these readings tell, such as sinks.sense_voltage"
    assert said.err == f"--free is film.capacitance, bleed.resistance: expected {expected}\n"
    assert list(tmp_path.iterdir()) == [path]


@pytest.mark.parametrize(
    ("words", "expected"),
    [
        (["--free", "sinks.sense_resistr"], "did you mean sinks.sense_resistor?"),
        (["--free", "sinks.count"], "a number of sinks"),
        (["--out", "no/such/folder/lamp.toml"], "a file in a folder that exists"),
        (["--out", "/dev/null/lamp.toml"], "a file in a folder that exists"),
        (["--out", "/proc/lamp.toml"], "cannot write /proc/lamp.toml: "),
        (["--out", "x" * 300], "File name too long"),
    ],
)
def test_mistakes_get_one_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], words: list[str], expected: str
) -> None:
    path = lamp_with(tmp_path, "input current, cold, 200 mA")
    assert main(["fit", str(path), *words]) == 2
    said = capsys.readouterr()
    assert said.out == ""
    assert expected in said.err
    assert said.err.count("\n") == 1
    assert list(tmp_path.iterdir()) == [path]


def test_a_disk_that_fills_up_meanwhile_leaves_no_half_a_file(
    tmp_path: Path,
) -> None:
    path = lamp_with(tmp_path, "input current, cold, 200 mA")
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (1000, before[1]))
    try:
        with pytest.raises(FileProblems, match=r"a new file that can be written [(]File too large"):
            write_fitted(path, [], tmp_path / "new.toml")
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
    assert list(tmp_path.iterdir()) == [path]


def test_a_lamp_without_readings_has_nothing_to_fit(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = lamp_with(tmp_path)
    assert main(["fit", str(path)]) == 2
    assert "at least one [[reading]] to fit to" in capsys.readouterr().err
