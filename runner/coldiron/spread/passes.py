"""What it takes to pass: the smallest change of one value that can be bought, or of two, that keeps a limit.

Each value is taken along its series both ways, 1, 2, 4 and 8 steps, then by bisection: real runs on the
benches that break the limit. What passes is run on every bench of the study, and told with what else it
breaks, or makes far worse. Two values are looked for where no single one passes without harm: the three that
bring the limit nearest, in pairs, along the border between what passes and what does not.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Collection, Generator, Mapping, Sequence
from dataclasses import dataclass

from coldiron.answer.use import Topic
from coldiron.lamp.shapes import shapes
from coldiron.preferred import Bought
from coldiron.spread.search import Search, least_step, together
from coldiron.spread.subject import Numbers, Outcome, Subject
from coldiron.spread.values import parts_of, tables, value_of

MOST_STEPS = 8
FAR_WORSE_RATIO = 1.25
"""Growth of the use of a limit that was broken before, from which it counts as harm."""
PAIRED = 3
"""Values that are paired, those that bring a limit nearest."""
HARMLESS = 1e-9
HALF_THE_LIGHT = 0.5
"""Share of the light below which what is lost counts as harm too: nobody asked for a dim lamp."""


@dataclass(frozen=True)
class Knob:
    """A value that can be bought otherwise."""

    key: str
    number: float
    bought: Bought
    least: float
    most: float

    def at(self, steps: int) -> float | None:
        """Value some steps along its series; None past its end, or past what a lamp file may hold."""
        value = self.bought.beside(self.number, steps)
        return value if value is not None and self.least <= value <= self.most else None

    def changes(self, steps: int) -> Numbers:
        """What buying that one changes."""
        value = self.at(steps)
        assert value is not None
        table = self.key.partition(".")[0]
        brings = self.bought.brings.get(value, {})
        return ((self.key, value), *((f"{table}.{key}", number) for key, number in brings.items()))


@dataclass(frozen=True)
class Step:
    """One value bought otherwise: from, to, and how many steps of its series that is."""

    key: str
    before: float
    after: float
    steps: int


@dataclass(frozen=True)
class Way:
    """A change that keeps a limit, and what else happens.

    `newly` are limits that it breaks, `worse` those that were broken and are far more so, each with its use
    before and after; `keeps` counts the limits that were broken and are kept now, the one in question among
    them. `harm` is the sum of the logarithms of those growths, and of the light below half of it.
    `light_ratio` is the light over that before.
    """

    steps: tuple[Step, ...]
    newly: tuple[tuple[Topic, float, float], ...]
    worse: tuple[tuple[Topic, float, float], ...]
    keeps: int
    harm: float
    light_ratio: float

    @property
    def size(self) -> int:
        """Steps of all values together."""
        return sum(abs(step.steps) for step in self.steps)


@dataclass(frozen=True)
class Passing:
    """A limit that is broken, and the ways to keep it: least harm first, then the fewest steps.

    No way means that none was found within 8 steps of any value that can be bought; `tried` are those values.
    """

    topic: Topic
    use: float
    ways: tuple[Way, ...]
    tried: tuple[str, ...]


def knobs(subject: Subject) -> list[Knob]:
    """Values of a variant's parts that can be bought otherwise."""
    found = []
    for table, part in parts_of(subject.lamp):
        of = shapes(type(tables(subject.lamp)[table]))
        for key, bought in part.to_buy().items():
            value = value_of(subject.lamp, f"{table}.{key}")
            if value is None or value.number <= 0.0 or key not in of:
                continue
            least = of[key].least if of[key].least is not None else 0.0
            most = of[key].most if of[key].most is not None else math.inf
            found.append(Knob(value.key, value.number, bought, float(least or 0.0), float(most or math.inf)))
    return found


def passing(subject: Subject, topics: Collection[Topic] | None = None) -> list[Passing]:
    """What it takes to keep each limit that a variant breaks.

    Parameters
    ----------
    subject : Subject
    topics : collection of Topic, optional
        Only these.
    """
    base = subject.base
    broken: dict[Topic, list[str]] = {}
    for (bench, topic), use in base.uses.items():
        if use > 1.0 and (topics is None or topic in topics):
            broken.setdefault(topic, []).append(bench)
    turned = knobs(subject)
    single = _searched(subject, broken, turned)
    found: dict[Topic, list[tuple[tuple[Knob, int], ...]]] = {topic: [] for topic in broken}
    for (topic, knob, _), steps in single.items():
        if steps is not None:
            found[topic].append(((knob, steps),))
    ways = {topic: _ways(subject, topic, broken[topic], changes) for topic, changes in found.items()}
    left = {topic: broken[topic] for topic, of in ways.items() if not of or of[0].harm > HARMLESS}
    paired = _pairs(subject, left, turned)
    for topic, changes in paired.items():
        least = ways[topic][0].harm if ways[topic] else math.inf
        both = _ways(subject, topic, broken[topic], changes)
        ways[topic] = sorted([*ways[topic], *(way for way in both if way.harm < least)], key=_order)
    return [
        Passing(topic, base.topic_use(topic, benches), tuple(ways[topic]), tuple(knob.key for knob in turned))
        for topic, benches in sorted(broken.items(), key=lambda pair: pair[0])
    ]


def _order(way: Way) -> tuple[float, int, float]:
    return round(way.harm, 6), len(way.steps), way.size


def _use(subject: Subject, outcome: Outcome, topic: Topic, benches: Sequence[str]) -> float:
    """Use of a topic on the benches that broke it; NaN where one gave no answer, or the lamp is dark."""
    lit_a = subject.base.light_a
    if lit_a > 0.0 and outcome.light_a < 0.01 * lit_a:
        return math.nan
    return outcome.topic_use(topic, benches)


def _searched(
    subject: Subject, broken: Mapping[Topic, Sequence[str]], turned: Sequence[Knob]
) -> dict[tuple[Topic, Knob, bool], int | None]:
    """Fewest steps of each value, either way, for each limit."""
    owners = list(itertools.product(broken, turned, (True, False)))
    searches: list[Search[int | None]] = [least_step(knob.at, up=up) for _, knob, up in owners]

    def look(wanted: Sequence[tuple[int, float]]) -> list[float]:
        """Uses at the steps that the searches want."""
        asked = [(owners[number][0], owners[number][1], int(steps)) for number, steps in wanted]
        outcomes = subject.outcomes([(knob.changes(steps), broken[topic]) for topic, knob, steps in asked])
        return [
            _use(subject, outcome, topic, broken[topic])
            for (topic, _, _), outcome in zip(asked, outcomes, strict=True)
        ]

    return dict(zip(owners, together(searches, look), strict=True))


def _ways(
    subject: Subject,
    topic: Topic,
    benches: Sequence[str],
    changes: Sequence[tuple[tuple[Knob, int], ...]],
) -> list[Way]:
    """Changes that pass on every bench, with what else happens there."""
    numbers = [tuple(itertools.chain.from_iterable(k.changes(n) for k, n in change)) for change in changes]
    outcomes = subject.outcomes([(each, subject.benches) for each in numbers])
    ways = []
    for change, outcome in zip(changes, outcomes, strict=True):
        if outcome.failed or any(use > 1.0 for (_, of), use in outcome.uses.items() if of == topic):
            continue
        before, after = _by_topic(subject.base), _by_topic(outcome)
        newly, worse = [], []
        for of, use in after.items():
            was = before.get(of, 0.0)
            if use > 1.0 and was <= 1.0:
                newly.append((of, was, use))
            elif use > 1.0 and use > FAR_WORSE_RATIO * was:
                worse.append((of, was, use))
        harm = sum(math.log(use / max(was, 1.0)) for _, was, use in (*newly, *worse))
        steps = tuple(Step(knob.key, knob.number, float(knob.at(n) or 0.0), n) for knob, n in change)
        keeps = sum(was > 1.0 and after.get(of, 0.0) <= 1.0 for of, was in before.items())
        light = outcome.light_a / subject.base.light_a if subject.base.light_a else math.nan
        if light < HALF_THE_LIGHT:
            harm += math.log(HALF_THE_LIGHT / light)
        ways.append(Way(steps, tuple(newly), tuple(worse), keeps, harm, light))
    return sorted(ways, key=_order)


def _by_topic(outcome: Outcome) -> dict[Topic, float]:
    """Worst use of each topic on any bench."""
    found: dict[Topic, float] = {}
    for (_, topic), use in outcome.uses.items():
        found[topic] = max(found.get(topic, 0.0), use)
    return found


def _pairs(
    subject: Subject, broken: Mapping[Topic, Sequence[str]], turned: Sequence[Knob]
) -> dict[Topic, list[tuple[tuple[Knob, int], ...]]]:
    """Two values together that keep a limit, the fewest steps of each pair."""
    directions = {
        topic: _best_directions(subject, topic, benches, turned) for topic, benches in broken.items()
    }
    owners = [
        (topic, one, other)
        for topic, near in directions.items()
        for one, other in itertools.combinations(near, 2)
        if one[0] is not other[0]
    ]
    searches = [_border(one, other) for _, one, other in owners]

    def look(wanted: Sequence[tuple[int, float]]) -> list[float]:
        """Uses with both values changed; what is wanted is coded as one number."""
        asked = []
        for number, code in wanted:
            topic, (one, up), (other, other_up) = owners[number]
            first, second = divmod(int(code), _CODE)
            changes = [
                *(one.changes(first if up else -first) if first else ()),
                *(other.changes(second if other_up else -second) if second else ()),
            ]
            asked.append((topic, tuple(changes)))
        outcomes = subject.outcomes([(changes, broken[topic]) for topic, changes in asked])
        return [
            _use(subject, outcome, topic, broken[topic])
            for (topic, _), outcome in zip(asked, outcomes, strict=True)
        ]

    found: dict[Topic, list[tuple[tuple[Knob, int], ...]]] = {topic: [] for topic in broken}
    for (topic, (one, up), (other, other_up)), at in zip(owners, together(searches, look), strict=True):
        if at is not None:
            first, second = at
            change = ((one, first if up else -first), (other, second if other_up else -second))
            found[topic].append(change)
    return found


_CODE = 100


def _best_directions(
    subject: Subject, topic: Topic, benches: Sequence[str], turned: Sequence[Knob]
) -> list[tuple[Knob, bool]]:
    """Values and ways that bring a limit nearest at the end of their gallop, from what was run already."""
    reached = []
    wanted = [(knob, up) for knob in turned for up in (True, False)]
    asked = []
    for knob, up in wanted:
        last = next((n for n in range(MOST_STEPS, 0, -1) if knob.at(n if up else -n) is not None), 0)
        if last:
            asked.append((knob, up, last))
    outcomes = subject.outcomes([(knob.changes(n if up else -n), benches) for knob, up, n in asked])
    base = subject.base.topic_use(topic, benches)
    for (knob, up, _), outcome in zip(asked, outcomes, strict=True):
        use = _use(subject, outcome, topic, benches)
        if math.isfinite(use) and use < base * 0.99:
            reached.append((use, knob, up))
    reached.sort(key=lambda each: each[0])
    return [(knob, up) for _, knob, up in reached[:PAIRED]]


def _border(
    one: tuple[Knob, bool], other: tuple[Knob, bool]
) -> Generator[float, float, tuple[int, int] | None]:
    """Fewest steps of two values together: down the border from all of the first and none of the second.

    What passes is taken to pass with more steps of either: then every pair on the border is met, with at most
    as many runs as both have steps.
    """
    (knob, up), (second, second_up) = one, other
    most = max((n for n in range(1, MOST_STEPS + 1) if knob.at(n if up else -n) is not None), default=0)
    most_second = max(
        (n for n in range(1, MOST_STEPS + 1) if second.at(n if second_up else -n) is not None), default=0
    )
    first, then, best = most, 1, None
    while first >= 1 and then <= most_second:
        if best is not None and first + then >= sum(best) and then >= sum(best):
            break
        use = yield first * _CODE + then
        if use <= 1.0:
            if best is None or first + then < sum(best):
                best = (first, then)
            first -= 1
        else:
            then += 1
    return best
