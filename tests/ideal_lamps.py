"""Lamps of the other topologies with nearly ideal parts, for closed forms. All invented."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from coldiron.errors import Problem
from coldiron.lamp.further import further_parts
from coldiron.lamp.lamp import Lamp
from coldiron.lamp.load import lamp_from
from coldiron.lamp.parts import LedString

HALF_V = 0.4
"""What one ideal diode takes: the least that a file may say, at the current it is told for."""
STIFF = {"resistance": "1 mΩ", "inductance": "1 µH"}
BRIDGE = {
    "forward_voltage": HALF_V,
    "forward_current": "60 mA",
    "series_resistance": "1 mΩ",
    "emission": 1.0,
    "junction_capacitance": "1 pF",
    "storage_time": "1 ns",
    "stray_capacitance": "1 pF",
}


def lamp_of(**tables: Any) -> Lamp:
    """Lamp of the tables of a file."""
    return lamp_from({"name": "ideal", "housing": {"earthed": False}, **tables}, Path("ideal.toml"))


def steep_string(volt: float, ampere: float) -> dict[str, Any]:
    """LEDs that hold a voltage at a current and hardly another one beside it."""
    leds = max(1, round(volt / 30.0))
    emission = 0.19 * volt / leds
    return {
        "series": leds,
        "forward_voltage": volt / leds,
        "forward_current": ampere,
        "slope": 0.0262 * emission / ampere,
        "emission": emission,
        "continuous_current": 2 * ampere,
    }


def ideal_dropper(
    capacitance_f: float, held_v: float, ampere: float, voltage_v: float, frequency_hz: float, **parts: Any
) -> Lamp:
    """Dropper, bridge, and a string that holds a voltage together with two diodes of the bridge."""
    return lamp_of(
        topology="capacitive dropper",
        mains={"voltage": voltage_v, "frequency": frequency_hz, **STIFF},
        dropper={"capacitance": capacitance_f, "series_resistance": 0.05},
        bridge=BRIDGE,
        reservoir={"capacitance": "470 µF", "esr": 0.01, "esr_100khz": 0.01},
        string=steep_string(held_v - 2 * HALF_V, ampere),
        **parts,
    )


def ideal_taps(
    taps: int, top_v: float, voltage_v: float, frequency_hz: float, step_ratio: float
) -> tuple[Lamp, list[float], list[float]]:
    """Tapped string of equal segments; bus voltages at which its taps conduct, and of its LEDs there."""
    ampere, sense_v = 0.06, 0.6
    segment_v = (top_v - 2 * HALF_V - sense_v) / taps
    lamp = lamp_of(
        topology="tapped string",
        mains={"voltage": voltage_v, "frequency": frequency_hz, **STIFF},
        bridge=BRIDGE,
        string={**steep_string(segment_v, ampere), "segments": taps},
        sinks={
            "sense_voltage": sense_v,
            "sense_resistor": sense_v / ampere,
            "step": step_ratio,
            "on_resistance": 0.1,
            "power": "20 W",
        },
    )
    string = LedString.model_validate(getattr(lamp, "string").model_dump(exclude={"segments"}))  # noqa: B009
    volts, lit_v, before_a = [], [], 0.0
    for tap in range(1, taps + 1):
        # While its current rises from that of the tap before, a tap's voltage rises with it: the mean counts.
        own_a = ampere * (1.0 - step_ratio * (taps - tap))
        rising_a = np.linspace(before_a, own_a, 1001)[1:]
        led_v = tap * float(np.mean([string.voltage_v(a) for a in rising_a]))
        sensed_v = sense_v * float(np.mean(rising_a)) / ampere
        volts.append(led_v + 2 * HALF_V + sensed_v)
        lit_v.append(tap * string.voltage_v(own_a))
        before_a = own_a
    return lamp, volts, lit_v


def ideal_sinks(topology: str, needed_v: float) -> tuple[Lamp, float]:
    """Half-wave lamp whose string, diode and sinks together need a voltage."""
    ampere, sense_v = 0.06, 0.6
    diode = {key: value for key, value in BRIDGE.items() if key != "stray_capacitance"}
    lamp = lamp_of(
        topology=topology,
        mains={"voltage": 230.0, "frequency": 50.0, **STIFF},
        rectifier=diode,
        string=steep_string(needed_v - HALF_V - sense_v, ampere),
        sinks={
            "count": 1,
            "sense_voltage": sense_v,
            "sense_resistor": sense_v / ampere,
            "on_resistance": 0.1,
            "power": "20 W",
        },
    )
    return lamp, needed_v


def with_parts(lamp: Lamp, file: Path, *tables: tuple[str, dict[str, Any]]) -> Lamp:
    """A lamp with further parts, as a file would describe them."""
    problems: list[Problem] = []
    further = further_parts(dict(tables), str(file), problems)
    assert problems == []
    return lamp.model_copy(update={"further": (*lamp.further, *further)})
