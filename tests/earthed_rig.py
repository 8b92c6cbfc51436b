"""A lamp in some arrangements against earth, run in a worker."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from coldiron.benches.base import Case, TestConditions
from coldiron.benches.earthed import Arrangement, live_points, touched
from coldiron.lamp.lamp import Lamp
from coldiron.readings.touch import HandCurrent
from coldiron.sweep import worker
from laboratory import Laboratory


def _case(lamp: Lamp) -> Case:
    return Case(
        "test", "as found", lamp, "touch", TestConditions(lamp.mains.voltage_v, lamp.mains.frequency_hz)
    )


@dataclass(frozen=True)
class Seen:
    """What a run tells; without a hand, what none would carry."""

    hand: HandCurrent
    earth_rms_a: float
    string_a: float
    volts_rms: float


def _asked(lamp: Lamp, arrangements: Sequence[Arrangement]) -> list[Seen]:
    lab = worker.fresh_lab()
    runs = [touched(_case(lamp), lab, lamp, arrangement) for arrangement in arrangements]
    nobody = HandCurrent(0.0, 0.0, 0.0, 0.0, 0.0)
    return [Seen(run.hand or nobody, run.earth_rms_a, run.string_a, run.volts_rms("housing")) for run in runs]


def _live(lamp: Lamp, arrangement: Arrangement, points: Sequence[str]) -> dict[str, HandCurrent]:
    return live_points(_case(lamp), worker.fresh_lab(), lamp, arrangement, points)


def asked(laboratory: Laboratory, lamp: Lamp, *arrangements: Arrangement) -> list[Seen]:
    """Runs of a lamp on its own supply, one an arrangement."""
    return laboratory.call(_asked, lamp, arrangements)


def live(
    laboratory: Laboratory, lamp: Lamp, arrangement: Arrangement, *points: str
) -> dict[str, HandCurrent]:
    """Current through a hand on each point."""
    return laboratory.call(_live, lamp, arrangement, points)
