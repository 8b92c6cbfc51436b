"""Which assumption decides: for each verdict, the assumed values that turn it, and where.

Every value that nobody has measured is taken to both ends of what is plausible, on the benches of the
verdicts in question; where one moves a verdict by 1 %, to two more values between. Each change of side
between neighbours is a value at which the verdict turns, and is found to 1 % by real runs. So a hump inside
is seen, and where a verdict turns twice both values are told.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from coldiron.answer.told import CLOSE_RATIO
from coldiron.limits.verdict import Verdict
from coldiron.parts.tolerance import Assumption
from coldiron.spread.population import Held
from coldiron.spread.search import Search, crossing, together
from coldiron.spread.subject import Numbers, Outcome, Subject
from coldiron.spread.values import Value, assumptions, value_of

MOVES_RATIO = 0.01
"""Change of a use by which an assumed value counts for it."""


@dataclass(frozen=True)
class Flip:
    """An assumed value that turns a verdict.

    `at` are the values at which it turns, the nearest to the assumed one first; `over_above` whether the
    limit is broken above that one. `least` and `most` are the ends of what is plausible, `pinned` whether a
    reading on the bench has narrowed them. `reach` is how far the nearest is on the way to the end, 0 to 1.
    """

    key: str
    assumed: float
    at: tuple[float, ...]
    over_above: bool
    least: float
    most: float
    reading: str
    provenance: str
    reach: float
    pinned: bool = False


@dataclass(frozen=True)
class Deciding:
    """A verdict, and the assumed values that turn it, in the order in which they are near.

    `moved_ratio` is the largest change of its use by any assumed value: where it is next to nothing the
    verdict is so by construction.
    """

    held: Held
    verdict: Verdict
    use: float
    flips: tuple[Flip, ...]
    looked_at: int
    moved_ratio: float

    @property
    def by_construction(self) -> bool:
        """Whether no assumed value moves it."""
        return not self.flips and self.moved_ratio < MOVES_RATIO


def deciding(
    subject: Subject, doubtful: Collection[Held] = (), pinned: Mapping[str, tuple[float, float]] | None = None
) -> list[Deciding]:
    """Which assumed values turn the verdicts of a variant.

    Parameters
    ----------
    subject : Subject
    doubtful : collection of (bench, topic)
        Verdicts that are asked about besides those that are over or near: what a spread takes over.
    pinned : mapping, optional
        Between what readings on the bench leave a value, by its dotted key.
    """
    base = subject.base
    asked = [
        held
        for held, use in base.uses.items()
        if use >= CLOSE_RATIO or (held in doubtful and math.isfinite(use))
    ]
    benches = [bench for bench in subject.benches if bench in {held[0] for held in asked}]
    ranges = _ranges(subject, benches, pinned or {})
    points = _scan(subject, ranges, benches, asked)
    searches: list[Search[float | None]] = []
    owners: list[tuple[Held, str, bool]] = []
    for held, (key, seen) in itertools.product(asked, points.items()):
        known = sorted((value, use) for value, of in seen.items() if math.isfinite(use := of.use(held)))
        for (low, at_low), (high, at_high) in itertools.pairwise(known):
            if (at_low > 1.0) != (at_high > 1.0):
                searches.append(crossing(low, high, at_low, at_high))
                owners.append((held, key, at_low <= 1.0))

    def look(wanted: Sequence[tuple[int, float]]) -> list[float]:
        """Uses of what the searches want."""
        asking = [(*owners[number][:2], value) for number, value in wanted]
        outcomes = subject.outcomes([(((key, value),), (held[0],)) for held, key, value in asking])
        return [outcome.use(held) for (held, _, _), outcome in zip(asking, outcomes, strict=True)]

    turns: dict[tuple[Held, str], list[tuple[float, bool]]] = {}
    for (held, key, over_above), at in zip(owners, together(searches, look), strict=True):
        if at is not None:
            turns.setdefault((held, key), []).append((at, over_above))
    return [_deciding(held, base, ranges, points, turns) for held in asked]


@dataclass(frozen=True)
class _Range:
    value: Value
    least: float
    most: float
    about: Assumption
    pinned: bool


def _ranges(
    subject: Subject, benches: Sequence[str], pinned: Mapping[str, tuple[float, float]]
) -> dict[str, _Range]:
    """Ends of what is plausible for each assumed value, within what a lamp file may hold and a fit allows."""
    found = {}
    for key, one in assumptions(subject.lamp, benches):
        value = value_of(subject.lamp, key)
        assert value is not None
        least, most = value.number * one.least_factor, value.number * one.most_factor
        if key in pinned:
            least, most = max(least, pinned[key][0]), min(most, pinned[key][1])
        least, most = min(least, value.number), max(most, value.number)
        if most > least * (1.0 + MOVES_RATIO):
            found[key] = _Range(value, least, most, one, key in pinned)
    return found


def _scan(
    subject: Subject, ranges: Mapping[str, _Range], benches: Sequence[str], asked: Sequence[Held]
) -> dict[str, dict[float, Outcome]]:
    """Outcomes at both ends of each value, and between where it matters."""
    seen = {key: {of.value.number: subject.base} for key, of in ranges.items()}

    def look(wanted: Sequence[tuple[str, float]]) -> None:
        """Run all of them, and keep what they gave."""
        outcomes = subject.outcomes([(_numbers(key, value), benches) for key, value in wanted])
        for (key, value), outcome in zip(wanted, outcomes, strict=True):
            seen[key][value] = outcome

    look([(key, end) for key, of in ranges.items() for end in (of.least, of.most) if end != of.value.number])
    between = []
    for key, of in ranges.items():
        if max((_moved(seen[key], held) for held in asked), default=0.0) >= MOVES_RATIO:
            for end in (of.least, of.most):
                if end != of.value.number:
                    between.append((key, math.sqrt(end * of.value.number)))
    look(between)
    return seen


def _numbers(key: str, value: float) -> Numbers:
    return ((key, value),)


def _moved(seen: Mapping[float, Outcome], held: Held) -> float:
    """Largest share by which a use differs among some values."""
    uses = [use for outcome in seen.values() if math.isfinite(use := outcome.use(held)) and use > 0.0]
    return max(uses) / min(uses) - 1.0 if uses else 0.0


def _deciding(
    held: Held,
    base: Outcome,
    ranges: Mapping[str, _Range],
    points: Mapping[str, Mapping[float, Outcome]],
    turns: Mapping[tuple[Held, str], Sequence[tuple[float, bool]]],
) -> Deciding:
    flips = []
    for key, of in ranges.items():
        at = turns.get((held, key))
        if not at:
            continue
        assumed = of.value.number
        near = sorted(at, key=lambda pair: abs(math.log(pair[0] / assumed)))
        end = of.most if near[0][0] > assumed else of.least
        whole = abs(math.log(end / assumed)) if end != assumed else 1.0
        flips.append(
            Flip(
                key=key,
                assumed=assumed,
                at=tuple(value for value, _ in near),
                over_above=near[0][1],
                least=of.least,
                most=of.most,
                reading=of.about.reading,
                provenance=of.value.provenance,
                reach=abs(math.log(near[0][0] / assumed)) / whole,
                pinned=of.pinned,
            )
        )
    moved = max((_moved(seen, held) for seen in points.values()), default=0.0)
    return Deciding(
        held,
        base.verdicts[held],
        base.uses[held],
        tuple(sorted(flips, key=lambda flip: flip.reach)),
        len(ranges),
        moved,
    )
