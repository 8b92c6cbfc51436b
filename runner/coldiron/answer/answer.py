"""The answer of a study: who is named, what that gains and costs, what is over, and what limits it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from coldiron.answer.aims import CORNERS, HALF_WAY, MEASURES, SUITED_WAY, measure_of, way_gone
from coldiron.answer.candidate import Candidate, candidates
from coldiron.answer.rank import STEP_RATIO, Ranked, ranking
from coldiron.answer.told import CLOSE_RATIO, SURGE_STRAIN, differs, sign_of, told_readings
from coldiron.answer.untried import missing_benches, untried
from coldiron.answer.use import Topic, Use
from coldiron.limits.verdict import Verdict
from coldiron.readings import surge_limit
from coldiron.readings.catalogue import COLD, WARM, kind_of
from coldiron.study.aims import Aims
from coldiron.study.model import Study
from coldiron.sweep.results import Results

_UNDISTURBED = (COLD, WARM, "unplug")
_LARGEST_FACTOR = 1000.0
_TURN_FACTOR = 3.0
"""Whether the sinks avalanche says as much as a reading that changes threefold."""


@dataclass(frozen=True)
class Moved:
    """A reading that differs from the lamp as found by enough to be worth a word.

    `rank` is its place among those that are worth one. `turned` says what sets a surge current now, where
    something else did as found: an avalanche in one of them makes the two no measure of each other.
    """

    reading: str
    before: float
    now: float
    better: bool
    rank: int = 0
    turned: str = ""

    @property
    def weight(self) -> float:
        """How much the change says: by which factor, at most as much as one of a thousand.

        A reading that says more about a lamp may have changed less than one that says little.
        """
        if self.turned:
            factor = _TURN_FACTOR
        elif not (0 < self.before < math.inf and 0 < self.now < math.inf):
            factor = _LARGEST_FACTOR
        else:
            factor = min(_LARGEST_FACTOR, max(self.now / self.before, self.before / self.now))
        return math.log(factor) / (1 + 0.15 * self.rank)


@dataclass(frozen=True)
class Named:
    """A variant that the answer names, and against the lamp as found: gains, price, and what is over.

    `over` is what it breaks, or breaks worse; `still` what stays over as found and is no worse; `was` the use
    of each limit by the lamp as found.
    """

    ranked: Ranked
    serves: str
    gains: tuple[Moved, ...]
    price: tuple[Moved, ...]
    over: tuple[Use, ...]
    still: tuple[Use, ...]
    was: Mapping[Topic, Use]

    @property
    def title(self) -> str:
        """Number and name."""
        return self.ranked.candidate.title


@dataclass(frozen=True)
class Answer:
    """What a study came to.

    `named` is the variant that comes nearest to what was asked: None without an aim, or where nothing serves
    any. `corners` stand in its place without an aim: words, and a variant or the lamp as found. `least`
    is the smallest change that is worth making by itself. `unserved` are aims that no variant serves. `sways`
    are sentences on assumed values past which another variant would be named, where a spread looked for them.
    """

    aims: Aims
    ranked: tuple[Ranked, ...]
    named: Named | None
    corners: tuple[tuple[str, Named], ...]
    least: Named | None
    unserved: tuple[str, ...]
    kept_by: tuple[Ranked, ...]
    not_tried: tuple[str, ...]
    leans_on: tuple[str, ...]
    from_memory: int
    nothing: tuple[Ranked, ...]
    worse: tuple[Ranked, ...]
    sways: tuple[str, ...] = ()

    def __str__(self) -> str:
        """Say it in the lines that terminal and report show."""
        # The words know this class, so they are asked for only here.
        from coldiron.answer.words import answer_lines

        return "\n".join(answer_lines(self))

    def __repr__(self) -> str:
        """Name it in one line."""
        named = self.named.title if self.named else "no variant"
        return f"<Answer: {named} of {len(self.ranked)} variants>"

    @property
    def found(self) -> Ranked:
        """The lamp as found."""
        return next(one for one in self.ranked if one.candidate.number == 0)

    @property
    def refused(self) -> tuple[Ranked, ...]:
        """Variants that take a safety part away, in the order of the study."""
        refused = (one for one in self.ranked if one.takes_away)
        return tuple(sorted(refused, key=lambda one: one.candidate.number))

    @property
    def dark(self) -> tuple[Ranked, ...]:
        """Variants that give no light."""
        return tuple(one for one in self.ranked if one.candidate.is_dark)

    @property
    def failed(self) -> tuple[Ranked, ...]:
        """Variants without an answer from some bench."""
        return tuple(one for one in self.ranked if one.candidate.failed)


def answer(study: Study, results: Results, verdicts: Sequence[Verdict]) -> Answer:
    """Say what a study came to.

    Parameters
    ----------
    study : Study
    results : Results
        At least of the lamp as found.
    verdicts : sequence of Verdict
        From `coldiron.limits.judge` of the same cases.
    """
    ran = [one.case.bench for one in results if one.result.readings]
    return answer_of(study, candidates(study, results, verdicts), list(dict.fromkeys(ran)))


def answer_of(study: Study, weighed: Sequence[Candidate], benches: Sequence[str]) -> Answer:
    """Say what the variants of a study, as found first, come to."""
    aims = study.aim
    ranked = tuple(ranking(aims, weighed))
    found = next(one for one in ranked if one.candidate.number == 0)
    eligible = [one for one in ranked if one.may_be_recommended and one is not found]
    served = {aim: _serving(aim, found, eligible) for aim in aims.want}
    chosen = _named(aims, found, eligible, served)
    corners = () if aims else tuple(_corners(found, eligible))
    least = _least_change(aims, chosen, found, eligible)
    told = [one for one in (chosen, least, *(corner for _, corner in corners)) if one]
    nothing = tuple(
        one for one in eligible if alike(one, found) and not missing_benches(one.candidate, benches)
    )
    return Answer(
        aims=aims,
        ranked=ranked,
        named=chosen,
        corners=corners,
        least=least,
        unserved=tuple(aim for aim in aims.want if not served[aim]),
        kept_by=tuple(one for one in eligible if one.is_clean and not one.missed),
        not_tried=tuple(untried(study, benches, _once(told), weighed)),
        leans_on=tuple(dict.fromkeys(text for one in told[:2] for text in _leaning(one))),
        from_memory=_recalled(told),
        nothing=_by_number(nothing),
        worse=_by_number(
            one for one in eligible if one not in nothing and _is_worse(one, found, aims, served)
        ),
    )


def _serving(aim: str, found: Ranked, eligible: Sequence[Ranked]) -> list[Ranked]:
    """Variants that serve an aim, in their order; last those with a part that does not suit the mains."""
    gone = way_gone(aim, found.candidate, [one.candidate for one in eligible])
    unsuited = [one for one in eligible if _is_unsuited(one, found)]

    def from_on(way: float) -> list[Ranked]:
        return [one for one in eligible if gone.get(one.candidate.number, 0.0) >= way]

    serving = from_on(HALF_WAY)
    suited = [one for one in serving if one not in unsuited]
    if not suited:
        suited = [one for one in from_on(SUITED_WAY) if one not in unsuited]
    return [*suited, *(one for one in serving if one in unsuited)]


def _is_unsuited(one: Ranked, found: Ranked) -> bool:
    """Whether undisturbed mains alone takes a part over its voltage rating, where it does not as found.

    A varistor above the voltage of its class, or a capacitor above its own, is the wrong part by however
    little: watts and pulses over a rating are a matter of degree.
    """
    before = {use.topic for use in found.candidate.over}
    return any(
        use.topic.group == "rating"
        and use.topic not in before
        and use.verdict.bench in _UNDISTURBED
        and kind_of(use.verdict.reading).unit == "V"
        for use in one.candidate.over
    )


def _named(
    aims: Aims, found: Ranked, eligible: Sequence[Ranked], served: Mapping[str, Sequence[Ranked]]
) -> Named | None:
    """First of those that serve the most wanted aim that can be served, within the bounds if it can be."""
    for aim in aims.want:
        if served[aim]:
            best = next((one for one in served[aim] if not one.missed), served[aim][0])
            return named(best, found, aims, aim)
    if aims.keep and found.missed:
        within = [one for one in eligible if not one.missed]
        nearest = within or sorted(eligible, key=_miss)
        if nearest and _miss(nearest[0]) < _miss(found):
            return named(nearest[0], found, aims, "")
    return None


def _miss(one: Ranked) -> float:
    return max((held.ratio for held in one.held if not math.isnan(held.ratio)), default=0.0)


def named(one: Ranked, found: Ranked, aims: Aims, serves: str) -> Named:
    """A variant with its gains and price, what the aims ask for first."""
    first = {measure.reading for measure in MEASURES.get(serves, ())}
    asked = _asked(aims)
    moved = sorted(
        _moved(one, found),
        key=lambda move: (move.reading not in first, move.reading not in asked, -move.weight),
    )
    before = found.candidate.uses
    still = tuple(use for use in one.candidate.over if _no_worse(use, before))
    return Named(
        ranked=one,
        serves=serves,
        gains=tuple(move for move in moved if move.better),
        price=tuple(move for move in moved if not move.better),
        over=tuple(use for use in one.candidate.over if use not in still),
        still=still,
        was=before,
    )


def _asked(aims: Aims) -> set[str]:
    """Readings that aims and bounds are about."""
    return {m.reading for aim in aims.want for m in MEASURES[aim]} | {bound.reading for bound in aims.keep}


def _no_worse(use: Use, before: Mapping[Topic, Use]) -> bool:
    """Whether a broken limit was broken as found, and no less."""
    was = before.get(use.topic)
    return was is not None and was.over and use.ratio <= STEP_RATIO * was.ratio


def _moved(one: Ranked, found: Ranked) -> Iterator[Moved]:
    turned = surge_limit.turned(surge_limit.PEAK, one.candidate.words, found.candidate.words)
    for rank, reading in enumerate(told_readings()):
        now, before = one.candidate.reading(reading), found.candidate.reading(reading)
        sign = sign_of(reading)
        if not sign:
            continue
        if turned and reading == surge_limit.PEAK:
            yield Moved(reading, before, now, turned != surge_limit.AVALANCHE, rank, turned)
        elif turned and reading == SURGE_STRAIN:
            continue  # most of it are currents too
        elif differs(reading, now, before):
            yield Moved(reading, before, now, (now < before) == (sign > 0), rank)


def _corners(found: Ranked, eligible: Sequence[Ranked]) -> Iterator[tuple[str, Named]]:
    """Steadiest, coolest and calmest: of what cannot be told apart, the first of the ranking."""
    for words, aim in CORNERS:
        measure = measure_of(aim, found.candidate)
        if measure is None:
            continue
        best = found
        for one in eligible:
            value, least = measure.of(one.candidate), measure.of(best.candidate)
            if value < least and differs(measure.reading, value, least):
                best = one
        yield words, named(best, found, Aims(), aim)


def _least_change(
    aims: Aims, chosen: Named | None, found: Ranked, eligible: Sequence[Ranked]
) -> Named | None:
    """First of the ranking among smaller changes that help an aim or a corner and break nothing more."""
    if chosen is None:
        return None
    smaller = [
        one
        for one in eligible
        if _size(one) < _size(chosen.ranked)
        and all(now <= before for now, before in zip(one.tiers, found.tiers, strict=True))
    ]
    for one in smaller:
        for aim in dict.fromkeys((*aims.want, *(aim for _, aim in CORNERS))):
            measure = measure_of(aim, found.candidate)
            if measure and measure.improves(one.candidate, found.candidate):
                least = named(one, found, aims, aim)
                if not least.over:
                    return least
    return None


def _size(one: Ranked) -> int:
    """How many parts are touched."""
    return len(one.candidate.changes)


def alike(one: Ranked, other: Ranked) -> bool:
    """Whether no reading worth a word differs, and no limit is broken a step more or less."""
    same = one.tiers == other.tiers and one.takes_away == other.takes_away
    return same and one.candidate.failed == other.candidate.failed and not any(_moved(one, other))


def _is_worse(one: Ranked, found: Ranked, aims: Aims, served: Mapping[str, Sequence[Ranked]]) -> bool:
    """Whether a variant breaks more than the lamp as found and serves nothing that was asked."""
    before = found.candidate.uses
    broken = [use for use in one.candidate.over if not _no_worse(use, before)]
    if not broken or any(one in good for good in served.values()):
        return False
    wanted = aims.want or tuple(aim for _, aim in CORNERS)
    measures = [measure for aim in wanted if (measure := measure_of(aim, found.candidate))]
    return not any(measure.improves(one.candidate, found.candidate) for measure in measures)


def _leaning(one: Named) -> Iterator[str]:
    """Typical ratings behind the limits of parts that a named variant comes near to or breaks."""
    for use in sorted(one.ranked.candidate.uses.values(), key=lambda use: -use.ratio):
        if use.verdict.provenance == "typical" and use.ratio >= CLOSE_RATIO:
            yield use.verdict.clause


def _recalled(told: Sequence[Named]) -> int:
    """How many of the limits that the named variants break or come near to are quoted from memory."""
    return len(
        {
            use.verdict.limit_id
            for one in told
            for use in one.ranked.candidate.uses.values()
            if use.verdict.provenance == "from memory" and use.ratio >= CLOSE_RATIO
        }
    )


def _by_number(ranked: Iterator[Ranked] | Sequence[Ranked]) -> tuple[Ranked, ...]:
    return tuple(sorted(ranked, key=lambda one: one.candidate.number))


def _once(told: Sequence[Named]) -> list[Candidate]:
    return list({one.ranked.candidate.number: one.ranked.candidate for one in told}.values())
