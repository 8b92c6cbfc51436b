"""A drawing's lamps on the benches: their cases, what they read, and which limits each of them keeps.

There are two populations of the same lamps, never a part of one sample: on the mains as it varies, and on the
rated mains for the limits that hold on that alone.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from coldiron.answer.use import Topic, topic_of
from coldiron.benches.base import Case, TestConditions
from coldiron.lamp.lamp import Lamp
from coldiron.limits.judge import judge_case
from coldiron.limits.rules import Limit, limits_of
from coldiron.limits.scope import OTHER_SYSTEM_RATIO
from coldiron.limits.verdict import NO_LIMIT, Verdict
from coldiron.spread.values import AMBIENT, MAINS, ROOM_K, Varied, applied
from coldiron.study.model import KNOWN_BENCHES, Study
from coldiron.study.spread import Spread
from coldiron.sweep.cases import study_cases
from coldiron.sweep.run import FinishedCase

Array = NDArray[np.float64]
Run = Callable[[Sequence[Case]], Sequence[FinishedCase]]
"""Whatever runs cases and hands them back in their order."""
Held = tuple[str, Topic]
"""A bench, and what a limit is about there."""


@dataclass(frozen=True)
class Drawing:
    """What all lamps of a spread have in common: the variant, the study, and what may be off.

    `benches` are those that are run, in the order of the tables.
    """

    study: Study
    variant: str
    lamp: Lamp
    spread: Spread
    benches: tuple[str, ...]
    values: tuple[Varied, ...]

    @cached_property
    def conditions(self) -> Mapping[str, TestConditions]:
        """Conditions that the lamps vary about, by bench: the first of the study.

        A surge is run at half of the angles where the other half is its mirror image: the lamp cannot tell a
        positive surge on a positive half wave from a negative one on a negative half wave.
        """
        found: dict[str, TestConditions] = {}
        for case in study_cases(self.study):
            if case.variant == self.variant and case.bench in self.benches:
                found.setdefault(case.bench, without_mirrors(case).conditions)
        return found

    @property
    def supply_v(self) -> float:
        """Mains that the lamps vary about [V]."""
        return next(iter(self.conditions.values())).voltage_v

    @cached_property
    def rated_v(self) -> float:
        """Nominal voltage of the mains system that the supply belongs to [V]."""
        own_v, seen_v = self.lamp.mains.voltage_v, self.supply_v
        return own_v if abs(seen_v / own_v - 1.0) <= OTHER_SYSTEM_RATIO else seen_v

    @cached_property
    def limits(self) -> tuple[Limit, ...]:
        """Every limit of the study."""
        return limits_of(self.study)

    @cached_property
    def rated_only(self) -> tuple[str, ...]:
        """Benches that a limit holds on at the rated mains alone."""
        held = {limit.bench for limit in self.limits if limit.file.rated_supply}
        return tuple(bench for bench in self.benches if bench in held)

    @property
    def rooms_c(self) -> tuple[float, float]:
        """Rooms between which the lamps hang [°C]."""
        if self.spread.ambient_c is not None:
            return self.spread.ambient_c[0], self.spread.ambient_c[1]
        middle_c = self.study.conditions.ambient_c
        return middle_c - ROOM_K, middle_c + ROOM_K

    def cases(self, name: str, off: Array, benches: Sequence[str], *, rated: bool = False) -> list[Case]:
        """One lamp, whose values are off by shares of their tolerances, on some benches.

        Parameters
        ----------
        name : str
            What tells the lamp from the others.
        off : ndarray of shape (d,)
            In the order of `values`.
        benches : sequence of str
        rated : bool
            Whether on the rated mains, in place of the varying one.
        """
        place = {one.key: float(share) for one, share in zip(self.values, off, strict=True)}
        inside = [one for one in self.values if one.key not in (MAINS, AMBIENT)]
        lamp = applied(self.lamp, inside, lambda one: place[one.key])
        mains = next((one.ratio for one in self.values if one.key == MAINS), 0.0)
        factor = 1.0 + mains * place.get(MAINS, 0.0)
        low_c, high_c = self.rooms_c
        room_c = 0.5 * (low_c + high_c) + 0.5 * (high_c - low_c) * place.get(AMBIENT, 0.0)
        warmer_k = room_c - self.study.conditions.ambient_c

        def at(own: TestConditions) -> TestConditions:
            """Conditions of this lamp."""
            voltage_v = self.rated_v if rated else float(f"{own.voltage_v * factor:.6g}")
            return replace(own, voltage_v=voltage_v, ambient_c=float(f"{own.ambient_c + warmer_k:.4f}"))

        return [
            Case(self.study.name, f"{self.variant} {name}", lamp, bench, at(self.conditions[bench]))
            for bench in benches
        ]


def without_mirrors(case: Case) -> Case:
    """A case without surges that are mirror images of others, and without rooms beside its own."""
    own = case.conditions
    angles_deg = unmirrored(case.lamp, own.surge_angles_deg, own.surge_polarities)
    return replace(case, conditions=replace(own, rooms_c=(), surge_angles_deg=angles_deg))


def unmirrored(lamp: Lamp, angles_deg: Sequence[float], polarities: Sequence[int]) -> tuple[float, ...]:
    """Angles of a surge without those whose mirror image is among them.

    Examples
    --------
    >>> from coldiron.lamp.load import load_lamp
    >>> flood, half = load_lamp("kerbside-flood"), load_lamp("shed-lantern")
    >>> unmirrored(flood, (0.0, 90.0, 180.0, 270.0), (1, -1)), unmirrored(flood, (0.0, 180.0), (1,))
    ((0.0, 90.0), (0.0, 180.0))
    >>> unmirrored(half, (0.0, 90.0, 180.0, 270.0), (1, -1))
    (0.0, 90.0, 180.0, 270.0)
    """
    if len(set(polarities)) < 2 or not lamp.circuit.halves_alike:
        return tuple(angles_deg)
    kept: list[float] = []
    for angle_deg in angles_deg:
        if all(abs((angle_deg - other_deg) % 360.0 - 180.0) > 1e-9 for other_deg in kept):
            kept.append(angle_deg)
    return tuple(kept)


@dataclass(frozen=True)
class Population:
    """What some lamps gave: readings and uses of limits, one column a lamp; NaN where a run failed.

    `uses` has, for each bench and topic of limits, used over allowed; `over` whether it is broken, NaN where
    nothing was judged. `verdicts` has the one behind the largest use that was found.
    """

    off: Array
    readings: Mapping[tuple[str, str], Array]
    uses: Mapping[Held, Array]
    over: Mapping[Held, Array]
    verdicts: Mapping[Held, Verdict]
    failed: Mapping[str, int]

    @property
    def runs(self) -> int:
        """Lamps."""
        return len(self.off)


def run_population(
    drawing: Drawing, off: Array, benches: Sequence[str], run: Run, *, rated: bool = False
) -> Population:
    """Run lamps on benches and judge what they read.

    Parameters
    ----------
    drawing : Drawing
    off : ndarray of shape (n, d)
        How far each value of each lamp is off.
    benches : sequence of str
    run : callable
    rated : bool
        Whether on the rated mains, and held to the limits of that alone; else to all others.
    """
    cases = [
        case
        for number, row in enumerate(off)
        for case in drawing.cases(f"{number}", row, benches, rated=rated)
    ]
    return gathered(drawing, off, benches, run(cases), rated=rated)


def gathered(
    drawing: Drawing, off: Array, benches: Sequence[str], done: Sequence[FinishedCase], *, rated: bool = False
) -> Population:
    """Gather what finished cases gave, lamp by lamp and in each bench by bench."""
    n = len(off)
    readings: dict[tuple[str, str], Array] = {}
    uses: dict[Held, Array] = {}
    over: dict[Held, Array] = {}
    verdicts: dict[Held, Verdict] = {}
    failed = dict.fromkeys(benches, 0)
    limits = [limit for limit in drawing.limits if limit.file.rated_supply == rated]
    for place, one in enumerate(done):
        number, bench = place // len(benches), one.case.bench
        if one.result.failure:
            failed[bench] += 1
            continue
        for name, value in one.result.readings.items():
            if isinstance(value, float):
                readings.setdefault((bench, name), np.full(n, math.nan))[number] = value
        for verdict in judge_case(limits, one, drawing.study.limits.margin_ratio):
            if verdict.verdict == NO_LIMIT or (rated and verdict.is_rating) or math.isnan(verdict.use_ratio):
                continue
            held = bench, topic_of(verdict)
            broken = verdict.verdict == "over"
            used = verdict.use_ratio if broken else min(verdict.use_ratio, 1.0)
            of = uses.setdefault(held, np.full(n, math.nan))
            of[number] = np.fmax(of[number], used)
            is_over = over.setdefault(held, np.full(n, math.nan))
            is_over[number] = np.fmax(is_over[number], float(broken))
            if held not in verdicts or used > verdicts[held].use_ratio:
                verdicts[held] = verdict
    order = dict.fromkeys(sorted(uses, key=lambda held: KNOWN_BENCHES.index(held[0])))
    return Population(off, readings, {held: uses[held] for held in order}, over, verdicts, failed)
