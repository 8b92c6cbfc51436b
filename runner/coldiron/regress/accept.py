"""What is written when a study is accepted: what moved is new, what is within its tolerance stays."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from coldiron.readings.catalogue import kind_of
from coldiron.regress.limits import SAME_LIMIT_RATIO
from coldiron.regress.moves import distance
from coldiron.regress.reference import Bounds, CaseName, ReferenceTable, Value, may_be_zero, with_zeros
from coldiron.regress.renames import renamed_variants, under_new_names
from coldiron.regress.tolerances import allowed_for
from coldiron.study.tolerance import Tolerance


def accepted(was: ReferenceTable | None, now: ReferenceTable, own: Mapping[str, Tolerance]) -> ReferenceTable:
    """ReferenceTable to be written as the new reference.

    A reading within its tolerance keeps the value that the reference has: so a diff shows what was accepted
    and nothing else, and a value cannot creep away by one tolerance each time.

    Parameters
    ----------
    was : ReferenceTable, optional
        The reference; None where there is none that can be read.
    now : ReferenceTable
        What the study gives.
    own : mapping of str to Tolerance
        The study's own tolerances.
    """
    if was is None:
        return now
    was = under_new_names(was, renamed_variants(was, now))
    return replace(
        now,
        readings={
            case: _settled(was.readings.get(case, {}), values, own) for case, values in now.readings.items()
        },
        over=_bounds(was, now.over),
        kept=_bounds(was, now.kept),
    )


def _settled(
    was: Mapping[str, Value], now: Mapping[str, Value], own: Mapping[str, Tolerance]
) -> dict[str, Value]:
    was, now = with_zeros(was, now), with_zeros(now, was)

    def holds(reading: str) -> bool:
        return (
            reading in was
            and reading in now
            and distance(was[reading], now[reading], allowed_for(reading, own)) <= 1.0
        )

    # Where the worst was follows how bad it is.
    settled = {
        reading: was[reading] if reading in was and holds(kind_of(reading).held_by or reading) else value
        for reading, value in now.items()
    }
    return {reading: value for reading, value in settled.items() if value != 0.0 or not may_be_zero(reading)}


def _bounds(was: ReferenceTable, now: Bounds) -> dict[CaseName, dict[str, float]]:
    return {
        case: {key: _bound(was, case, key, value) for key, value in limits.items()}
        for case, limits in now.items()
    }


def _bound(was: ReferenceTable, case: CaseName, key: str, value: float) -> float:
    for bounds in (was.over, was.kept):
        before = bounds.get(case, {}).get(key)
        if before is not None and abs(value - before) <= SAME_LIMIT_RATIO * abs(before):
            return before
    return value
