"""Moves of one kind about one thing as one row, the worst case first; each cause told once."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from coldiron.limits.verdict import use_ratio
from coldiron.readings.catalogue import kind_of
from coldiron.regress.moves import Move, MoveKind
from coldiron.regress.reference import may_be_zero

MOST_CAUSES = 12
"""More changed inputs are counted."""


@dataclass(frozen=True)
class Group:
    """Moves of one kind about one reading or limit, or of one bench; worst first."""

    moves: tuple[Move, ...]

    @property
    def worst(self) -> Move:
        """The move that stands for all of them."""
        return self.moves[0]

    @property
    def kind(self) -> MoveKind:
        """What kind of moves they are."""
        return self.worst.kind

    @property
    def because(self) -> tuple[str, ...]:
        """Changed inputs behind any of them, each once."""
        return tuple(dict.fromkeys(cause for move in self.moves for cause in move.because))


def grouped(moves: Iterable[Move]) -> list[Group]:
    """Groups in the order in which a person reads them: by kind, then the worst first.

    A group has one limit's topic (the harmonics of a standard are one), or one reading of one bench (the
    harmonics are one), or the cases of one bench under one set of conditions that came or went.
    """
    found: dict[tuple[object, ...], list[Move]] = {}
    for move in moves:
        found.setdefault(_key(move), []).append(move)
    groups = [Group(tuple(sorted(of, key=_worst_first))) for of in found.values()]
    return sorted(groups, key=lambda group: (group.kind, _worst_first(group.worst)))


def _key(move: Move) -> tuple[object, ...]:
    if move.bound is not None:
        return (move.kind, move.bound.group, move.bound.what)
    if move.kind in (MoveKind.NEW_VARIANT, MoveKind.RENAMED_VARIANT):
        return (move.kind, move.variant)
    if move.kind is MoveKind.FAILED:
        return (move.kind, move.bench, move.note)
    if move.kind in (MoveKind.VANISHED_CASE, MoveKind.NEW_CASE):
        return (move.kind, move.bench, move.conditions)
    if move.kind in (MoveKind.VANISHED_READING, MoveKind.NEW_READING):
        return (move.kind, move.bench, move.note)
    return (move.kind, move.bench, "harmonics" if may_be_zero(move.reading) else move.reading)


def _worst_first(move: Move) -> tuple[object, ...]:
    return (-use_of(move), -move.distance, move.variant, move.bench, move.conditions, move.reading)


def use_of(move: Move) -> float:
    """Share of its limit that a move uses up; 0 where it has none."""
    if move.bound is None or not isinstance(move.now, float) or math.isnan(move.bound.value):
        return 0.0
    return use_ratio(move.now, move.bound.value, least=move.bound.least)


def trend(move: Move) -> str:
    """Whether a reading that moved is better or worse for it; empty where it is neither.

    >>> trend(Move(MoveKind.DRIFT, "10 µF", reading="sinks_W", was=2.0, now=1.0))
    'better'
    >>> trend(Move(MoveKind.DRIFT, "10 µF", reading="line_fusing_ohm", was=2.0, now=1.0))
    ''
    """
    worse = kind_of(move.reading).worse if move.kind in (MoveKind.DRIFT, MoveKind.LIMIT) else "none"
    if worse == "none" or not isinstance(move.was, float) or not isinstance(move.now, float):
        return ""
    if move.now == move.was:
        return ""
    return "worse" if (move.now > move.was) == (worse == "up") else "better"


@dataclass(frozen=True)
class Cause:
    """A changed input, the letter that rows refer to it by, and how many moves it stands behind."""

    letter: str
    words: str
    count: int


def causes_of(moves: Sequence[Move]) -> list[Cause]:
    """Every changed input behind the moves, the one behind most of them first, `MOST_CAUSES` at most.

    >>> moved = Move(MoveKind.DRIFT, "10 µF", because=("numpy 1 → 2",))
    >>> causes_of([moved, Move(MoveKind.NEW_VARIANT, "22 µF")])
    [Cause(letter='a', words='numpy 1 → 2', count=1)]
    """
    counts = Counter(cause for move in moves for cause in move.because)
    ranked = sorted(counts.items(), key=lambda item: (-item[1], item[0]))
    return [Cause(chr(ord("a") + n), *item) for n, item in enumerate(ranked[:MOST_CAUSES])]


def letters(group: Group, causes: Sequence[Cause]) -> str:
    """Letters of the causes of a group; a dot stands for those that have none."""
    own = group.because
    known = [cause.letter for cause in causes if cause.words in own]
    return " ".join([*known, *(["·"] if len(own) > len(known) else [])])
