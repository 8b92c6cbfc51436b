"""What opens first in a faulty lamp, and between which times: by averages, and by decks where it is quick.

Beyond some mains cycles averages tell: what an element takes at three temperatures, between them by straight
lines, and the heat integrated, once on the fast curve and once on the slow one (`coldiron.heat.fusing`).
Within them a deck does, from the moment of the fault on, at 0° and at 90° of the mains, with the heat of each
element in a node of its own. It has no latch: the opening is found in the run, and the element conducts, as
an arc does, until the next zero of its current.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
from numpy.typing import NDArray

from coldiron.benches import faulty, steady
from coldiron.benches.attempts import first_solved
from coldiron.benches.base import Case, Simulator, snapshot
from coldiron.benches.cycle import Window
from coldiron.benches.settling import Settled, last_state
from coldiron.deck.deck import Deck, InitialConditions, SolverSettings
from coldiron.engine.waves import Array, Waveforms
from coldiron.errors import NoConvergence
from coldiron.heat import fusing
from coldiron.heat.fusing import SPEEDS, Speed
from coldiron.lamp.lamp import Lamp
from coldiron.parts.burning_resistor import BurningResistor, BurningValues
from coldiron.parts.element import Element
from coldiron.parts.part import Part
from coldiron.parts.roles import Melts
from coldiron.readings import surges

ANGLES_DEG = (0.0, 90.0)
QUICK_CYCLES = 3.0
"""What opens within so many cycles by averages is followed in a deck; so long the deck is."""
AT_K = (0.0, 500.0, 1000.0)
SUSPECT_RATIO = fusing.DOUBT_RATIOS[0]
"""Watts over rated ones from which an element may open."""
TIE_RATIO = 0.02
"""What reaches its end within this of the first goes with it: nobody can tell which."""


@dataclass(frozen=True)
class Ends:
    """When one element or fuse would end, alone [s], and what it lets through by then [A²s]."""

    name: str
    part: str
    opens_as: str
    after_s: float
    i2t_a2s: float = math.nan


@dataclass(frozen=True)
class Moment:
    """The run from the moment of a fault to where a part opens in it, and the one that goes on from there.

    `angle_deg` is where on the mains the fault comes, `opens_s` when the part opens in the first run [s].
    """

    angle_deg: float
    opens_s: float
    deck: Deck
    waves: Waveforms
    after_deck: Deck
    after_waves: Waveforms


@dataclass(frozen=True)
class Opening:
    """What opens first: names that nobody can tell apart, when, and the fault that is left by it.

    `fast_s` and `slow_s` end the band of time [s]; `slow_s` is infinite where it may not open at all.
    """

    names: tuple[str, ...]
    leaves: tuple[str, str]
    fast_s: float
    slow_s: float
    i2t_fast_a2s: float
    i2t_slow_a2s: float
    moment: Moment | None = None


@dataclass(frozen=True)
class Glow:
    """An element that takes too much and does not open: how many kelvin above its surroundings it stands."""

    name: str
    over_k: float


def suspects(lamp: Lamp, window: Window) -> list[Element]:
    """Elements of a lamp that take so much that they may open."""
    every = [one for part in lamp.circuit if part.works for one in part.elements()]
    return [one for one in every if one.watts(window) > SUSPECT_RATIO * one.rated_w]


def fuses(lamp: Lamp, window: Window) -> list[Melts]:
    """Fuses of a lamp that carry more than they do for ever."""
    every = lamp.circuit.having(Melts)
    return [fuse for fuse in every if window.rms(fuse.current_a(window)) > fuse.carries_ratio * fuse.rated_a]


def first_opening(case: Case, lab: Simulator, run: Settled, window: Window) -> Opening | Glow | None:
    """What opens first in a settled faulty lamp; what glows in place of it, or None.

    Parameters
    ----------
    case : Case
        The faulty lamp on its supply.
    lab : Simulator
    run, window
        It settled, and its last cycle.
    """
    hot, melting = suspects(case.lamp, window), fuses(case.lamp, window)
    if not hot and not melting:
        return None
    taken_w = _watts_at(case, lab, hot, window)
    averages = {speed: _by_averages(speed, hot, taken_w, melting, window) for speed in SPEEDS}
    quick = {speed: _first_s(averages[speed]) < QUICK_CYCLES * run.cycle_s for speed in SPEEDS}
    moment: Moment | None = None
    ends: dict[Speed, list[list[Ends]]] = {speed: [averages[speed]] for speed in SPEEDS}
    if any(quick.values()):
        healthy = replace(case, lamp=case.lamp.model_copy(update={"failures": ()}))
        before, _ = faulty.settled(healthy, lab)
        for speed in SPEEDS:
            if not quick[speed]:
                continue
            rows = []
            for angle_deg in ANGLES_DEG:
                lamp, deck, waves, found = _moment(case, lab, before, angle_deg, speed, hot, melting)
                # What a deck does not see the end of ends after it.
                late_s = max(deck.stop_s, _first_s(averages[speed]))
                rows.append(
                    [one if one.after_s < math.inf else replace(one, after_s=late_s) for one in found]
                )
                first = next((one for one in found if one.after_s == _first_s(found) < deck.stop_s), None)
                if first is not None:
                    now = replace(case, lamp=lamp)
                    after = _after(now, lab, first, waves, angle_deg)
                    moment = Moment(angle_deg, first.after_s, deck, waves, *after)
            ends[speed] = rows
    fast, slow = (min(ends["fast"], key=_first_s), max(ends["slow"], key=_first_s))
    fast_s, slow_s = _first_s(fast), _first_s(slow)
    if fast_s == math.inf:
        one = max(hot, key=lambda one: taken_w[one.name][0] / one.rated_w, default=None)
        if one is None:
            return None
        law = fusing.curve(one.rated_w, "slow", one.make)
        return Glow(one.name, fusing.stands_at_k(law, AT_K, taken_w[one.name]))
    if any(one.name in _first(slow) for one in hot) and _in_doubt(hot, taken_w, _first(slow)):
        slow_s = math.inf
    earliest = next(one for one in fast if one.name in _first(fast))
    names = tuple(dict.fromkeys([*_first(fast), *_first(slow)]))
    return Opening(
        names,
        (earliest.part, earliest.opens_as),
        fast_s,
        max(slow_s, fast_s),
        earliest.i2t_a2s,
        next(one.i2t_a2s for one in slow if one.name in _first(slow)),
        moment,
    )


def _in_doubt(hot: Sequence[Element], taken_w: Mapping[str, Sequence[float]], names: Sequence[str]) -> bool:
    """Whether what opens first stands where makers' parts may as well glow on."""
    most = max(min(taken_w[one.name]) / one.rated_w for one in hot if one.name in names)
    return most < fusing.DOUBT_RATIOS[1]


def _first_s(ends: Sequence[Ends]) -> float:
    return min((one.after_s for one in ends), default=math.inf)


def _first(ends: Sequence[Ends]) -> tuple[str, ...]:
    """Names of what ends first, and of what ends with it."""
    first_s = _first_s(ends)
    return tuple(one.name for one in ends if one.after_s <= (1.0 + TIE_RATIO) * first_s < math.inf)


def _watts_at(
    case: Case, lab: Simulator, hot: Sequence[Element], window: Window
) -> dict[str, tuple[float, ...]]:
    """What each suspect takes at some kelvin above 25 °C, all of them as hot [W]."""
    rows = {one.name: [one.watts(window)] for one in hot}
    for over_k in AT_K[1:] if hot else ():
        times = 1.0 + fusing.TEMPCO_PER_K * over_k
        warm = faulty.with_parts(case.lamp, [one.scaled(times) for one in hot])
        _, heated = faulty.settled(replace(case, lamp=warm), lab)
        for one in hot:
            [own] = [e for e in warm.circuit[one.part.name].elements() if e.name == one.name]
            rows[one.name].append(own.watts(heated))
    return {name: tuple(watts) for name, watts in rows.items()}


def _by_averages(
    speed: Speed,
    hot: Sequence[Element],
    taken_w: Mapping[str, Sequence[float]],
    melting: Sequence[Melts],
    window: Window,
) -> list[Ends]:
    cycle_s = float(np.ptp(window.time_s))
    found = []
    for one in hot:
        law = fusing.curve(one.rated_w, speed, one.make)
        after_s = fusing.opens_after_s(law, AT_K, taken_w[one.name])
        i2t = window.rms(one.current_a(window)) ** 2 * after_s if after_s < math.inf else math.nan
        found.append(Ends(one.name, one.part.name, one.opens_as, after_s, i2t))
    for fuse in melting:
        rms_a = window.rms(fuse.current_a(window))
        after_s = fuse.melts_after_s(rms_a)[SPEEDS.index(speed)]
        after_s = max(after_s, cycle_s / 2) if after_s < math.inf else after_s
        found.append(Ends(fuse.name, fuse.name, "open", after_s, rms_a**2 * after_s))
    return found


def burning(one: Element, speed: Speed) -> Part:
    """The resistor with its heat that stands for an element in the moment of a fault."""
    law = fusing.curve(one.rated_w, speed, one.make)
    values = BurningValues.model_construct(
        resistance_ohm=one.ohm,
        tempco_per_k=fusing.TEMPCO_PER_K,
        heat_j_per_k=law.heat_j_per_k,
        loss_w_per_k=law.loss_w_per_k,
        loss_w_per_k4=law.loss_w_per_k4,
        opens_k=fusing.OPENS_K,
        provenances={},
    )
    own = one.part
    return BurningResistor(own.name, own.at, values, own.word, seat=own.seat)


def _moment(
    case: Case,
    lab: Simulator,
    before: Settled,
    angle_deg: float,
    speed: Speed,
    hot: Sequence[Element],
    melting: Sequence[Melts],
) -> tuple[Lamp, Deck, Waveforms, list[Ends]]:
    """Run the lamp from the moment of the fault, and find in the run what ends when."""
    burns = {one.name: burning(one, speed) for one in hot if one.alone}
    lamp = faulty.with_parts(case.lamp, list(burns.values()))
    now = replace(case, lamp=lamp)
    deck, waves = moment_run(now, lab, before, angle_deg)
    window = Window(lamp, waves, 0.0, deck.stop_s, case.conditions.operating_point().part_conditions())
    found = []
    for one in hot:
        law = fusing.curve(one.rated_w, speed, one.make)
        part = burns.get(one.name)
        if isinstance(part, BurningResistor):
            current_a, over_k = part.current_a(window), part.over_k(window)
        else:
            current_a = one.current_a(window)
            over_k = _heated_k(law, one.ohm, window.time_s, current_a)
        found.append(
            _ended(one.name, one.part.name, one.opens_as, window.time_s, current_a, over_k >= fusing.OPENS_K)
        )
    for fuse in melting:
        current_a = fuse.current_a(window)
        through = np.concatenate(
            ([0.0], np.cumsum(np.diff(window.time_s) * 0.5 * (current_a[1:] ** 2 + current_a[:-1] ** 2)))
        )
        melted = through >= fuse.melting_a2s[SPEEDS.index(speed)]
        found.append(_ended(fuse.name, fuse.name, "open", window.time_s, current_a, melted))
    return lamp, deck, waves, found


AFTER_CYCLES = 1.5
"""How long the run goes on after a part has opened."""


def _after(
    case: Case, lab: Simulator, ended: Ends, waves: Waveforms, angle_deg: float
) -> tuple[Deck, Waveforms]:
    """Run on with the part open, from the state in which its current had come to zero."""
    opened = case.lamp.circuit.failed(ended.part, ended.opens_as)
    lamp = case.lamp.seen_as(opened)
    cycle_s = 1.0 / case.conditions.frequency_hz
    state = case.conditions.operating_point((angle_deg + 360.0 * ended.after_s / cycle_s) % 360.0)
    start = last_state(lamp, waves, ended.after_s)
    own = replace(case, lamp=lamp)

    def attempt(settings: SolverSettings) -> tuple[Deck, Waveforms]:
        deck = steady.steady_deck(own, state, start, AFTER_CYCLES * cycle_s, settings)
        return deck, lab.run(deck)

    found, _ = first_solved(steady.ATTEMPTS, attempt)
    return found


def moment_run(
    case: Case, lab: Simulator, before: Settled, angle_deg: float, cycles: float = QUICK_CYCLES
) -> tuple[Deck, Waveforms]:
    """Run of a lamp from the moment in which a fault comes into it, at an angle of the mains."""
    state = case.conditions.operating_point(angle_deg)
    at_s = before.start_s + angle_deg / 360.0 * before.cycle_s
    known = {name.removeprefix("v(").removesuffix(")"): name for name in before.waves.vectors}
    nodes = tuple(node for node in (*case.lamp.circuit.nodes(), "mains", "wiring", "feed") if node in known)
    inductors = tuple(
        name for name in ("lmains", *case.lamp.circuit.inductors()) if f"i({name})" in before.waves.vectors
    )
    was = snapshot(before.waves, nodes, inductors, at_s)

    def attempt_from(start: InitialConditions, settings: SolverSettings) -> tuple[Deck, Waveforms]:
        deck = steady.steady_deck(case, state, start, cycles * state.cycle_s, settings)
        return deck, lab.run(deck)

    try:
        found, _ = first_solved(steady.ATTEMPTS, partial(attempt_from, was))
    except NoConvergence:  # a whole lamp's state may contradict a broken one: rest never does
        found, _ = first_solved(steady.ATTEMPTS, partial(attempt_from, InitialConditions()))
    return found


def _heated_k(law: fusing.Curve, ohm: float, time_s: Array, current_a: Array) -> Array:
    """Kelvin above 25 °C of an element that hardly changes its own current, step by step."""
    over_k = np.zeros_like(time_s)
    for n, step_s in enumerate(np.diff(time_s)):
        squared = 0.5 * (current_a[n] ** 2 + current_a[n + 1] ** 2)
        taken_w = squared * ohm * (1.0 + fusing.TEMPCO_PER_K * min(over_k[n], fusing.OPENS_K))
        over_k[n + 1] = over_k[n] + step_s * (taken_w - fusing.loss_w(law, over_k[n])) / law.heat_j_per_k
    return over_k


def _ended(
    name: str, part: str, opens_as: str, time_s: Array, current_a: Array, is_past: NDArray[np.bool_]
) -> Ends:
    """When a current ends for good: at its first zero after what carries it has melted."""
    past = np.flatnonzero(is_past)
    if not past.size:
        return Ends(name, part, opens_as, math.inf)
    zero = next_zero(current_a, int(past[0]))
    if zero is None:
        return Ends(name, part, opens_as, float(time_s[-1]), surges.i2t_a2s(time_s, current_a))
    return Ends(
        name,
        part,
        opens_as,
        float(time_s[zero]),
        surges.i2t_a2s(time_s[: zero + 1], current_a[: zero + 1]),
    )


NO_CURRENT_RATIO = 1e-3
"""Below this share of its peak a current counts as none: half waves rest on zero without crossing it."""


def next_zero(current_a: Array, after: int) -> int | None:
    """Index of the first point at or behind `after` where a current has come to zero; None where it does not.

    Examples
    --------
    >>> next_zero(np.array([0.0, 2.0, 1.0, -1.0, -2.0]), 1), next_zero(np.array([1.0, 1.0]), 0)
    (3, None)
    """
    later = current_a[after:]
    if not later.size:
        return None
    none = np.abs(later) <= NO_CURRENT_RATIO * float(np.abs(current_a).max())
    turned = np.sign(later) != np.sign(later[0])
    found = np.flatnonzero(none | turned)
    return after + int(found[0]) if found.size else None
