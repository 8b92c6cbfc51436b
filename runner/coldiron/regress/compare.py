"""Holding a study against its reference: what moved, how far in tolerances, because of which input."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from coldiron.limits.verdict import Verdict, use_ratio
from coldiron.readings.catalogue import kind_of
from coldiron.regress.causes import causes
from coldiron.regress.moves import Comparison, Move, MoveKind, distance
from coldiron.regress.record import limit_name, verdict_case
from coldiron.regress.reference import CaseName, ReferenceTable, Value
from coldiron.regress.tolerances import Allowed, allowed_for
from coldiron.study.tolerance import Tolerance


def compare(
    was: ReferenceTable,
    now: ReferenceTable,
    own: Mapping[str, Tolerance],
    failures: Mapping[CaseName, str],
    verdicts: Sequence[Verdict] = (),
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
        Of now; those that say "over" and did not in the reference are broken limits.
    """
    comparer = _Comparer(was, now, own)
    moves = [
        *comparer.failed(failures),
        *comparer.variants(),
        *comparer.cases(failures),
        *comparer.limits(verdicts),
    ]
    within = [move for move in moves if move.kind is MoveKind.DRIFT and move.distance <= 1.0]
    return Comparison(
        was,
        now,
        moves=tuple(sorted((move for move in moves if move.distance > 1.0), key=_rank)),
        notes=(*comparer.flips(), *comparer.mended()),
        nearest=max(within, key=lambda move: move.distance, default=None),
    )


def _rank(move: Move) -> tuple[object, ...]:
    return (-move.distance, move.kind, move.variant, move.bench, move.conditions, move.reading)


class _Comparer:
    """One comparison, each kind of what can be told in a method of its own."""

    def __init__(self, was: ReferenceTable, now: ReferenceTable, own: Mapping[str, Tolerance]) -> None:
        self.was = was
        self.now = now
        self.both = was.inputs.keys() & now.inputs.keys()
        self._own = own
        self._allowed: dict[str, Allowed] = {}
        self._causes: dict[tuple[str, str], tuple[str, ...]] = {}

    def failed(self, failures: Mapping[CaseName, str]) -> Iterator[Move]:
        for case, why in failures.items():
            because = self._because(case) if case.variant in self.both else ()
            yield Move(MoveKind.FAILED, *case, because=because, note=why)

    def variants(self) -> Iterator[Move]:
        for kind, ones, others in (
            (MoveKind.VANISHED_VARIANT, self.was, self.now),
            (MoveKind.NEW_VARIANT, self.now, self.was),
        ):
            for variant in ones.inputs.keys() - others.inputs.keys():
                yield Move(kind, variant)

    def cases(self, failures: Mapping[CaseName, str]) -> Iterator[Move]:
        """Yield cases that came or went, and every reading of those that are still there."""
        before = {case for case in self.was.readings if case.variant in self.both}
        after = {case for case in self.now.readings if case.variant in self.both}
        for case in before - after - failures.keys():
            yield Move(MoveKind.VANISHED_CASE, *case)
        for case in after - before:
            yield Move(MoveKind.NEW_CASE, *case)
        for case in sorted(before & after):
            yield from self._readings(case, self.was.readings[case], self.now.readings[case])

    def limits(self, verdicts: Sequence[Verdict]) -> Iterator[Move]:
        """Yield limits that are exceeded now and were not, of cases that the reference has."""
        for verdict in verdicts:
            case = verdict_case(verdict)
            if verdict.verdict != "over" or case not in self.was.readings:
                continue
            name = limit_name(verdict)
            if name in self.was.over.get(case, ()):
                continue
            before = self.was.readings[case].get(verdict.reading)
            because = self._because(case)
            if verdict.alternatives == 1 and isinstance(before, float) and _exceeds(before, verdict):
                because = ("the limit itself",)
            yield Move(
                MoveKind.LIMIT,
                *case,
                reading=verdict.reading,
                was=before,
                now=verdict.value,
                because=because,
                note=f"{'below' if verdict.least else 'above'} {verdict.limit:.4g}, {verdict.source}",
            )

    def flips(self) -> Iterator[str]:
        """Yield worst cases that were found elsewhere; how bad they are is held by another reading."""
        for case in sorted(self.was.readings.keys() & self.now.readings.keys()):
            was, now = self.was.readings[case], self.now.readings[case]
            for reading in sorted(was.keys() & now.keys()):
                if kind_of(reading).held_by in was and was[reading] != now[reading]:
                    yield (
                        f"worst elsewhere: {' | '.join(case)} | {reading} {_text(was[reading])} → "
                        f"{_text(now[reading])} (held is {kind_of(reading).held_by})"
                    )

    def mended(self) -> Iterator[str]:
        """Yield limits that were exceeded and are kept now."""
        for case in sorted(self.was.over.keys() & self.now.readings.keys()):
            for limit in sorted(self.was.over[case] - self.now.over.get(case, frozenset())):
                yield f"kept now: {' | '.join(case)} | {limit}"

    def _readings(self, case: CaseName, was: Mapping[str, Value], now: Mapping[str, Value]) -> Iterator[Move]:
        for kind, ones, others in (
            (MoveKind.VANISHED_READING, was, now),
            (MoveKind.NEW_READING, now, was),
        ):
            if gone := sorted(ones.keys() - others.keys()):
                note = ", ".join(gone[:6]) + (f" and {len(gone) - 6} more" if len(gone) > 6 else "")
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


def _exceeds(value: float, verdict: Verdict) -> bool:
    return use_ratio(value, verdict.limit, least=verdict.least) > 1.0


def _text(value: Value) -> str:
    return value if isinstance(value, str) else f"{value:g}"
