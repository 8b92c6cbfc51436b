"""`coldiron waves`: what it draws and writes is what the readings were taken from; refusals in one line."""

from __future__ import annotations

from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pandas as pd
import pytest

from coldiron.cli.main import main
from coldiron.pictures.case import case_picture
from coldiron.pictures.lay import lays
from reporting import finished

pytestmark = pytest.mark.ngspice
PNG = b"\x89PNG\r\n\x1a\n"
STUDY = """
lamp = "pantry-bulb"
benches = ["switch-on", "steady", "surge"]
[conditions]
mains = ["nominal", "+10 %"]
surge_angle = [90]
surge_polarity = ["+"]
[[variant]]
name = "10 µF"
change = { reservoir = { capacitance = "10 µF", voltage = "200 V" } }
"""


@pytest.fixture
def study(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    for name in ("DISPLAY", "WAYLAND_DISPLAY"):
        monkeypatch.delenv(name, raising=False)
    path = tmp_path / "bulb.toml"
    path.write_text(STUDY, encoding="utf-8")
    return path


def waves(study: Path, *words: str) -> int:
    return main(["waves", str(study), *words])


def test_two_variants_over_each_other_as_svg(study: Path, capsys: pytest.CaptureFixture[str]) -> None:
    words = ["--variant", "10 µF", "--against", "as found", "--bench", "surge", "--to", "out/surge.svg"]
    assert waves(study, *words) == 0
    assert capsys.readouterr().out == "out/surge.svg\n"
    text = Path("out/surge.svg").read_text(encoding="utf-8")
    ElementTree.fromstring(text)
    assert "1 · 10 µF" in text
    assert "0 · as found" in text


def test_png(study: Path) -> None:
    assert waves(study, "--to", "steady.png") == 0
    assert Path("steady.png").read_bytes().startswith(PNG)


def test_pdf(study: Path) -> None:
    assert waves(study, "--to", "steady.pdf") == 0
    assert Path("steady.pdf").read_bytes().startswith(b"%PDF")


def test_a_surge_at_all_its_angles(study: Path) -> None:
    text = study.read_text(encoding="utf-8")
    study.write_text(text.replace("surge_angle = [90]", "surge_angle = [0, 90]"), encoding="utf-8")
    assert waves(study, "--bench", "surge", "--all-angles", "--to", "all.svg") == 0
    drawn = Path("all.svg").read_text(encoding="utf-8")
    assert "1 · as found, + at 0°" in drawn
    assert "2 · as found, + at 90°" in drawn


def test_csv_holds_the_vectors_of_the_readings(study: Path) -> None:
    # The reading comes through another command.
    assert waves(study, "--variant", "10 µF", "--bench", "switch-on", "--to", "on.csv") == 0
    assert main(["study", str(study), "--bench", "switch-on", "--no-pictures"]) == 0
    frame = pd.read_csv("on.csv")
    readings = pd.read_csv("results/bulb/chosen/benches_switch-on/readings.csv").query(
        "variant == '10 µF' and conditions == '120 V 60 Hz'"
    )
    peak_a = float(readings.set_index("reading")["value"]["inrush_peak_A"])
    early = frame["time [s]"] <= 0.5 / 60
    assert frame.loc[early, "i(vinput) [A]"].abs().max() == pytest.approx(peak_a, rel=1e-5)
    assert (np.diff(frame["time [s]"]) > 0).all()


def test_parquet_holds_what_csv_holds(study: Path) -> None:
    both = ["--variant", "10 µF", "--against", "as found", "--bench", "steady"]
    assert waves(study, *both, "--to", "steady.parquet") == 0
    assert waves(study, *both, "--to", "steady.csv") == 0
    exact, written = pd.read_parquet("steady.parquet"), pd.read_csv("steady.csv")
    assert list(exact.columns) == list(written.columns)
    assert exact["variant"].unique().tolist() == ["10 µF", "as found"]
    assert np.allclose(exact["v(bus) [V]"], written["v(bus) [V]"], rtol=1e-8)


def test_another_supply_and_another_run_of_the_chain(study: Path) -> None:
    peaks = {}
    for label in ("120 V 60 Hz", "132 V 60 Hz"):
        words = ["--bench", "surge", "--label", "before", "--conditions", label, "--to", "before.csv"]
        assert waves(study, *words) == 0
        peaks[label] = pd.read_csv("before.csv")["v(bus) [V]"].max()
    # The bus without a reservoir follows the mains: 10 % more of one is 10 % more of the other.
    assert peaks["132 V 60 Hz"] / peaks["120 V 60 Hz"] == pytest.approx(1.1, abs=0.01)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (
            ["--to", "x.gif"],
            '--to is "x.gif": expected a file that ends in .svg, .pdf, .png, .csv, .parquet, or "window"',
        ),
        (["--to", "x.svg", "--variant", "10 uF"], "(did you mean 10 µF?)"),
        (["--to", "x.svg", "--against", "nothing"], "--against is 'nothing': expected a name of this study"),
        (["--to", "x.svg", "--bench", "oven"], "--bench is 'oven': expected a name of this study"),
        (["--to", "x.svg", "--conditions", "240 V"], "--conditions is '240 V': expected"),
        (["--to", "x.svg", "--all-angles"], '--all-angles is bench "steady": expected a surge'),
        (["--to", "x.svg", "--label", "after"], "--label is 'after': expected"),
        ([], "write a file instead, such as --to waves.svg"),
    ],
)
def test_refusals_are_one_line(
    study: Path, capsys: pytest.CaptureFixture[str], words: list[str], said: str
) -> None:
    assert waves(study, *words) == 2
    told = capsys.readouterr()
    lines = [line for line in told.err.splitlines() if line.strip()]
    assert len(lines) == 1
    assert said in lines[0]
    assert told.out == ""
    assert list(Path().glob("x.*")) == []


@pytest.mark.parametrize("label", ["switch-on", "steady", "surge", "unplug", "before"])
def test_every_run_has_a_picture(label: str) -> None:
    bench = "surge" if label == "before" else label
    picture = case_picture(lays(finished()[1], bench)[:2], label)
    texts = [
        t.text or "" for t in ElementTree.fromstring(picture.svg).iter("{http://www.w3.org/2000/svg}text")
    ]
    assert any(text.endswith(("[ms]", "[µs]", "[s]")) for text in texts)
    assert picture.figure is not None
