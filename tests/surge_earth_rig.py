"""One surge to earth on a lamp, run in a worker."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from coldiron.benches import steady
from coldiron.benches.base import Case, TestConditions
from coldiron.benches.surge_earth import Blow, clamps_to_earth, fired
from coldiron.lamp.lamp import Lamp
from coldiron.parts.led_string import StringSection
from coldiron.readings.sampling import integral
from coldiron.sweep import worker
from laboratory import Laboratory


@dataclass(frozen=True)
class Surged:
    """What a surge did: volts over the board, amps in earth, each section forward, volts at the drain."""

    board_v: float
    feed_v: float
    minus_v: float
    earth_a: float
    forward_a: tuple[float, ...]
    reverse_v: tuple[float, ...]
    drain_v: float
    late_a: float
    earth_c: float


def _surged(lamp: Lamp, blows: Sequence[tuple[Blow, int]]) -> list[Surged]:
    lab = worker.fresh_lab()
    case = Case(
        "t", "as found", lamp, "surge-earth", TestConditions(lamp.mains.voltage_v, lamp.mains.frequency_hz)
    )
    before = steady.settled(case, lab, case.conditions.operating_point())
    found = []
    for blow, sections in blows:
        run = fired(case, lab, before, blow, sections)
        w = run.window
        cut = w.lamp.circuit.having(StringSection)
        late = w.time_s > 1e-3
        clamps = [abs(clamp.current_a(w)[late]).max() for clamp in clamps_to_earth(w.lamp)]
        found.append(
            Surged(
                run.board_v,
                run.over_board_v("bus"),
                run.over_board_v("minus"),
                run.earth_a,
                tuple(float(section.current_a(w).max()) for section in cut),
                tuple(float(-section.across_v(w).min()) for section in cut),
                float(w.drains_v.max()),
                float(max(clamps, default=0.0)),
                integral(w.time_s, w.i("vearth")),
            )
        )
    return found


def surged(laboratory: Laboratory, lamp: Lamp, *blows: tuple[Blow, int]) -> list[Surged]:
    """Surges on a settled lamp, each with so many sections."""
    return laboratory.call(_surged, lamp, blows)
