"""Supplies: what each gives with nothing on it, and what a lamp makes of crests that are cut off."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from coldiron.errors import FileProblems
from coldiron.lamp.load import load_lamp as load_lamp_file
from coldiron.lamp.topologies.linear_sinks import LinearSinksLamp as Lamp
from coldiron.parts import KINDS
from coldiron.parts.resistor import Resistor, ResistorValues
from coldiron.resources import resource_dir
from coldiron.sources import SOURCES, SUPPLIES, SupplyValues
from coldiron.sources.flat_topped import CLIP_RATIO, unit_rms
from judging import current, judged
from laboratory import Laboratory, case_of, changed
from lamps import load_lamp, plain_lamp, reservoir
from parts_rig import run_parts

pytestmark = pytest.mark.ngspice


def on_waveform(lamp: Lamp, waveform: str) -> Lamp:
    """The same lamp on another supply."""
    return lamp.model_copy(update={"mains": lamp.mains.model_copy(update={"waveform": waveform})})


@pytest.mark.parametrize("waveform", SUPPLIES)
@pytest.mark.parametrize("envelope", [(), ((0.0, 1.0), (0.01, 1.0), (0.011, 0.4), (1.0, 0.4))])
def test_a_deck_gives_the_voltage_that_the_supply_says(
    laboratory: Laboratory, waveform: str, envelope: tuple[tuple[float, float], ...]
) -> None:
    # Two ways to say the same wave: the macro, run by the engine, and the formula of the kind.
    values = SupplyValues(325.0, 50.0, 30.0, 1e-3, 1e-9, 10.0, envelope=envelope)
    supply = SUPPLIES[waveform]("mains", ("feed", "neutral"), values)
    load = Resistor("R1", ("line", "neutral"), ResistorValues(resistance_ohm=1e4, power_w=10.0))
    neutral = Resistor("R2", ("neutral", "minus"), ResistorValues(resistance_ohm=1.0, power_w=10.0))
    waves = run_parts(laboratory, load, neutral, peak_v=325.0, supply=supply, stop_s=0.04)
    corners = np.array(envelope or ((0.0, 1.0), (1.0, 1.0)))
    height = np.interp(waves.time_s, corners[:, 0], corners[:, 1])
    expected = height * supply.open_v(waves.time_s)
    assert np.abs(waves.v("line", "neutral") - expected).max() < 0.01 * 325.0 / 10


def test_a_flat_topped_mains_has_the_rms_that_is_stated() -> None:
    # Closed form of a clipped sine against its own samples; 0.9 of IEC 61000-4-13 class 2 (from memory).
    supply = SUPPLIES["flat-topped"](
        "mains", ("feed", "neutral"), SupplyValues(325.27, 50.0, 0.0, 0.4, 1e-3, 1e3)
    )
    volt = supply.open_v(np.linspace(0.0, 0.02, 100_001)[:-1])
    assert np.sqrt(np.mean(volt**2)) == pytest.approx(230.0, rel=1e-4)
    assert volt.max() / 325.27 == pytest.approx(CLIP_RATIO / unit_rms(CLIP_RATIO) / np.sqrt(2), rel=1e-6)
    harmonics = np.abs(np.fft.rfft(volt))
    assert 100 * harmonics[[3, 5, 7]] / harmonics[1] == pytest.approx([3.29, 2.29, 1.20], abs=0.01)


def test_a_reservoir_charges_to_the_crest_that_there_is(laboratory: Laboratory) -> None:
    # Without LEDs a reservoir stands at the crest less two junctions, which is 0.934 of the sine's.
    lamp = changed(load_lamp("kerbside-flood"), reservoir=reservoir(100e-6))
    dark = lamp.with_state("string", "open")
    highest_v = {
        waveform: laboratory.readings(on_waveform(dark, waveform), "steady")["bus_highest_V"]
        for waveform in SUPPLIES
    }
    assert highest_v["flat-topped"] / highest_v["sine"] == pytest.approx(0.934, abs=0.005)


def test_a_wider_crest_is_a_longer_pulse(laboratory: Laboratory) -> None:
    lamp = changed(load_lamp("kerbside-flood"), reservoir=reservoir(330e-6))
    sine, flat = [laboratory.readings(on_waveform(lamp, each), "steady") for each in ("sine", "flat-topped")]
    assert abs(flat["power_balance_pct"]) < 0.5
    assert flat["power_factor"] > sine["power_factor"]


@pytest.mark.parametrize("bench", ["switch-on", "steady", "heat", "surge", "burst", "unplug", "dip", "touch"])
def test_every_bench_runs_on_it(laboratory: Laboratory, bench: str) -> None:
    [result] = laboratory.take(case_of(on_waveform(plain_lamp(), "flat-topped"), bench))
    assert result.failure is None


def test_a_lamp_file_may_not_place_a_source() -> None:
    assert set(SOURCES) >= {"sine", "flat-topped sine", "surge generator", "burst generator", "open switch"}
    assert not set(SOURCES) & set(KINDS)


def test_harmonics_are_judged_on_a_sine_only() -> None:
    # IEC 61000-3-2 A.2 wants the test voltage free of harmonics to 0.9 % of the third (from memory).
    lamp = load_lamp("kerbside-flood")
    readings = current(30.0, 0.5, {3: 80.0, 5: 60.0})
    sine, flat = [judged(readings, lamp=on_waveform(lamp, waveform)) for waveform in ("sine", "flat-topped")]
    assert "over" in {one.verdict for one in sine if "61000-3-2" in one.source}
    assert {one.verdict for one in flat if "61000-3-2" in one.source} == {"no limit applies"}


def test_another_waveform_is_one_line_with_those_there_are(tmp_path: Path) -> None:
    found = resource_dir("variants") / "lamps" / "pantry-bulb.toml"
    file = tmp_path / "bulb.toml"
    file.write_text(
        found.read_text(encoding="utf-8").replace("[mains]", '[mains]\nwaveform = "sinus"', 1),
        encoding="utf-8",
    )
    with pytest.raises(FileProblems) as caught:
        load_lamp_file(file)
    [said] = caught.value.problems
    assert (said.key, said.expected, said.nearest) == ("mains.waveform", "flat-topped or sine", "sine")
