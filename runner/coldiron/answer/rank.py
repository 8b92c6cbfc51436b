"""The order of variants: safety parts, ratings, shock, law, recommended practice, and then what was asked."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

from coldiron.answer.aims import HeldAim, aim_steps, held_bounds
from coldiron.answer.candidate import Candidate
from coldiron.answer.safety import Hazard, taken_away
from coldiron.answer.use import GROUPS
from coldiron.study.aims import Aims

STEP_RATIO: Final = 1.1
"""Two factors over a limit closer than this are alike: parts and models are no better known than 10 %."""
Tier = tuple[float, ...]
"""Steps by which the limits of one group are over, the worst first; empty where all are kept."""


def steps_over(ratio: float) -> float:
    """By how many steps of 10 % a limit is broken; 0 where it is kept, at least 1 where it is not.

    Examples
    --------
    >>> steps_over(0.99), steps_over(1.0), steps_over(1.01), steps_over(1.5), steps_over(float("inf"))
    (0.0, 0.0, 1.0, 5.0, inf)
    """
    if ratio <= 1.0:
        return 0.0
    if math.isinf(ratio):
        return math.inf
    return 1.0 + math.floor(math.log(ratio) / math.log(STEP_RATIO) + 1e-9)


@dataclass(frozen=True, eq=False)
class Ranked:
    """A variant in its place.

    `takes_away` are safety parts that it removes; `tiers` has for each group of limits the steps by which its
    broken limits are over, the worst first; `held` the study's own bounds; `aims` its steps in each aim.
    """

    candidate: Candidate
    takes_away: tuple[Hazard, ...]
    tiers: tuple[Tier, ...]
    held: tuple[HeldAim, ...]
    aims: tuple[float, ...]

    @property
    def key(self) -> tuple[Any, ...]:
        """What decides the place, the least first."""
        bounds = tuple(sorted((steps_over(held.ratio) for held in self.missed), reverse=True))
        return (
            bool(self.takes_away),
            bool(self.candidate.failed),
            self.candidate.is_dark,
            self.tiers,
            bounds,
            self.aims,
            self.candidate.number,
        )

    @property
    def may_be_recommended(self) -> bool:
        """Whether it takes no safety part away, every bench gave an answer, and it gives light."""
        return not self.takes_away and not self.candidate.failed and not self.candidate.is_dark

    @property
    def is_clean(self) -> bool:
        """Whether every limit that applies is kept."""
        return not any(self.tiers)

    @property
    def missed(self) -> list[HeldAim]:
        """Bounds of the study's own that are missed."""
        return [held for held in self.held if held.missed]


def ranking(aims: Aims, all_candidates: Sequence[Candidate]) -> list[Ranked]:
    """Variants in their order.

    1. What takes a safety part away comes last, whatever it gains; before it, what gave no answer somewhere,
       and before that what gives no light.
    2. Parts over their rating, by the worst factor, then the next worst and so on; then shock and discharge;
       law; recommended practice; the study's own limits. Factors within 10 % of each other are alike.
    3. Bounds that the study set, alike; its aims in their order; the order of the study.

    Parameters
    ----------
    aims : Aims
        Of the study.
    all_candidates : sequence of Candidate
        As found first.
    """
    found = all_candidates[0]
    ranked = [_ranked(aims, found, candidate) for candidate in all_candidates]
    return sorted(ranked, key=lambda one: one.key)


def _ranked(aims: Aims, found: Candidate, candidate: Candidate) -> Ranked:
    return Ranked(
        candidate,
        taken_away(found.lamp, candidate.lamp),
        tuple(_tier(candidate, group) for group in GROUPS),
        tuple(held_bounds(aims.keep, found, candidate)),
        aim_steps(aims.want, found, candidate),
    )


def _tier(candidate: Candidate, group: str) -> Tier:
    """Steps over the limits of one group, the worst first; a lamp that runs away knows no bound."""
    steps = [
        steps_over(use.ratio) for use in candidate.uses.values() if use.over and use.topic.group == group
    ]
    if group == "rating" and candidate.runs_away:
        steps.append(math.inf)
    return tuple(sorted(steps, reverse=True))
