"""The words in which every output tells the same comparison."""

from __future__ import annotations

import math
from collections import Counter

from coldiron.readings.catalogue import kind_of
from coldiron.regress.moves import Comparison, Move, MoveKind
from coldiron.regress.reference import Value

HEADINGS = ("what", "variant", "bench", "supply", "reading", "reference → now", "tolerances", "because")
_MOST_INPUTS = 12


def summary(comparison: Comparison) -> str:
    """One line: how much moved, or that nothing did and what came nearest."""
    held = f"{comparison.now.count} readings of {len(comparison.now.readings)} cases"
    if comparison.moves:
        counts = (f"{n} {_plural(kind, n)}" for kind, n in comparison.counts.items())
        return f"{comparison.now.study}: {', '.join(counts)}; {held} were compared with the reference"
    nearest = comparison.nearest
    said = (
        f"; nearest to its end: {nearest.variant} | {nearest.bench} | {nearest.reading} "
        f"at {100 * nearest.distance:.0f} % of its tolerance"
        if nearest
        else ", all to the last digit"
    )
    return f"{comparison.now.study}: nothing moved; {held} are within their tolerances{said}"


def _plural(kind: MoveKind, number: int) -> str:
    return kind.words if number == 1 else f"{kind.words}s"


def cells(move: Move) -> tuple[str, ...]:
    """A row of the table, a cell for each of `HEADINGS`."""
    return (
        move.kind.words,
        move.variant,
        move.bench,
        move.conditions,
        move.reading,
        values_text(move),
        distance_text(move),
        reason(move),
    )


def value_text(value: Value | None, reading: str) -> str:
    """Value with its unit; empty where there is none.

    >>> value_text(0.40008, "surge_sink_peak_A"), value_text(None, "")
    ('0.4001 A', '')
    """
    if value is None or isinstance(value, str):
        return value or ""
    return f"{value:.4g} {kind_of(reading).unit}".rstrip()


def values_text(move: Move) -> str:
    """The values of a move, of the reference and of now, as far as there are any."""
    values = (value_text(value, move.reading) for value in (move.was, move.now))
    return " → ".join(text for text in values if text)


def distance_text(move: Move) -> str:
    """How far a drift went in tolerances, with its direction; empty for all else.

    >>> distance_text(Move(MoveKind.DRIFT, "10 µF", was=2.0, now=1.0, distance=12.34)), distance_text(
    ...     Move(MoveKind.NEW_VARIANT, "10 µF")
    ... )
    ('−12.3', '')
    """
    if move.kind is not MoveKind.DRIFT:
        return ""
    if math.isinf(move.distance):
        return "∞"
    sign = "−" if isinstance(move.was, float) and isinstance(move.now, float) and move.now < move.was else "+"
    return f"{sign}{move.distance:.3g}"


def reason(move: Move) -> str:
    """What is said beside a move: which limit or why, then the first of the changed inputs."""
    more = f" and {len(move.because) - 1} more" if len(move.because) > 1 else ""
    inputs = "".join(move.because[:1]) + more
    return "; ".join(text for text in (move.note, inputs) if text)


def changed_inputs(comparison: Comparison) -> list[str]:
    """Every input that stands behind a move, the one behind most of them first.

    >>> from coldiron.regress.reference import ReferenceTable
    >>> moves = (Move(MoveKind.DRIFT, "10 µF", because=("numpy 1 → 2",)), Move(MoveKind.NEW_VARIANT, "22 µF"))
    >>> empty = ReferenceTable("s", {}, {}, {}, {})
    >>> changed_inputs(Comparison(empty, empty, moves, (), None))
    ['numpy 1 → 2 (behind 1 of 2)']
    """
    counts = Counter(cause for move in comparison.moves for cause in move.because)
    said = [
        f"{cause} (behind {n} of {len(comparison.moves)})" for cause, n in counts.most_common(_MOST_INPUTS)
    ]
    more = len(counts) - _MOST_INPUTS
    return [*said, f"and {more} more inputs"] if more > 0 else said


def line(move: Move) -> str:
    """A move on one line.

    >>> line(Move(MoveKind.DRIFT, "10 µF", "steady", "230 V 50 Hz", "sinks_W", 5.0, 6.0, distance=20.0))
    'drift: 10 µF | steady | 230 V 50 Hz | sinks_W: 5 W → 6 W (+20 tolerances)'
    """
    where = " | ".join(text for text in (move.variant, move.bench, move.conditions, move.reading) if text)
    far = f"{distance_text(move)} tolerances" if distance_text(move) else ""
    said = "; ".join(text for text in (far, reason(move)) if text)
    what = ": ".join(text for text in (move.kind.words, where, values_text(move)) if text)
    return f"{what} ({said})" if said else what
