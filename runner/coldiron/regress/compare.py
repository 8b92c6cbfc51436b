"""Holding a study against its reference: what moved, how far in tolerances, because of which input."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from coldiron.answer.use import topic_of
from coldiron.limits.verdict import Verdict
from coldiron.readings.catalogue import kind_of
from coldiron.regress.causes import causes
from coldiron.regress.held import HeldLimits, broken_words
from coldiron.regress.limits import limit_key, verdict_case
from coldiron.regress.moves import Comparison, Move, MoveKind, distance
from coldiron.regress.reference import CaseName, ReferenceTable, Value, with_zeros
from coldiron.regress.renames import renamed_variants, under_new_names
from coldiron.regress.tolerances import Allowed, allowed_for
from coldiron.study.tolerance import Tolerance


def compare(
    was: ReferenceTable,
    now: ReferenceTable,
    own: Mapping[str, Tolerance],
    failures: Mapping[CaseName, str],
    verdicts: Sequence[Verdict] = (),
    *,
    strict: bool = False,
) -> Comparison:
    """Hold a record against its reference.

    Parameters
    ----------
    was, now : ReferenceTable
        The reference, and what the study gives now.
    own : mapping of str to Tolerance
        The study's own tolerances.
    failures : mapping of CaseName to str
        Why cases have no readings now.
    verdicts : sequence of Verdict
        Of now.
    strict : bool
        Whether any limit that is over is a failure, though it was over before.
    """
    renamed = renamed_variants(was, now)
    was = under_new_names(was, renamed)
    comparer = _Comparer(was, now, own, verdicts)
    moves = [
        *comparer.failed(failures),
        *(Move(MoveKind.RENAMED_VARIANT, new, was=old, now=new) for old, new in renamed.items()),
        *comparer.variants(),
        *comparer.cases(failures),
        *comparer.limits.moves(),
    ]
    within = [move for move in moves if move.kind is MoveKind.DRIFT and move.distance <= 1.0]
    over = {(v.variant, topic_of(v)) for v in verdicts if v.verdict == "over"}
    stay = {
        (v.variant, topic_of(v))
        for v in verdicts
        if v.verdict == "over" and limit_key(v) in was.over.get(verdict_case(v), {})
    }
    return Comparison(
        was,
        now,
        moves=tuple(sorted((move for move in moves if move.distance > 1.0), key=_rank)),
        notes=tuple(sorted([*comparer.flips(), *comparer.limits.notes()], key=_rank)),
        nearest=max(within, key=lambda move: move.distance, default=None),
        over=len(over),
        stay_over=len(stay),
        strict=strict,
    )


def _rank(move: Move) -> tuple[object, ...]:
    return (move.kind, -move.distance, move.variant, move.bench, move.conditions, move.reading)


class _Comparer:
    """One comparison, each kind of what can be told in a method of its own."""

    def __init__(
        self,
        was: ReferenceTable,
        now: ReferenceTable,
        own: Mapping[str, Tolerance],
        verdicts: Sequence[Verdict],
    ) -> None:
        self.was = was
        self.now = now
        self.both = was.inputs.keys() & now.inputs.keys()
        self.limits = HeldLimits(was, now, verdicts, self._because)
        self._verdicts = verdicts
        self._own = own
        self._allowed: dict[str, Allowed] = {}
        self._causes: dict[tuple[str, str], tuple[str, ...]] = {}

    def failed(self, failures: Mapping[CaseName, str]) -> Iterator[Move]:
        for case, why in failures.items():
            because = self._because(case) if case.variant in self.both else ()
            yield Move(MoveKind.FAILED, *case, because=because, note=why)

    def variants(self) -> Iterator[Move]:
        for variant in self.was.inputs.keys() - self.now.inputs.keys():
            yield Move(MoveKind.VANISHED_VARIANT, variant)
        for variant in self.now.inputs.keys() - self.was.inputs.keys():
            broken = broken_words(v for v in self._verdicts if v.variant == variant)
            yield Move(MoveKind.NEW_VARIANT, variant, note=broken)

    def cases(self, failures: Mapping[CaseName, str]) -> Iterator[Move]:
        """Yield cases that came or went, and every reading of those that are still there."""
        before = {case for case in self.was.readings if case.variant in self.both}
        after = {case for case in self.now.readings if case.variant in self.both}
        for case in before - after - failures.keys():
            yield Move(MoveKind.VANISHED_CASE, *case)
        for case in after - before:
            broken = broken_words(v for v in self._verdicts if verdict_case(v) == case)
            yield Move(MoveKind.NEW_CASE, *case, note=broken)
        for case in sorted(before & after):
            yield from self._readings(case, self.was.readings[case], self.now.readings[case])

    def flips(self) -> Iterator[Move]:
        """Yield worst cases that were found elsewhere; how bad they are is held by another reading."""
        for case in sorted(self.was.readings.keys() & self.now.readings.keys()):
            was, now = self.was.readings[case], self.now.readings[case]
            for reading in sorted(was.keys() & now.keys()):
                holder = kind_of(reading).held_by
                if holder in was and was[reading] != now[reading]:
                    note = f"held is {kind_of(holder).what}"
                    yield Move(
                        MoveKind.WORST_ELSEWHERE,
                        *case,
                        reading,
                        was=was[reading],
                        now=now[reading],
                        note=note,
                    )

    def _readings(self, case: CaseName, was: Mapping[str, Value], now: Mapping[str, Value]) -> Iterator[Move]:
        was, now = with_zeros(was, now), with_zeros(now, was)
        for kind, ones, others in (
            (MoveKind.VANISHED_READING, was, now),
            (MoveKind.NEW_READING, now, was),
        ):
            if gone := sorted(ones.keys() - others.keys()):
                said = [kind_of(reading).what for reading in gone]
                note = ", ".join(said[:6]) + (f" and {len(said) - 6} more" if len(said) > 6 else "")
                yield Move(kind, *case, reading=gone[0] if len(gone) == 1 else "", note=note)
        for reading in was.keys() & now.keys():
            if kind_of(reading).held_by in was:
                continue
            allowed = self._allowed_for(reading)
            far = distance(was[reading], now[reading], allowed)
            if far > 0.0:
                yield Move(
                    MoveKind.DRIFT,
                    *case,
                    reading=reading,
                    was=was[reading],
                    now=now[reading],
                    allowed=allowed,
                    distance=far,
                    because=self._because(case) if far > 1.0 else (),
                )

    def _allowed_for(self, reading: str) -> Allowed:
        if reading not in self._allowed:
            self._allowed[reading] = allowed_for(reading, self._own)
        return self._allowed[reading]

    def _because(self, case: CaseName) -> tuple[str, ...]:
        key = (case.variant, case.bench)
        if key not in self._causes:
            self._causes[key] = causes(self.was, self.now, *key)
        return self._causes[key]
