"""A study of a lamp alone: what is tried, by rules of the trade; and the file it leaves."""

from __future__ import annotations

import tomllib
from pathlib import Path

import eseries
import pytest
from hypothesis import given, settings

from coldiron.cli.study import asked_study
from coldiron.errors import FileProblems
from coldiron.lamp.lamp import Lamp as AnyLamp
from coldiron.lamp.load import load_lamp as loaded
from coldiron.lamp.toml_file import shipped_names
from coldiron.lamp.topologies.linear_sinks import LinearSinksLamp as Lamp
from coldiron.preferred import E6, E12, E24, nearest, step
from coldiron.study.load import load_study
from coldiron.study.modifications import modifications
from coldiron.study.weighed import is_untouched, weighed_text
from lamps import lamps, load_lamp, plain_lamp, reservoir
from small_lamp import write


def names(lamp: AnyLamp) -> list[str]:
    return [one.name for one in modifications(lamp)]


def test_preferred_values_are_those_of_the_standard() -> None:
    """Against the library eseries, which has them from IEC 60063."""
    for series, key in ((E6, eseries.E6), (E12, eseries.E12), (E24, eseries.E24)):
        assert series == pytest.approx([value / 10 for value in eseries.series(key)])
        for value in (0.47, 9.1, 13.65, 34e-6, 1e6):
            below = eseries.find_less_than_or_equal(key, value)
            above = eseries.find_greater_than_or_equal(key, value)
            by_ratio = below if value / below < above / value else above
            assert nearest(series, value) == pytest.approx(by_ratio)
    assert step(E24, 9.1, 1) == 10.0


@pytest.mark.parametrize("shipped", shipped_names("lamps"))
def test_about_a_dozen_for_each_shipped_lamp(shipped: str) -> None:
    assert 10 <= len(names(loaded(shipped))) <= 15


def test_each_topology_gets_what_its_keys_allow() -> None:
    candle = {one.name: one.change for one in modifications(loaded("landing-candle"))}
    # Closed form: what feeds the string is a capacitor, and the current goes with it (1 µF as found).
    assert candle["two thirds of the current"] == {"dropper.capacitance": "680 nF"}
    # I · t / ΔV by hand: some 70 mA for 8 ms over three tenths of 77 V; the rating as found stays enough.
    assert candle["reservoir 22 µF"]["reservoir"]["voltage"] == "100 V"  # type: ignore[index]
    strip = names(loaded("gallery-strip"))
    assert "no film" in strip
    assert not any("reservoir" in name for name in strip)


def test_each_kind_of_change_a_technician_weighs_is_there() -> None:
    said = names(load_lamp("kerbside-flood"))
    assert said == [
        "reservoir 22 µF",
        "reservoir 33 µF",
        "reservoir 47 µF",
        "line fusing 10 Ω",
        "varistor of the 275 V class",
        "no varistor",
        "two thirds of the current",
        "half the current",
        "one sink fewer",
        "one LED bridged",
        "bleed 220 kΩ",
        "reservoir 33 µF, line fusing 10 Ω",
        "reservoir 33 µF, line fusing 10 Ω, two thirds of the current",
    ]


def test_a_lamp_without_a_part_is_offered_one_and_not_its_removal() -> None:
    bare = names(plain_lamp(varistor=None, bleed=None, line_fusing=None))
    assert "varistor of the 275 V class" in bare
    assert "no varistor" not in bare
    assert not any("fusing" in name for name in bare)
    fitted = names(plain_lamp(reservoir=reservoir(22e-6)))
    assert "no reservoir" in fitted
    assert "one sink fewer" not in names(plain_lamp(sinks=plain_lamp().sinks.model_copy(update={"count": 1})))


def test_a_capacitor_and_a_disc_suit_the_mains() -> None:
    bulb = load_lamp("pantry-bulb")
    for lamp, volts, disc in ((plain_lamp(varistor=None), "400 V", "275 V"), (bulb, "200 V", "150 V")):
        by_name = {one.name: one.change for one in modifications(lamp)}
        assert f"varistor of the {disc} class" in by_name
        capacitor = next(change["reservoir"] for name, change in by_name.items() if "reservoir" in name)
        assert isinstance(capacitor, dict)
        assert capacitor["voltage"] == volts


@settings(max_examples=40, deadline=None)
@given(lamps())
def test_what_is_written_for_any_lamp_is_a_study_of_it(lamp: Lamp) -> None:
    table = tomllib.loads(weighed_text(lamp, "any", "pantry-bulb"))
    assert [one["name"] for one in table["variant"]] == names(lamp)
    assert len({one["name"] for one in table["variant"]}) == len(table["variant"])


def test_a_lamp_leaves_its_study_beside_a_copy_of_itself(tmp_path: Path) -> None:
    lamp = write(tmp_path)
    out = tmp_path / "results"
    study = asked_study(str(lamp), out)
    assert study.lamp.name == "Bench lamp"
    file = out / "lamp" / "study.toml"
    assert load_study(file) == study
    assert study.variants[0].name == "as found"
    lamp.write_text(lamp.read_text().replace('power = "15 W"', 'power = "14 W"'))
    assert asked_study(str(lamp), out).lamp.ratings.power_w == 14.0, "written anew from the lamp"


def test_nobody_loses_an_edit(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    out = tmp_path / "results"
    asked_study("pantry-bulb", out)
    file = out / "pantry-bulb" / "study.toml"
    edited = file.read_text().replace("# [aim] # what", "[aim] # what").replace("# want", "want")
    file.write_text(edited)
    assert not is_untouched(edited)
    capsys.readouterr()
    asked_study("pantry-bulb", out)
    assert file.read_text() == edited
    assert "has been edited and stays as it is" in capsys.readouterr().err
    assert asked_study(str(file), out).aim.want == ("steady light", "cool sinks")


def test_a_wrong_lamp_writes_nothing(tmp_path: Path) -> None:
    lamp = write(tmp_path, ('voltage = "230 V"', 'voltage = "230 Hz"'))
    with pytest.raises(FileProblems):
        asked_study(str(lamp), tmp_path / "results")
    assert not (tmp_path / "results").exists()
