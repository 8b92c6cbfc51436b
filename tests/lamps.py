"""Lamps for tests: plain ones by name, random plausible ones for properties. All invented."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from hypothesis import strategies as st

from coldiron.lamp.body import Housing, Ratings
from coldiron.lamp.lamp import Lamp as AnyLamp
from coldiron.lamp.load import load_lamp as loaded
from coldiron.lamp.parts import (
    BleedResistor,
    Bridge,
    FilmCapacitor,
    FusingResistor,
    LedString,
    Mains,
    ReservoirCapacitor,
    Sinks,
)
from coldiron.lamp.topologies.linear_sinks import LinearSinksLamp as Lamp
from coldiron.lamp.varistor import Varistor


def plain_lamp(**parts: Any) -> Lamp:
    """A 230 V lamp without reservoir; any part can be given or taken away (None)."""
    whole: dict[str, Any] = {
        "name": "test lamp",
        "mains": Mains(voltage_v=230.0, frequency_hz=50.0),
        "line_fusing": FusingResistor(resistance_ohm=10.0, power_w=2.0),
        "neutral_fusing": None,
        "varistor": Varistor(
            ac_rating_v=275.0, one_milliamp_voltage_v=430.0, clamping_voltage_v=710.0, clamping_current_a=25.0
        ),
        "bridge": Bridge(),
        "film": FilmCapacitor(capacitance_f=100e-9),
        "bleed": BleedResistor(resistance_ohm=470e3),
        "reservoir": None,
        "string": LedString(
            series=82, parallel=4, forward_voltage_v=3.0, forward_current_a=0.06, slope_ohm=3.2
        ),
        "sinks": Sinks(count=3, sense_resistor_ohm=15.0),
        "housing": Housing(earthed=True),
        "ratings": Ratings(power_w=30.0),
    }
    whole.update(parts)
    return Lamp(**whole)


def reservoir(capacitance_f: float, **values: Any) -> ReservoirCapacitor:
    """A reservoir capacitor with typical values."""
    return ReservoirCapacitor(capacitance_f=capacitance_f, **values)


@st.composite
def lamps(draw: st.DrawFn) -> Lamp:
    """Random plausible lamps on 120 or 230 V, with and without each optional part."""
    voltage_v, frequency_hz = draw(st.sampled_from([(120.0, 60.0), (230.0, 50.0), (240.0, 50.0)]))
    peak_v = 2**0.5 * voltage_v
    string_v = peak_v * draw(st.floats(0.5, 0.92))
    fusing = st.one_of(
        st.none(), st.floats(1.0, 100.0).map(lambda ohm: FusingResistor(resistance_ohm=ohm, power_w=2.0))
    )
    varistor = Varistor(
        ac_rating_v=1.2 * voltage_v,
        one_milliamp_voltage_v=1.85 * voltage_v,
        clamping_voltage_v=3.1 * voltage_v,
        clamping_current_a=25.0,
    )
    return plain_lamp(
        mains=Mains(voltage_v=voltage_v, frequency_hz=frequency_hz),
        line_fusing=draw(fusing),
        neutral_fusing=draw(fusing),
        varistor=draw(st.sampled_from([None, varistor])),
        film=draw(st.one_of(st.none(), st.floats(10e-9, 1e-6).map(lambda f: FilmCapacitor(capacitance_f=f)))),
        bleed=draw(st.one_of(st.none(), st.floats(47e3, 2e6).map(lambda r: BleedResistor(resistance_ohm=r)))),
        reservoir=draw(st.one_of(st.none(), st.floats(1e-6, 150e-6).map(reservoir))),
        string=LedString(
            series=max(1, round(string_v / 3.1)),
            parallel=draw(st.integers(1, 6)),
            forward_voltage_v=3.0,
            forward_current_a=0.06,
            slope_ohm=draw(st.floats(2.0, 6.0)),
        ),
        sinks=Sinks(
            count=draw(st.integers(1, 6)),
            sense_resistor_ohm=draw(st.floats(9.0, 40.0)),
            drain_capacitor_f=draw(st.one_of(st.none(), st.floats(100e-12, 10e-9))),
        ),
    )


def load_lamp(name: str | Path) -> Lamp:
    """A lamp with linear sinks, shipped or from a file."""
    lamp = loaded(name)
    assert isinstance(lamp, Lamp)
    return lamp


def linear(lamp: AnyLamp) -> Lamp:
    """A lamp whose sinks are linear, as such."""
    assert isinstance(lamp, Lamp)
    return lamp
