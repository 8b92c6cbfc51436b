"""Fault currents without inductance: at each moment the voltages along a loop add up to that of the mains."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from scipy.optimize import brentq

from coldiron.lamp.lamp import Lamp
from coldiron.parts.diode import junction

THERMAL_V = 1.380649e-23 * 298.15 / 1.602176634e-19


def drop_v(lamp: Lamp, current_a: float) -> float:
    """Voltage of one rectifier junction by the diode law, its series resistance included [V]."""
    law = junction(lamp.circuit["bridge"].values)
    return law.emission * THERMAL_V * math.log1p(current_a / law.saturation_a) + law.series_ohm * current_a


def quasi_static_a(peak_v: float, held_v: Callable[[float], float]) -> np.ndarray:
    """Current over half a sine, at each moment by the voltages along its loop [A]; no inductance.

    `held_v` is what the loop holds at a current [V]. Kirchhoff's voltage law, solved point by point.
    """
    sines_v = peak_v * np.sin(np.linspace(0.0, math.pi, 2001))
    return np.array(
        [
            0.0 if volt <= held_v(1e-9) else brentq(lambda i, v=volt: held_v(i) - v, 0.0, 2e3)
            for volt in sines_v
        ]
    )
