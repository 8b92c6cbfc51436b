"""One insulation test of a lamp, run in a worker."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from coldiron.benches.base import Case, TestConditions
from coldiron.benches.earthed import beside_housing
from coldiron.benches.insulation import applied
from coldiron.lamp.lamp import Lamp
from coldiron.sweep import worker
from laboratory import Laboratory


@dataclass(frozen=True)
class Tested:
    """Mean and r.m.s. current to the ground of the tester [A], and the peak between line and neutral [V]."""

    mean_a: float
    rms_a: float
    between_v: float


def _tested(lamp: Lamp, volt: float, direct: bool, tied: bool) -> Tested:
    lab = worker.fresh_lab()
    own = TestConditions(lamp.mains.voltage_v, lamp.mains.frequency_hz)
    case = Case("t", "as found", lamp, "insulation", own)
    run = applied(case, lab, beside_housing(lamp), volt, direct=direct, tied=tied)
    w = run.window
    between_v = float(np.abs(w.v("line", "neutral")).max())
    return Tested(w.mean(run.current_a), w.rms(run.current_a), between_v)


def under_test(
    laboratory: Laboratory, lamp: Lamp, volt: float, *, direct: bool = False, tied: bool = True
) -> Tested:
    """One test of a lamp."""
    return laboratory.call(_tested, lamp, volt, direct, tied)
