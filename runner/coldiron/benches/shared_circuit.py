"""Shared circuit: how many such lamps on one residual-current device, and on one breaker.

Standing currents of protective conductors add up in phase: a bridge makes the lower of both poles,
whichever way a plug is in. A device of 30 mA may trip from 15 mA on.

N equal lamps on one source are one lamp behind N times its impedance, the current N times its own: exact,
so that one deck tells for any N, and no copies are run. Adding up currents of single lamps would be three
to five times off at forty lamps. A breaker sees the greatest 10 ms of the switch-on as a current that would
bring as much I²t, and holds below 3 (B) or 5 (C) times its rated current, trips from 5 or 10 times on.

References
----------
IEC 60898-1, instantaneous tripping of B and C; IEC 61008-1, from half the rated residual current: from
memory. The reduction of an inrush to 10 ms is a stated model of ours, and no maker's curve.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from typing import Final, NamedTuple

import numpy as np

from coldiron.benches import steady, switch_on
from coldiron.benches.attempts import first_solved
from coldiron.benches.base import BenchResult, Case, Simulator
from coldiron.benches.cycle import Window
from coldiron.benches.earthed import Arrangement, touched
from coldiron.deck.deck import Deck, SolverSettings
from coldiron.engine.waves import Array, Waveforms
from coldiron.lamp.lamp import Lamp
from coldiron.readings.surges import i2t_a2s

RCD_A: Final = 15e-3
"""Half of 30 mA."""
RATED_A: Final = 16.0
CURVES: Final = {"b16": (3.0, 5.0), "c16": (5.0, 10.0)}
"""Times the rated current below which a breaker holds, and from which it trips."""
WINDOW_S: Final = 10e-3
MOST_LAMPS: Final = 4096


class Inrush(NamedTuple):
    """Switch-on of so many lamps: peak [A], and the current of the same I²t over 10 ms [A]."""

    peak_a: float
    equivalent_a: float


def take(case: Case, simulator: Simulator) -> BenchResult:
    """Lamps on a residual-current device of 30 mA and on breakers of 16 A, curves B and C."""
    lamp, readings = case.lamp, dict[str, float | str]()
    decks: dict[str, Deck] = {}
    waves: dict[str, Waveforms] = {}
    how: dict[str, str] = {}
    run = steady.settled(case, simulator, case.conditions.operating_point())
    cycle = Window(lamp, run.waves, run.start_s, run.stop_s)
    decks["steady"], waves["steady"], how["steady"] = run.deck, run.waves, run.how
    if lamp.housing.earthed:
        earth = touched(case, simulator, lamp, Arrangement())
        readings["shared_rcd_lamps"] = float(math.floor(RCD_A / earth.earth_rms_a))
        decks["earth"], waves["earth"], how["earth"] = earth.deck, earth.waves, earth.how
    by_current = math.floor(RATED_A / cycle.rms(cycle.input_a))
    readings["shared_steady_lamps"] = float(by_current)
    angle_deg = switch_on.worst_angle_deg(case, simulator, case.conditions.operating_point())
    seen: dict[int, Inrush] = {}

    def inrush(lamps: int) -> Inrush:
        if lamps not in seen:
            behind = replace(case, lamp=behind_more(lamp, lamps))
            (deck, wave), said = first_solved(switch_on.PULSE, partial(_closed, behind, simulator, angle_deg))
            if lamps == 1:
                decks["one lamp"], waves["one lamp"], how["one lamp"] = deck, wave, said
            one_a = np.abs(wave["i(vinput)"])
            equivalent_a = math.sqrt(greatest_i2t(wave.time_s, one_a, WINDOW_S) / WINDOW_S)
            seen[lamps] = Inrush(lamps * float(one_a.max()), lamps * equivalent_a)
        return seen[lamps]

    readings["shared_one_peak_A"] = inrush(1).peak_a
    for curve, (holds, trips) in CURVES.items():
        by_inrush = most_below(lambda lamps: inrush(lamps).equivalent_a, holds * RATED_A)
        surely = most_below(lambda lamps: inrush(lamps).equivalent_a, trips * RATED_A) + 1
        readings[f"shared_{curve}_hold_lamps"] = float(min(by_inrush, by_current))
        if surely < MOST_LAMPS:
            readings[f"shared_{curve}_trip_lamps"] = float(surely)
        readings[f"shared_{curve}_bound"] = "inrush" if by_inrush < by_current else "steady current"
    readings["shared_all_peak_A"] = inrush(max(1, int(float(readings["shared_b16_hold_lamps"])))).peak_a
    return BenchResult(readings, decks, waves, how)


def behind_more(lamp: Lamp, lamps: int) -> Lamp:
    """One lamp behind so many times its impedance: what each of so many on one source sees."""
    mains = lamp.mains
    shared = {
        "resistance_ohm": lamps * mains.resistance_ohm,
        "inductance_h": lamps * mains.inductance_h,
        "damping_ohm": lamps * mains.damping_ohm,
    }
    return lamp.model_copy(update={"mains": mains.model_copy(update=shared)})


def _closed(
    case: Case, simulator: Simulator, angle_deg: float, settings: SolverSettings
) -> tuple[Deck, Waveforms]:
    stop_s = switch_on.FIRST_CYCLES * case.conditions.operating_point().cycle_s
    deck = switch_on.switch_on_deck(case, angle_deg, stop_s, settings, keep=("v(bus)", "i(vinput)"))
    return deck, simulator.run(deck)


def greatest_i2t(time_s: Array, current_a: Array, window_s: float) -> float:
    """Greatest I²t of any stretch of a length [A²s].

    Examples
    --------
    >>> time_s = np.array([0.0, 1.0, 2.0, 3.0])
    >>> round(greatest_i2t(time_s, np.array([1.0, 1.0, 1.0, 1.0]), 2.0), 6)
    2.0
    """
    so_far = np.array(
        [i2t_a2s(time_s[: n + 1], current_a[: n + 1]) if n else 0.0 for n in range(len(time_s))]
    )
    ends = np.interp(np.minimum(time_s + window_s, time_s[-1]), time_s, so_far)
    return float((ends - so_far).max())


def most_below(value: Callable[[int], float], bound: float) -> int:
    """Most lamps whose value stays below a bound; it grows with their number. 0 where one is too many.

    Examples
    --------
    >>> most_below(lambda lamps: 2.0 * lamps, 11.0), most_below(lambda lamps: 5.0, 1.0)
    (5, 0)
    """
    if value(1) >= bound:
        return 0
    low, high = 1, 2
    while high < MOST_LAMPS and value(high) < bound:
        low, high = high, 2 * high
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if value(middle) < bound else (low, middle)
    return low
