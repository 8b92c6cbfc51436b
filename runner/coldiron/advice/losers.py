"""Why the losers lose: how many by each limit, what admits the next, and who is nearest."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final

import numpy as np

from coldiron.advice.dominance import beats
from coldiron.advice.runs import BOUND
from coldiron.advice.search import BROKEN_LIKE, BROKEN_RUN, BROKEN_SAID, Found
from coldiron.answer.use import Topic, Use
from coldiron.answer.words import what_text
from coldiron.lamp.describe import part_label, value_text
from coldiron.lamp.model import written_key
from coldiron.parts.part import Part
from coldiron.quantities import RATIO
from coldiron.readings.figures import amount

TRIED: Final = 4
"""Losers by one limit alone that are run on all benches for each limit."""
MOST_LIMITS: Final = 6
NEAREST: Final = 5
_MOST_STEPS: Final = 20
MOST_EASED_RATIO: Final = 1.5
"""A limit that would have to be eased by more is not one that a person would ease (our choice)."""
CLOSE_RATIO: Final = 1.005
"""A limit missed by less than this is met within what the engine's steps are sure of."""


@dataclass(frozen=True)
class Eased:
    """A limit that alone keeps a candidate out, and what would have to be bought or allowed for it.

    `ratio` is the share of the limit that the candidate uses; `step` says what to buy or to allow in its
    words, nothing where a limit is no part's.
    """

    topic: Topic
    number: int
    use: Use | None
    ratio: float
    step: str

    @property
    def is_close(self) -> bool:
        """Whether the miss is below what the engine tells apart."""
        return self.ratio <= CLOSE_RATIO


@dataclass(frozen=True)
class Loser:
    """A candidate that breaks limits, the nearest that keeps all, and in which parts they differ."""

    number: int
    broken: Mapping[Topic, float]
    winner: int | None
    change: tuple[tuple[str, str, str], ...]


def eased(found: Found) -> list[Eased]:
    """What each limit would have to be eased by to admit one more that no winner beats, the least first.

    Only candidates that break one limit alone count, and that is found out on every bench. Those that are
    nearest by what is known are run for it, some for each limit.
    """
    by_topic: dict[Topic, list[tuple[float, int]]] = {}
    for number, broken in found.near.items():
        if len(broken) == 1:
            [(topic, ratio)] = broken.items()
            if topic.group not in ("failed", "safety") and ratio <= MOST_EASED_RATIO:
                by_topic.setdefault(topic, []).append((ratio, number))
    nearest = sorted(by_topic.items(), key=lambda pair: min(pair[1]))[:MOST_LIMITS]
    admitted: list[Eased] = []
    front = found.grains(found.best) if found.best else np.empty((0, len(found.aims)))
    for topic, losers in nearest:
        tried = [number for _, number in sorted(losers)[:TRIED]]
        for bench in found.bench.benches:
            found.bench.run([n for n in tried if set(found.bench.broken(n)) <= {topic}], bench)
        alone = [
            n
            for n in tried
            if set(found.bench.broken(n)) == {topic}
            and all(b in found.bench.of(n).ran for b in found.bench.benches)
        ]
        for number in sorted(alone, key=lambda n: found.bench.broken(n)[topic]):
            grains = found.grains([number])[0]
            if any(beats(row, grains) for row in front):
                continue
            use = found.bench.of(number).uses.get(topic)
            ratio = found.bench.broken(number)[topic]
            admitted.append(Eased(topic, number, use, ratio, _step(found, number, topic, use, ratio)))
            break
    return sorted(admitted, key=lambda one: one.ratio)


def nearest_losers(found: Found, most: int = NEAREST) -> list[Loser]:
    """Candidates that miss by least, fewest limits first, with what turns each into a winner.

    A loser is told once for each set of limits that it breaks. It is run on every bench first, so that its
    limits are all it breaks.
    """

    def miss(number: int) -> tuple[float, int]:
        broken = found.near[number].values()
        return sum(0.1 + math.log(min(max(ratio, 1.0), 1e6)) for ratio in broken), number

    order = sorted((n for n in found.near if all(t.group != "safety" for t in found.near[n])), key=miss)
    chosen = order[: 4 * most]
    for bench in found.bench.benches:
        found.bench.run(chosen, bench)
    losers: list[Loser] = []
    seen: set[frozenset[Topic]] = set()
    again = {n: found.bench.broken(n) for n in chosen}
    for number in sorted(
        (n for n in chosen if again[n]),
        key=lambda n: (sum(0.1 + math.log(min(r, 1e6)) for r in again[n].values()), n),
    ):
        topics = frozenset(again[number])
        if topics in seen:
            continue
        seen.add(topics)
        winner = _nearest_winner(found, number)
        losers.append(
            Loser(
                number, again[number], winner, () if winner is None else tuple(_change(found, number, winner))
            )
        )
        if len(losers) == most:
            break
    return losers


def _nearest_winner(found: Found, number: int) -> int | None:
    """Candidate that keeps every limit and differs in the fewest parts, and then by the fewest steps."""
    own = np.array(found.space.steps(number))

    def apart(other: int) -> tuple[int, int, int]:
        steps = np.abs(np.array(found.space.steps(other)) - own)
        return int((steps > 0).sum()), int(steps.sum()), other

    return min(found.kept, key=apart, default=None)


def _change(found: Found, number: int, winner: int) -> Iterator[tuple[str, str, str]]:
    """Heading, label of the loser and label of the winner for each part in which they differ."""
    options = zip(found.space.axes, found.space.options(number), found.space.options(winner), strict=True)
    for axis, own, other in options:
        if own.label != other.label:
            yield axis.heading, own.label, other.label


def _step(found: Found, number: int, topic: Topic, use: Use | None, ratio: float) -> str:
    """What to buy, or to allow, so that a limit is kept: rounded up to what there is."""
    if topic.group == BOUND or use is None:
        return f"a bound eased by {RATIO.format(ratio - 1.0, 2)}"
    verdict = use.verdict
    allowed = amount(_rounded(verdict.value, up=not verdict.least), verdict.reading)
    if not verdict.is_rating:
        return f"{verdict.what} of {'at least' if verdict.least else 'at most'} {allowed}"
    part, _, key = verdict.clause.partition(".")
    lamp = found.space.lamp_of(number)
    own = next((each for each in lamp.circuit if each.name == part), None) if lamp else None
    value = None if own is None else _written(own, key)
    bought = None if own is None else type(own).bought.get(key)
    if own is None or value is None or bought is None:
        return f"{what_text(verdict)} of {allowed}"
    for steps in range(1, _MOST_STEPS):
        higher = bought.beside(value, steps)
        if higher is None:
            break
        if higher >= value * ratio:
            words = [value_text(own.model, key, each) for each in (higher, value)]
            return f"{part_label(part)} of {words[0]} in place of {words[1]}"
    return f"{what_text(verdict)} of {allowed}, more than is made"


def _written(part: Part, key: str) -> float | None:
    """Value of a part by its written key; None where it is unset, or no number."""
    value = {written_key(name): value for name, value in part.values}.get(key)
    return float(value) if isinstance(value, int | float) else None


def _rounded(value: float, *, up: bool) -> float:
    """Two figures, to the easy side.

    Examples
    --------
    >>> _rounded(1.021, up=True), _rounded(0.887, up=False), _rounded(0.0, up=True)
    (1.1, 0.88, 0.0)
    """
    if value == 0.0 or not math.isfinite(value):
        return value
    size = 10.0 ** (math.floor(math.log10(abs(value))) - 1)
    steps = value / size
    return float(f"{(math.ceil(steps - 1e-9) if up else math.floor(steps + 1e-9)) * size:.3g}")


def counted(found: Found) -> list[tuple[Topic, int, int]]:
    """Each limit with how many candidates are known to break it, and how many it alone."""
    return [(topic, count, found.alone[topic]) for topic, count in found.broken.most_common()]


def lost(found: Found) -> int:
    """How many candidates broke a limit."""
    return int(np.isin(found.fate, (BROKEN_SAID, BROKEN_RUN, BROKEN_LIKE)).sum())
