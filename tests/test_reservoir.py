"""The reservoir capacitor: its resistance over frequency and temperature, and the voltage it is judged by."""

from __future__ import annotations

import math
import re

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from coldiron.benches.base import lamp_nodes
from coldiron.benches.stress import ratings
from coldiron.deck.body import part_text
from coldiron.deck.deck import Deck
from coldiron.deck.guard import check_deck
from coldiron.parts.electrolytic import Branches, Electrolytic, branches
from coldiron.parts.part import PartConditions
from laboratory import Laboratory, case_of, changed
from lamps import plain_lamp, reservoir


def impedance_ohm(values: Branches, frequency_hz: float) -> complex:
    """Closed form of the branches that the stage prints."""
    s = 2j * math.pi * frequency_hz
    loss_ohm = values.loss_ohm / (1 + s * values.loss_ohm * values.loss_f)
    return values.electrolyte_ohm + loss_ohm + 1 / (s * values.capacitance_f)


@given(
    capacitance_f=st.floats(1e-6, 1e-3),
    esr_ohm=st.floats(0.05, 100.0),
    share=st.floats(0.05, 1.0),
)
def test_both_told_resistances_are_those_of_the_branches(
    capacitance_f: float, esr_ohm: float, share: float
) -> None:
    part = reservoir(capacitance_f, esr_ohm=esr_ohm, esr_100khz_ohm=max(1e-3, share * esr_ohm))
    values = branches(part, 25.0)
    assert impedance_ohm(values, 120.0).real == pytest.approx(esr_ohm, rel=1e-3)
    assert impedance_ohm(values, 100e3).real == pytest.approx(part.high_series_ohm, rel=1e-3)


@pytest.mark.parametrize("frequency_hz", [300.0, 1e3, 3e3, 10e3])
def test_between_them_it_falls_as_makers_say(frequency_hz: float) -> None:
    # Makers' application guides: ESR = D / (2 pi f C) + ESR_hf; here D = 0.075, ESR_hf = half of 0.15/(w C).
    part = reservoir(22e-6)
    told_ohm = 0.075 / (2 * math.pi * frequency_hz * 22e-6) + part.high_series_ohm
    assert impedance_ohm(branches(part, 25.0), frequency_hz).real == pytest.approx(told_ohm, rel=0.2)


def test_the_default_allows_the_ripple_that_makers_allow() -> None:
    # A maker's table of frequency multipliers for aluminium electrolytics gives 1.10 to 1.40 at 10 and 20 kHz
    # over 120 Hz, 1.25 in the middle: heat alike, the resistances go as 1 / multiplier².
    part = reservoir(22e-6)
    multiplier = math.sqrt(part.series_ohm / part.electrolyte_ohm(25.0))
    assert 1.25 < multiplier < 1.45


def test_a_dried_capacitor_has_lost_electrolyte_not_dielectric() -> None:
    # Nine tenths of an ESR that has grown fivefold are the electrolyte's.
    dried = reservoir(22e-6, esr_ohm=5 * reservoir(22e-6).series_ohm)
    assert dried.high_series_ohm == pytest.approx(0.9 * dried.series_ohm)


@pytest.mark.ngspice
@pytest.mark.parametrize(("frequency_hz", "told"), [(120.0, "series_ohm"), (100e3, "high_series_ohm")])
def test_the_printed_stage_has_the_told_resistance(
    laboratory: Laboratory, frequency_hz: float, told: str
) -> None:
    # A sine current of 1 A into the stage that runs: resistance is what is in phase, 2 · mean(v·i).
    part = reservoir(22e-6)
    bus = part_text(Electrolytic("reservoir", ("bus", "minus"), part), PartConditions())
    cycle_s, cycles = 1 / frequency_hz, 10
    title = f"reservoir alone, {frequency_hz:g} per second"
    text = "\n".join(
        [
            f"* {title}",
            f"Bdrive 0 bus I = sin({2 * math.pi * frequency_hz:.12g}*time)",
            "Rdrive bus 0 1e9",
            bus,
            ".save v(bus) i(vreservoir)",
            ".options method=gear reltol=1e-5 abstol=1e-9 chgtol=1e-13 temp=25 tnom=25",
            f".tran {cycle_s / 500:.12g} {cycles * cycle_s:.12g} 0 {cycle_s / 500:.12g} uic",
            ".end",
            "",
        ]
    )
    check_deck(text)
    waves = laboratory.run(Deck(text, title, ("v(bus)", "i(vreservoir)"), cycles * cycle_s))
    time_s = np.linspace((cycles - 2) * cycle_s, cycles * cycle_s, 4001)
    volt = np.interp(time_s, waves.time_s, waves["v(bus)"])
    ampere = np.interp(time_s, waves.time_s, waves["i(vreservoir)"])
    measured_ohm = 2 * np.trapezoid(volt * ampere, time_s) / (2 * cycle_s)
    assert measured_ohm == pytest.approx(getattr(part, told), rel=0.01)


@pytest.mark.ngspice
def test_in_the_cold_less_rushes_in(laboratory: Laboratory) -> None:
    # From memory of makers' curves: a wide-range 400 V type at -25 °C has 5 to 20 times its ESR at 25 °C.
    part = reservoir(22e-6)
    assert 5 < part.electrolyte_ohm(-25.0) / part.electrolyte_ohm(25.0) < 20
    lamp = plain_lamp(reservoir=part)
    warm_a, cold_a = (
        laboratory.readings(lamp, "switch-on", ambient_c=ambient_c)["inrush_peak_A"]
        for ambient_c in (25.0, -25.0)
    )
    # Closed form: at first all resistance in the loop limits the current, the dielectric's loss bridged.
    loop_ohm = 10.0 + 0.4 + 0.16
    bound = (loop_ohm + part.electrolyte_ohm(25.0)) / (loop_ohm + part.electrolyte_ohm(-25.0))
    assert bound < cold_a / warm_a < 1.6 * bound


@pytest.mark.ngspice
def test_its_own_voltage_is_its_charge(laboratory: Laboratory) -> None:
    # ∫ i dt = C ΔV on the dielectric, whatever drops across the resistances; the terminal sees more.
    lamp = plain_lamp(varistor=None, reservoir=reservoir(22e-6))
    case = case_of(lamp, "surge", surge_angles_deg=(90.0,), surge_polarities=(1,))
    [result] = laboratory.take(case, keep_waves=True)
    assert result.waves is not None
    waves = result.waves["surge"]
    charge_c = np.trapezoid(waves["i(vreservoir)"], waves["time"])
    assert waves["v(reservoir)"][-1] - waves["v(reservoir)"][0] == pytest.approx(charge_c / 22e-6, rel=0.01)
    own_v, bus_v = (float(result.readings[f"surge_{part}_peak_V"]) for part in ("reservoir", "bus"))
    assert own_v == pytest.approx(waves["v(reservoir)"].max(), rel=1e-6)
    assert bus_v > 1.1 * own_v


@pytest.mark.ngspice
def test_it_is_judged_by_its_own_voltage_and_the_film_by_that_of_the_bus(laboratory: Laboratory) -> None:
    lamp = plain_lamp(varistor=None, reservoir=reservoir(22e-6))
    for bench, own, terminal in (
        ("surge", "surge_reservoir_peak_V", "surge_bus_peak_V"),
        ("steady", "reservoir_highest_V", "bus_highest_V"),
    ):
        readings = laboratory.readings(lamp, bench)
        held = {
            rated.part: rated.reading
            for rated in ratings(lamp, readings, 50.0)
            if rated.part.endswith("voltage")
        }
        assert held["reservoir, voltage"] == own
        assert held["film, voltage"] == terminal


@pytest.mark.ngspice
def test_a_small_one_is_driven_over_its_surge_voltage(laboratory: Laboratory) -> None:
    lamp = plain_lamp(varistor=None, reservoir=reservoir(2.2e-6))
    readings = laboratory.readings(lamp, "surge", surge_level_v=2000.0)
    [rated] = [r for r in ratings(lamp, readings, 50.0) if r.part == "reservoir, voltage"]
    assert rated.most == pytest.approx(440.0)
    assert rated.margin_pct(readings) < 0


@pytest.mark.ngspice
def test_every_node_of_a_lamp_is_named_for_a_restart(laboratory: Laboratory) -> None:
    lamp = changed(plain_lamp(), reservoir=reservoir(22e-6))
    [result] = laboratory.take(case_of(lamp, "surge"))
    text = result.decks["surge"]
    begun = set(re.findall(r"^\.ic v\((\w+)\)", text, re.MULTILINE))
    assert {"reservoir", "reservoir_a", "reservoir_r"} <= set(lamp_nodes(lamp)) & begun
    elements = re.findall(r"^[RCDLVM]\w+ (\w+) (\w+)", text, re.MULTILINE)
    assert {node for pair in elements for node in pair} - {"0"} - begun == set()
