"""What tests of the fit run in a worker process, which has no working folder: nothing that wants one."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from coldiron.fit.free import FreeValue, with_values
from coldiron.fit.simulate import simulated
from coldiron.lamp.topologies.linear_sinks import LinearSinksLamp as Lamp
from coldiron.sweep.worker import fresh_lab


def read_true(lamp: Lamp, hidden: Sequence[tuple[FreeValue, float]]) -> np.ndarray:
    """Readings of a lamp with its hidden values, without noise."""
    return simulated(with_values(lamp, hidden), lamp.reading, fresh_lab())
