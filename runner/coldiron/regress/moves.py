"""What can be told of a study that is held against its reference."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from enum import IntEnum
from functools import cached_property

from coldiron.errors import SimulationFailed
from coldiron.regress.reference import ReferenceTable, Value
from coldiron.regress.tolerances import Allowed

MOVED_STATUS = 1


class MoveKind(IntEnum):
    """What can be told of a case; in the order of the table where the distance is the same."""

    FAILED = 0
    LIMIT = 1
    VANISHED_VARIANT = 2
    NEW_VARIANT = 3
    VANISHED_CASE = 4
    NEW_CASE = 5
    VANISHED_READING = 6
    NEW_READING = 7
    DRIFT = 8

    @property
    def words(self) -> str:
        """As a person reads it."""
        return {MoveKind.FAILED: "failed case", MoveKind.LIMIT: "broken limit"}.get(
            self, self.name.lower().replace("_", " ")
        )


@dataclass(frozen=True)
class Move:
    """One thing that is not as it was.

    `bench`, `conditions` and `reading` are empty where it concerns more than one; `was` and `now` None where
    there is no value; `distance` is in tolerances and infinite where none applies; `note` says which limit,
    or why a case failed.
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


@dataclass(frozen=True)
class Comparison:
    """A study held against its reference.

    `moves` are sorted by their distance, farthest first; `notes` tell what is no move, such as another angle
    that is worst by a hair; `nearest` is the reading that came nearest to the end of its tolerance without
    leaving it.
    """

    was: ReferenceTable
    now: ReferenceTable
    moves: tuple[Move, ...]
    notes: tuple[str, ...]
    nearest: Move | None

    @cached_property
    def counts(self) -> Mapping[MoveKind, int]:
        """How many moves of each kind there are."""
        return {kind: n for kind in MoveKind if (n := sum(move.kind is kind for move in self.moves))}

    @property
    def status(self) -> int:
        """Exit status: 3 when cases failed, 1 when anything moved, else 0."""
        if MoveKind.FAILED in self.counts:
            return SimulationFailed.exit_status
        return MOVED_STATUS if self.moves else 0


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
