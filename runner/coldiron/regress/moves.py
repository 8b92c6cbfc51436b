"""What can be told of a study that is held against its reference."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from enum import IntEnum
from functools import cached_property
from typing import NamedTuple

from coldiron.errors import SimulationFailed
from coldiron.regress.reference import ReferenceTable, Value
from coldiron.regress.tolerances import Allowed

MOVED_STATUS = 1


class MoveKind(IntEnum):
    """What can be told of a case; in the order of the table."""

    FAILED = 0
    LIMIT = 1
    APPLIES = 2
    OTHER_LIMIT = 3
    RENAMED_VARIANT = 4
    VANISHED_VARIANT = 5
    NEW_VARIANT = 6
    VANISHED_CASE = 7
    NEW_CASE = 8
    VANISHED_READING = 9
    NEW_READING = 10
    DRIFT = 11
    # What is told, and is no move.
    WORST_ELSEWHERE = 12
    KEPT_NOW = 13
    LAPSED = 14
    APPLIES_AND_KEPT = 15

    @property
    def words(self) -> str:
        """As a person reads it."""
        return _WORDS.get(self, self.name.lower().replace("_", " "))


_WORDS = {
    MoveKind.FAILED: "failed case",
    MoveKind.LIMIT: "broken limit",
    MoveKind.APPLIES: "newly applying limit",
    MoveKind.OTHER_LIMIT: "changed limit",
    MoveKind.KEPT_NOW: "limit kept now",
    MoveKind.LAPSED: "limit no longer applying",
    MoveKind.APPLIES_AND_KEPT: "newly applying limit, kept",
}


class Bound(NamedTuple):
    """A limit, as a move speaks of it.

    `value` is it now, `before` in the reference, each nan where it did not hold the case; both in the unit of
    `reading`. `what` and `group` are the topic that it belongs to, `words` name it alone.
    """

    limit_id: str
    group: str
    what: str
    words: str
    source: str
    least: bool
    before: float
    value: float


@dataclass(frozen=True)
class Move:
    """One thing that is not as it was.

    `bench`, `conditions` and `reading` are empty where it concerns more than one; `was` and `now` None where
    there is no value; `distance` is in tolerances and infinite where none applies; `note` says why a case
    failed, why a limit applies now, what a new variant breaks. `bound` is there for a move of a limit.
    """

    kind: MoveKind
    variant: str
    bench: str = ""
    conditions: str = ""
    reading: str = ""
    was: Value | None = None
    now: Value | None = None
    allowed: Allowed | None = None
    distance: float = math.inf
    because: tuple[str, ...] = ()
    note: str = ""
    bound: Bound | None = None


@dataclass(frozen=True)
class Comparison:
    """A study held against its reference.

    `moves` are sorted by kind, then by their distance, farthest first; `notes` tell what is no move, such as
    another angle that is worst by a hair; `nearest` is the reading that came nearest to the end of its
    tolerance without leaving it. `over` is how many limits are exceeded now (a variant and a topic of limits
    are one), `stay_over` how many of them were in the reference; `strict` makes each of them a failure.
    """

    was: ReferenceTable
    now: ReferenceTable
    moves: tuple[Move, ...]
    notes: tuple[Move, ...]
    nearest: Move | None
    over: int = 0
    stay_over: int = 0
    strict: bool = False

    @cached_property
    def counts(self) -> Mapping[MoveKind, int]:
        """How many moves of each kind there are."""
        return {kind: n for kind in MoveKind if (n := sum(move.kind is kind for move in self.moves))}

    @property
    def status(self) -> int:
        """Exit status: 3 when cases failed, 1 when anything moved or must not be over and is, else 0."""
        if MoveKind.FAILED in self.counts:
            return SimulationFailed.exit_status
        return MOVED_STATUS if self.moves or (self.strict and self.over) else 0


def distance(was: Value, now: Value, allowed: Allowed) -> float:
    """How far a reading has moved, in tolerances.

    Examples
    --------
    >>> distance(100.0, 103.0, Allowed(0.01, 0.5)), distance(0.0, 0.1, Allowed(0.01, 0.5))
    (3.0, 0.2)
    >>> distance(float("inf"), 12.0, Allowed(0.01, 0.5)), distance("bridge", "bridge", Allowed(0.01, 0.5))
    (inf, 0.0)
    """
    if was == now or (was != was and now != now):
        return 0.0
    if isinstance(was, str) or isinstance(now, str):
        return math.inf
    moved, one = abs(now - was), allowed.around(was)
    if not math.isfinite(moved) or one == 0.0:
        return math.inf
    return moved / one
