"""What every end state of a lamp reads: one settled run a severity, and the slopes of the healthy lamp.

What the spread of good parts does to a reading is taken from the healthy lamp, each value moved to both ends
of its half-width, and is carried over to a broken one as a share of its reading. That is 2 runs a value and 1
a severity in place of dozens a state; the test against lamps that are each run by themselves tells what it
costs.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from coldiron.benches.base import Case, TestConditions
from coldiron.diagnosis.endstates import HEALTHY, Breakage, EndState, applied, candidates, followed
from coldiron.diagnosis.likelihood import UNTOLD, Array, Severity, overlaps
from coldiron.diagnosis.look import Look
from coldiron.diagnosis.measurable import Kind, Measurable, measurables
from coldiron.diagnosis.spread import MAINS, Spread, moved, spreads
from coldiron.diagnosis.taken import Reads, look_of, value_on
from coldiron.lamp.lamp import Lamp
from coldiron.sweep.case_result import CaseResult

_SHORT_BELOW = math.log10(0.6)
BENCH = "steady"
FOLLOWING = "fault"
Run = Callable[[Sequence[Case]], Sequence[CaseResult]]
"""Runs cases, in whatever way, and returns what they gave in their order."""

DRIVEN_RATIO = 1.25
"""From so many times the watts of the healthy lamp on a fault is followed to its end, and where nothing opens
the slopes for mains and LEDs are the state's own."""
SHORT_RATIO = 10.0
"""From so many times the current of the healthy lamp on a fault is a dead short (our choice)."""
MODEL_RATIO = 0.01
"""Share by which a run may be off a real lamp of just these values, besides spread and meter (our choice)."""
LOT = 1.2
"""How much wider than their half-widths values are taken as spread: those are guesses too. With 1 the set
that is said to hold nine tenths held 88 % where lamps were spread half as wide again, with 1.2 90 % (plug
readings)."""
SHORT_DECADES = 0.3
"""How far what a failed part still resists is off, in decades (common practice, no source)."""


@dataclass(frozen=True, eq=False)
class Signatures:
    """All end states of a lamp and what each reads.

    `states`, `severities` and `looks` go together; `measurables` are what the columns of a severity are.
    """

    lamp: Lamp
    mains_v: float
    measurables: tuple[Measurable, ...]
    states: tuple[EndState, ...]
    severities: tuple[tuple[Severity, ...], ...]
    looks: tuple[tuple[Look, ...], ...]

    def place(self, name: str) -> int:
        """Column of a measurement by its name."""
        return [one.name for one in self.measurables].index(name)

    def overlap(self, places: Sequence[int]) -> Array:
        """Overlap of each two states in some readings by meters of typical tolerance; found once."""
        key = tuple(sorted(places))
        if key not in self._overlaps:
            self._overlaps[key] = overlaps(self.severities, key)
        return self._overlaps[key]

    @cached_property
    def _overlaps(self) -> dict[tuple[int, ...], Array]:
        return {}

    def with_meters(self, one: Severity, tolerances: Mapping[int, float]) -> Severity:
        """A severity with other meter tolerances, by place."""
        meter = one.meter.copy()
        for place, ratio in tolerances.items():
            kind, scaled = self.measurables[place].kind, float(one.mean[place])
            if meter[place] < UNTOLD:
                left = max(0.0, meter[place] ** 2 - kind.spread(scaled) ** 2)
                meter[place] = math.sqrt(left + kind.spread(scaled, ratio) ** 2)
        return replace(one, meter=meter)

    def state(self, name: str) -> int:
        """Row of a state by its name."""
        return [one.name for one in self.states].index(name)


def signatures(lamp: Lamp, mains_v: float, run: Run) -> Signatures:
    """Run every end state of a lamp on mains [V].

    Parameters
    ----------
    lamp : Lamp
    mains_v : float
        Of the supply [V].
    run : callable
        Runs cases; called thrice: what opens, and what is left then, is known only step by step.
    """
    what, spread = measurables(lamp), spreads(lamp)
    single = candidates(lamp)
    cases = [_case(lamp, mains_v, state.name, broken) for state in single for broken in state.severities]
    ends = [
        _case(*moved(lamp, mains_v, [(one, sign * one.half_width)]), one.key, ())
        for one in spread
        for sign in (-1.0, 1.0)
    ]
    results = list(run([*cases, *ends]))
    before = _by_state(single, results[: len(cases)])
    slopes = _slopes(
        lamp, what, spread, [one.readings for one in results[len(cases) :]], _first(before, HEALTHY)
    )
    states = _followed(lamp, mains_v, single, before, run)
    again = [state for state in states if state.opened]
    driven = [state for state in states if not state.opened and _is_driven(before, state.name)]
    own = [n for n, one in enumerate(spread) if one.key == MAINS or one.of_leds]
    second = list(
        run(
            [
                *(_case(lamp, mains_v, state.name, broken) for state in again for broken in state.severities),
                *(
                    _case(
                        *moved(lamp, mains_v, [(spread[n], spread[n].half_width)]),
                        state.name,
                        state.severities[0],
                    )
                    for state in driven
                    for n in own
                ),
            ]
        )
    )
    found = before | _by_state(again, second)
    left = iter(second[sum(len(state.severities) for state in again) :])
    of_driven = {
        state.name: _driven_slopes(
            slopes, lamp, state, what, found[state.name][0], {n: next(left) for n in own}
        )
        for state in driven
    }
    healthy = _first(before, HEALTHY)
    severities, looks = [], []
    for state in states:
        rows = list(zip(state.lamps(lamp), found[state.name], strict=True))
        its = of_driven.get(state.name, slopes)
        severities.append(tuple(_severity(broken, what, one, its) for broken, one in rows))
        looks.append(tuple(look_of(state, lamp, broken, one.readings, healthy) for broken, one in rows))
    return Signatures(lamp, mains_v, what, tuple(states), tuple(severities), tuple(looks))


def _followed(
    lamp: Lamp,
    mains_v: float,
    single: Sequence[EndState],
    before: Mapping[str, Sequence[CaseResult]],
    run: Run,
) -> list[EndState]:
    """Each state at the end of what its fault brings about; others than driven ones end as they are."""
    driven = [state for state in single if _is_driven(before, state.name)]
    cases = [
        replace(_case(lamp, mains_v, state.name, state.severities[0]), bench=FOLLOWING) for state in driven
    ]
    ends = dict(zip([state.name for state in driven], run(cases), strict=True))
    most_a = SHORT_RATIO * float(_first(before, HEALTHY)["input_current_A"])
    return [
        followed(
            state,
            ends[state.name].readings,
            dead_short=_most(before[state.name], "input_current_A") > most_a,
        )
        if state.name in ends
        else state
        for state in single
    ]


def _is_driven(before: Mapping[str, Sequence[CaseResult]], name: str) -> bool:
    """Whether a state takes so much more that what regulates the healthy lamp does not regulate it."""
    most_w = DRIVEN_RATIO * float(_first(before, HEALTHY)["input_power_W"])
    return _most(before[name], "input_power_W") > most_w


def _first(before: Mapping[str, Sequence[CaseResult]], name: str) -> Reads:
    return before[name][0].readings


def _most(results: Sequence[CaseResult], reading: str) -> float:
    return max((float(one.readings.get(reading, 0.0)) for one in results), default=0.0)


def _driven_slopes(
    slopes: Array,
    lamp: Lamp,
    state: EndState,
    what: Sequence[Measurable],
    middle: CaseResult,
    ends: Mapping[int, CaseResult],
) -> Array:
    """Slopes of a driven state: its own for mains and LEDs, those of the healthy lamp for the rest."""
    broken = applied(lamp, state.severities[0])
    base, own = _scaled(what, broken, middle.readings), np.array(slopes)
    linear = np.array([not one.kind.logarithmic and one.kind.danger != "unplugged" for one in what])
    for n, end in ends.items():
        change = _scaled(what, broken, end.readings) - base
        share = np.divide(change, base, out=np.zeros_like(base), where=np.abs(base) > 1e-3)
        own[linear, n] = np.where(np.isfinite(share), share, 0.0)[linear]
    return own


def _case(lamp: Lamp, mains_v: float, name: str, broken: Sequence[Breakage]) -> Case:
    conditions = TestConditions(mains_v, lamp.mains.frequency_hz)
    return Case("diagnosis", name, applied(lamp, broken), BENCH, conditions)


def _by_state(states: Sequence[EndState], results: Sequence[CaseResult]) -> dict[str, list[CaseResult]]:
    left = iter(results)
    return {state.name: [next(left) for _ in state.severities] for state in states}


def _scaled(what: Sequence[Measurable], lamp: Lamp, readings: Reads) -> Array:
    return np.array([one.kind.scaled(value_on(one, lamp, readings)) for one in what])


def _slopes(
    lamp: Lamp,
    what: Sequence[Measurable],
    spread: Sequence[Spread],
    ends: Sequence[Reads],
    healthy: Reads,
) -> Array:
    """Change of each reading with each spread value at its half-width: of linear ones as a share of them."""
    middle = _scaled(what, lamp, healthy)
    slopes = np.zeros((len(what), len(spread)))
    for n, one in enumerate(spread):
        low, high = (
            _scaled(what, moved(lamp, 1.0, [(one, sign * one.half_width)])[0], readings)
            for sign, readings in zip((-1.0, 1.0), ends[2 * n : 2 * n + 2], strict=True)
        )
        slopes[:, n] = (high - low) / 2.0
    linear = np.array([not one.kind.logarithmic for one in what])
    # What a healthy lamp has none of has no share to carry over.
    slopes[linear] /= np.where(np.abs(middle[linear]) > 1e-6, middle[linear], np.inf)[:, np.newaxis]
    return slopes


def _severity(lamp: Lamp, what: Sequence[Measurable], result: CaseResult, slopes: Array) -> Severity:
    mean = _scaled(what, lamp, result.readings)
    meter = np.zeros(len(what))
    own = LOT * slopes
    for n, one in enumerate(what):
        if not np.isfinite(mean[n]):
            mean[n], meter[n], own[n] = 0.0, UNTOLD, 0.0
            continue
        meter[n] = _meter(one.kind, mean[n])
        if one.kind.logarithmic:
            own[n] *= one.kind.scaled(one.kind.least) < mean[n] < one.kind.scaled(one.kind.most)
        else:
            own[n] *= mean[n]
    return Severity(mean, own, meter)


def _meter(kind: Kind, scaled: float) -> float:
    """Standard uncertainty of a reading besides the spread of parts."""
    spread = kind.spread(scaled)
    if kind.what == "resistance" and scaled < _SHORT_BELOW:
        return float(np.hypot(spread, SHORT_DECADES))
    if kind.danger == "unplugged" or kind.what == "mains voltage":
        return spread
    return float(np.hypot(spread, MODEL_RATIO * scaled))
