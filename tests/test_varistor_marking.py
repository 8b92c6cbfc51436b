"""What stands on a varistor's disc, and what it stands for: against catalogue rows and laws of the series."""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import pytest

from coldiron.errors import FileProblems
from coldiron.lamp.describe import lines
from coldiron.lamp.parts import LedString
from coldiron.lamp.toml_file import find_file
from coldiron.lamp.varistor import DISC_SIZES, Varistor
from coldiron.lamp.varistor_marking import marked, varistor_classes
from coldiron.study.load import load_study
from lamps import linear, load_lamp

DIAMETERS = tuple(size.diameter_m for size in DISC_SIZES)


def lamp_with(tmp_path: Path, varistor: str) -> Path:
    """A lamp file with another varistor."""
    text = find_file("corridor-panel", "lamps").read_text(encoding="utf-8")
    start, end = text.index("[varistor]"), text.index("[bridge]")
    path = tmp_path / "lamp.toml"
    path.write_text(f"{text[:start]}[varistor]\n{varistor}\n{text[end:]}", encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("marking", "ac_v", "one_milliamp_v", "clamping_v", "clamping_a"),
    [
        # Catalogues: 14 mm discs of 275 and 300 V a.c., 710 and 775 V at 50 A (read); 7 mm at 10 A, 10 mm at
        # 25 A and the 150 V class, 395 V (from memory).
        ("14D431K", 275, 430, 710, 50),
        ("14D471K", 300, 470, 775, 50),
        ("07D431K", 275, 430, 710, 10),
        ("10D241K", 150, 240, 395, 25),
        # The same written otherwise.
        ("7D431", 275, 430, 710, 10),
        ("431KD07", 275, 430, 710, 10),
        ("14d 431k", 275, 430, 710, 50),
    ],
)
def test_a_marking_stands_for_its_catalogue_row(
    marking: str, ac_v: float, one_milliamp_v: float, clamping_v: float, clamping_a: float
) -> None:
    part = Varistor(marking=marking)
    assert part.ac_rating_v == ac_v
    assert part.one_milliamp_voltage_v == one_milliamp_v
    assert part.clamping_voltage_v == pytest.approx(clamping_v)
    assert part.clamping_current_a == clamping_a
    assert part.tolerance_ratio == 0.1


def test_the_letter_is_the_tolerance_and_moves_the_high_disc() -> None:
    # IEC 60062: J ±5 %, K ±10 %, M ±20 %; the clamping voltage is that of the disc at the upper end.
    narrow, usual, wide = (marked(f"07D431{letter}", DIAMETERS) for letter in "JKM")
    assert [one.tolerance_ratio for one in (narrow, usual, wide)] == [0.05, 0.1, 0.2]
    assert narrow.clamping_voltage_v == pytest.approx(710.0 * 1.05 / 1.1)
    assert wide.clamping_voltage_v == pytest.approx(710.0 * 1.2 / 1.1)


def test_classes_obey_the_ratios_of_the_series() -> None:
    # Common practice, no source: the nominal disc has 1.4 to 1.65 times the a.c. rating at 1 mA (its peak and
    # the tolerance), and clamps at 1.62 to 1.75 times that. Two figures make each code: any can be marked.
    for row in varistor_classes():
        assert 2**0.5 * 1.05 < row.one_milliamp_voltage_v / row.ac_rating_v < 1.66
        assert 1.62 < row.clamping_voltage_v / row.one_milliamp_voltage_v < 1.75
        assert row.one_milliamp_voltage_v % 10 == 0
        assert marked(f"{row.one_milliamp_voltage_v / 10:.0f}1", DIAMETERS).ac_rating_v == row.ac_rating_v
    assert all(a < b for a, b in pairwise(varistor_classes()))


def test_what_is_implied_is_typical_and_what_is_given_stays(tmp_path: Path) -> None:
    lamp = load_lamp(lamp_with(tmp_path, 'marking = "07D431K"\nenergy = "20 J"\nclamping_voltage = "700 V"'))
    assert lamp.varistor is not None
    assert lamp.varistor.clamping_voltage_v == 700.0
    told = {line.key: line.provenance_text for line in lines(lamp) if line.part == "varistor"}
    assert told["ac_rating"] == told["disc"] == "typical, by its marking"
    assert told["marking"] == told["energy"] == told["clamping_voltage"] == "data sheet"
    assert told["mean_power"] == "typical, not given"


@pytest.mark.parametrize(
    ("varistor", "expected"),
    [
        ('marking = "431K"', 'varistor.marking is "431K": expected the diameter before'),
        ('marking = "08D431K"', "expected a diameter of 5, 7, 10, 14 or 20 mm before the three digits"),
        ('marking = "07D437K"', "expected three digits of a class for mains (181, 201, 221"),
        ('marking = "07D431X"', "expected a disc's marking: diameter, three digits and a letter for"),
        ('marking = "blue"', "such as 07D431K"),
        ("marking = 431", "varistor.marking is 431: expected text in quotes"),
    ],
)  # fmt: skip
def test_mistakes_get_one_line(tmp_path: Path, varistor: str, expected: str) -> None:
    with pytest.raises(FileProblems) as refused:
        load_lamp(lamp_with(tmp_path, varistor))
    assert expected in str(refused.value)
    # What a wrong marking leaves open is not complained about as well.
    assert "needed" not in str(refused.value)


def test_a_diameter_beside_it_will_do(tmp_path: Path) -> None:
    lamp = load_lamp(lamp_with(tmp_path, 'marking = "431K"\ndisc = "14 mm"'))
    assert lamp.varistor is not None
    assert lamp.varistor.clamping_current_a == 50.0


def test_a_study_changes_a_disc_by_its_marking(tmp_path: Path) -> None:
    lamp_with(tmp_path, 'marking = "07D431K"\nplace = "mains terminals"')
    study = tmp_path / "study.toml"
    study.write_text(
        'lamp = "lamp.toml"\n[[variant]]\nname = "larger"\nchange = { "varistor.marking" = "14D471K" }\n'
        '[[variant]]\nname = "own"\nchange = { "varistor.ac_rating" = "250 V" }\n',
        encoding="utf-8",
    )
    larger, own = (linear(variant.lamp).varistor for variant in load_study(study).variants[-2:])
    assert larger is not None
    assert own is not None
    assert (larger.ac_rating_v, larger.clamping_current_a, larger.diameter_m) == (300.0, 50.0, 0.014)
    assert larger.place == "mains terminals"
    assert (own.ac_rating_v, own.one_milliamp_voltage_v, own.marking) == (250.0, 430.0, None)


def test_a_slope_left_out_is_that_of_the_trade(tmp_path: Path) -> None:
    text = find_file("pantry-bulb", "lamps").read_text(encoding="utf-8")
    path = tmp_path / "lamp.toml"
    path.write_text("\n".join(line for line in text.splitlines() if not line.startswith("slope")))
    string = load_lamp(path).string
    assert string.slope_ohm is None
    # Closed form: N kT/q / I + 4.5 % of the forward voltage over I; never less than the junction alone.
    junction_ohm = string.emission * 0.025693 / string.forward_current_a
    series_ohm = 0.045 * string.forward_voltage_v / string.forward_current_a
    assert string.dynamic_ohm == pytest.approx(junction_ohm + series_ohm, rel=1e-4)
    assert string.led_series_ohm == pytest.approx(series_ohm, rel=1e-3)
    # The demo lamps, whose data sheets are our invention, are within a factor of two; so is the one measured
    # white LED there is, 22.3 Ω at 14.1 mA and 3.01 V (published by its measurer, 14 points).
    for name in ("pantry-bulb", "kerbside-flood", "corridor-panel"):
        other = load_lamp(name).string
        assert other.slope_ohm is not None
        left_out = other.model_copy(update={"slope_ohm": None})
        assert 0.5 < left_out.dynamic_ohm / other.slope_ohm < 2.0
    white = LedString(series=1, forward_voltage_v=3.01, forward_current_a=14.1e-3)
    assert 0.5 < white.dynamic_ohm / 22.3 < 2.0
