"""Lamps with hidden values for tests of the fit, and what a meter reads on them. All invented."""

from __future__ import annotations

from typing import Any

import numpy as np

from coldiron.fit import meter
from coldiron.fit.free import FreeValue, free_values, with_values
from coldiron.fit.simulate import as_read, simulated
from coldiron.fit.solve import FitWork
from coldiron.lamp.body import BenchReading, HeatPath
from coldiron.lamp.lamp import Lamp
from coldiron.sweep.worker import fresh_lab
from lamps import plain_lamp

KEYS = ("sinks.sense_resistor", "string.forward_voltage", "heat.housing_to_ambient", "heat.die_to_board")
HIDDEN = (13.1, 3.12, 1.9, 26.0)
"""What the lamp of the tests really has; its file starts from 15 Ω, 3.0 V, 1.5 K/W and 20 K/W."""


def reading(what: str, state: str, tolerance: float, **more: Any) -> BenchReading:
    """A reading whose value is still to be taken."""
    return BenchReading(what=what, state=state, value=1.0, tolerance_ratio=tolerance, **more)  # type: ignore[arg-type]


def file_lamp() -> Lamp:
    """The lamp as its file describes it, with readings yet to be taken."""
    return plain_lamp(
        heat=HeatPath(),
        reading=(
            reading("input current", "cold", 0.02),
            reading("input power", "cold", 0.02),
            reading("string voltage", "cold", 0.01),
            reading("input power", "hot", 0.02, ambient_c=22.0),
            reading("housing temperature", "hot", 0.03, ambient_c=22.0),
            reading("die temperature", "hot", 0.04, ambient_c=22.0),
        ),
    )


def free() -> list[FreeValue]:
    """The values to be found."""
    return free_values(file_lamp(), KEYS)


def read_true(lamp: Lamp, hidden: tuple[float, ...]) -> np.ndarray:
    """Readings of the lamp with its hidden values, without noise; runs in a worker."""
    return simulated(with_values(lamp, list(zip(free(), hidden, strict=True))), lamp.reading, fresh_lab())


def noisy_work(true: np.ndarray, seed: int) -> FitWork:
    """A fit to readings with meter noise: any error within the tolerance is as likely as any other."""
    lamp = as_read(file_lamp(), true)
    reach = np.array([meter.tolerance(one) for one in lamp.reading])
    noise = np.random.default_rng(seed).uniform(-1.0, 1.0, len(reach)) * reach
    return FitWork(as_read(lamp, true + noise), tuple(free()))
