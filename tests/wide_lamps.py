"""Lamps wider than those of the properties: 100 to 277 V, 50 and 60 Hz, 1 to 12 sinks, any part missing.

All invented. They are drawn by number: two integers name a lamp on which a bench gives no answer.
"""

from __future__ import annotations

from typing import Any

import numpy as np

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
from lamps import plain_lamp

VOLTAGES_V = (100.0, 110.0, 115.0, 120.0, 127.0, 200.0, 208.0, 220.0, 230.0, 240.0, 277.0)


def wide_lamp(seed: int, number: int) -> Lamp:
    """Lamp of a number in a series of random lamps; every optional part is missing from about a third."""
    draw = np.random.default_rng([seed, number])

    def between(low: float, high: float) -> float:
        """Even in the logarithm: parts come in decades."""
        return float(np.exp(draw.uniform(np.log(low), np.log(high))))

    def fitted(part: Any) -> Any:
        return part if draw.random() < 2 / 3 else None

    mains_v = float(draw.choice(VOLTAGES_V))
    frequency_hz = float(draw.choice([50.0, 60.0]))
    peak_v = 2**0.5 * mains_v
    led_v, led_a = (float(draw.choice(values)) for values in ([2.9, 3.0, 6.0, 9.0, 18.0], [0.02, 0.06, 0.15]))
    count = int(draw.integers(1, 13))
    each_a = between(0.008, 0.08)
    # A sink chip stands what a rectified mains of its class and a surge behind a varistor bring.
    drain_v = float(draw.choice([250.0, 300.0] if mains_v < 150.0 else [500.0, 600.0]))
    return plain_lamp(
        name=f"wide lamp {seed}-{number}",
        mains=Mains(
            voltage_v=mains_v,
            frequency_hz=frequency_hz,
            resistance_ohm=between(0.05, 2.0),
            inductance_h=between(50e-6, 2e-3),
        ),
        line_fusing=fitted(FusingResistor(resistance_ohm=between(1.0, 220.0), power_w=2.0)),
        neutral_fusing=fitted(FusingResistor(resistance_ohm=between(1.0, 220.0), power_w=2.0)),
        varistor=fitted(
            Varistor(
                ac_rating_v=1.2 * mains_v,
                one_milliamp_voltage_v=1.87 * mains_v,
                clamping_voltage_v=float(draw.uniform(2.9, 3.3)) * mains_v,
                clamping_current_a=float(draw.choice([10.0, 25.0, 50.0])),
                capacitance_f=between(60e-12, 1e-9),
            )
        ),
        bridge=Bridge(
            reverse_voltage_v=float(draw.choice([600.0, 800.0, 1000.0])),
            storage_time_s=between(1e-7, 5e-6),
            junction_capacitance_f=between(5e-12, 50e-12),
        ),
        film=fitted(FilmCapacitor(capacitance_f=between(4.7e-9, 2.2e-6))),
        bleed=fitted(BleedResistor(resistance_ohm=between(47e3, 4.7e6))),
        reservoir=fitted(ReservoirCapacitor(capacitance_f=between(1e-6, 680e-6))),
        string=LedString(
            series=max(1, round(float(draw.uniform(0.4, 0.97)) * peak_v / led_v)),
            parallel=max(1, round(count * each_a / led_a)),
            forward_voltage_v=led_v,
            forward_current_a=led_a,
            slope_ohm=float(draw.uniform(0.05, 0.12)) * led_v / led_a,
            emission=2.57 * led_v / 3.0,
        ),
        sinks=Sinks(
            count=count,
            sense_resistor_ohm=0.6 / each_a,
            drain_voltage_v=drain_v,
            drain_capacitor_f=fitted(between(100e-12, 22e-9)),
            bandwidth_hz=between(30e3, 1e6),
            on_resistance_ohm=between(3.0, 40.0),
            spread_ratio=float(draw.uniform(0.0, 0.1)),
        ),
    )
