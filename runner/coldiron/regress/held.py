"""Limits then and now: newly broken, newly applying, changed, kept again, no longer applying."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence

from coldiron.answer.use import topic_of, worst_uses
from coldiron.answer.words import times, what_text
from coldiron.limits.verdict import NO_LIMIT, Verdict, use_ratio
from coldiron.readings.figures import amount
from coldiron.regress.limits import (
    SAME_LIMIT_RATIO,
    applies_because,
    lapsed_because,
    limit_key,
    topic_words,
    verdict_case,
)
from coldiron.regress.moves import Bound, Move, MoveKind
from coldiron.regress.reference import CaseName, ReferenceTable, with_zeros

MOST_BROKEN = 4
"""More limits that a new variant or case breaks are counted."""


class HeldLimits:
    """What can be told of the limits of a study.

    Parameters
    ----------
    was, now : ReferenceTable
        With the same names of variants.
    verdicts : sequence of Verdict
        Of now.
    because : callable
        Changed inputs of a case of both.
    """

    def __init__(
        self,
        was: ReferenceTable,
        now: ReferenceTable,
        verdicts: Sequence[Verdict],
        because: Callable[[CaseName], tuple[str, ...]],
    ) -> None:
        self._was = was
        self._now = now
        self._verdicts = verdicts
        self._because = because

    def moves(self) -> Iterator[Move]:
        """Yield limits that are exceeded now and were not, and those that are exceeded and are others now."""
        for verdict in self._verdicts:
            case = verdict_case(verdict)
            if verdict.verdict != "over" or not self._is_in_both(case):
                continue
            key = limit_key(verdict)
            exceeded, kept = (bounds.get(case, {}).get(key) for bounds in (self._was.over, self._was.kept))
            if exceeded is not None:
                if self._is_another(verdict, exceeded):
                    because = self._why_broken(case, verdict, exceeded)
                    yield self._move(MoveKind.OTHER_LIMIT, verdict, exceeded, because, "still broken")
            elif kept is not None or case not in self._was.readings:
                before = math.nan if kept is None else kept
                yield self._move(MoveKind.LIMIT, verdict, before, self._why_broken(case, verdict, before))
            else:
                why = self._why_it_applies(verdict)
                yield self._move(MoveKind.APPLIES, verdict, math.nan, self._because(case), why)

    def notes(self) -> Iterator[Move]:
        """Yield limits that were exceeded and are not now, and those that apply newly and are kept."""
        over = self._now.over
        by_key = {(verdict_case(verdict), limit_key(verdict)): verdict for verdict in self._verdicts_held()}
        for case in sorted(self._was.over.keys() & self._now.readings.keys()):
            for key, before in sorted(self._was.over[case].items()):
                if key in over.get(case, {}):
                    continue
                verdict = by_key.get((case, key))
                if verdict is not None:
                    note = _itself(verdict, before) if self._is_another(verdict, before) else ""
                    yield self._move(MoveKind.KEPT_NOW, verdict, before, (), note)
                    continue
                limit_id, _, reading = key.partition(" ")
                why = lapsed_because(key, case, self._verdicts, self._was, self._now)
                because = () if why else self._because(case)
                group, words = topic_words(key)
                bound = Bound(limit_id, group, words, words, "", False, before, math.nan)
                yield Move(MoveKind.LAPSED, *case, reading, because=because, note=why, bound=bound)
        for verdict in self._verdicts_held():
            case, key = verdict_case(verdict), limit_key(verdict)
            known = self._was.over.get(case, {}).keys() | self._was.kept.get(case, {}).keys()
            if verdict.verdict != "over" and case in self._was.readings and key not in known:
                yield self._move(
                    MoveKind.APPLIES_AND_KEPT, verdict, math.nan, (), self._why_it_applies(verdict)
                )

    def _verdicts_held(self) -> Iterator[Verdict]:
        return (verdict for verdict in self._verdicts if verdict.verdict != NO_LIMIT)

    def _is_in_both(self, case: CaseName) -> bool:
        """Whether a case is no news; one that was not run stands for what the mains alone breaks."""
        ran_then, runs_now = case in self._was.readings, case in self._now.readings
        return ran_then if runs_now else case.variant in self._was.inputs

    def _is_another(self, verdict: Verdict, before: float) -> bool:
        """Whether a limit is not what it was; one of a standard that follows a reading is."""
        rules = (record.rules.get(verdict.limit_id) for record in (self._was, self._now))
        if not verdict.is_rating and len(set(rules)) == 1:
            return False
        return abs(verdict.limit - before) > SAME_LIMIT_RATIO * abs(before)

    def _why_it_applies(self, verdict: Verdict) -> str:
        case = verdict_case(verdict)
        return applies_because(
            verdict,
            with_zeros(self._was.readings[case], {verdict.reading: 0.0}),
            self._now.readings.get(case, {}),
            self._was.rules,
            self._now.rules,
        )

    def _why_broken(self, case: CaseName, verdict: Verdict, before: float) -> tuple[str, ...]:
        reading = self._was.readings.get(case, {}).get(verdict.reading)
        if not math.isnan(before) and self._is_another(verdict, before):
            itself = _itself(verdict, before)
            enough = (
                isinstance(reading, float) and use_ratio(reading, verdict.limit, least=verdict.least) > 1.0
            )
            # The reading as it was would break it too: then nothing else need have changed.
            return (itself,) if enough else (itself, *self._because(case))
        return self._because(case)

    def _move(
        self, kind: MoveKind, verdict: Verdict, before: float, because: tuple[str, ...], note: str = ""
    ) -> Move:
        case = verdict_case(verdict)
        topic = topic_of(verdict)
        return Move(
            kind,
            *case,
            reading=verdict.reading,
            was=self._was.readings.get(case, {}).get(verdict.reading),
            now=verdict.value,
            because=because,
            note=note,
            bound=Bound(
                verdict.limit_id,
                topic.group,
                topic.name,
                what_text(verdict),
                verdict.source,
                verdict.least,
                before,
                verdict.limit,
            ),
        )


def _exceeds(value: float, verdict: Verdict) -> bool:
    return use_ratio(value, verdict.limit, least=verdict.least) > 1.0


def _itself(verdict: Verdict, before: float) -> str:
    harder = verdict.limit > before if verdict.least else verdict.limit < before
    way = "tightened" if harder else "loosened"
    return f"limit {way}, {amount(before, verdict.reading)} → {amount(verdict.limit, verdict.reading)}"


def broken_words(verdicts: Iterable[Verdict]) -> str:
    """What is over, one a topic, the worst first.

    Examples
    --------
    >>> broken_words(())
    'breaks no limit'
    """
    uses = worst_uses([verdict for verdict in verdicts if verdict.verdict == "over"])
    worst = sorted((use for of in uses.values() for use in of.values()), key=lambda use: -use.ratio)
    if not worst:
        return "breaks no limit"
    said = [
        f"{what_text(use.verdict)} {amount(use.verdict.value, use.verdict.reading)} of "
        f"{amount(use.verdict.limit, use.verdict.reading)} (×{times(use.ratio)})"
        for use in worst[:MOST_BROKEN]
    ]
    more = len(worst) - MOST_BROKEN
    return f"breaks {', '.join(said)}" + (f" and {more} more" if more > 0 else "")
