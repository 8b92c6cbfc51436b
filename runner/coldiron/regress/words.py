"""The words in which every output tells the same comparison."""

from __future__ import annotations

import math
from collections.abc import Sequence

from coldiron.answer.words import times
from coldiron.readings.catalogue import COLD, WARM, kind_of
from coldiron.readings.figures import amount
from coldiron.regress.groups import Cause, Group, causes_of, letters, trend, use_of
from coldiron.regress.moves import Comparison, Move, MoveKind
from coldiron.regress.reference import Value

HEADINGS = ("what", "of", "reference → now", "tolerances", "worst in", "because")
_OF_LIMITS = frozenset(
    {MoveKind.LIMIT, MoveKind.APPLIES, MoveKind.OTHER_LIMIT, MoveKind.KEPT_NOW, MoveKind.APPLIES_AND_KEPT}
)


def summary(comparison: Comparison) -> str:
    """One line: how much moved, or that nothing did and what came nearest; and what is over as before."""
    held = f"{comparison.now.count} readings of {len(comparison.now.readings)} cases"
    over = _over_words(comparison)
    if comparison.moves:
        counts = (f"{n} {_plural(kind, n)}" for kind, n in comparison.counts.items())
        return (
            f"{comparison.now.study}: {', '.join(counts)}; {held} were compared with the reference"
            f"{over}{_other_code(comparison)}"
        )
    nearest = comparison.nearest
    said = (
        f"; nearest to its end: {kind_of(nearest.reading).what}, {nearest.bench}, of {nearest.variant} "
        f"at {100 * nearest.distance:.0f} % of its tolerance"
        if nearest
        else ", all to the last digit"
    )
    return f"{comparison.now.study}: nothing moved; {held} are within their tolerances{said}{over}"


def _over_words(comparison: Comparison) -> str:
    stay = comparison.stay_over
    if not stay:
        return ""
    strict = ", which --strict refuses" if comparison.strict else ""
    return f"; {stay} {'limit stays' if stay == 1 else 'limits stay'} over as before{strict}"


def _other_code(comparison: Comparison) -> str:
    versions = (comparison.was.versions.get("code"), comparison.now.versions.get("code"))
    named = any("own code" in cause for move in comparison.moves for cause in move.because)
    return "; coldiron's own code is another too" if versions[0] != versions[1] and not named else ""


def _plural(kind: MoveKind, number: int) -> str:
    return kind.words if number == 1 else f"{kind.words}s"


def row(group: Group, causes: Sequence[Cause]) -> tuple[str, ...]:
    """A row of the table, a cell for each of `HEADINGS`."""
    worst = group.worst
    return (
        worst.kind.words,
        subject(worst),
        values_text(worst),
        " ".join(text for text in (distance_text(worst), trend(worst)) if text),
        place(group),
        letters(group, causes),
    )


def subject(move: Move) -> str:
    """What a move is about: a limit and why it is told, a reading and its bench, or what a case breaks.

    >>> subject(Move(MoveKind.DRIFT, "10 µF", "steady", "230 V 50 Hz", "sinks_W", 5.0, 6.0))
    'power of all sinks, steady'
    """
    if move.bound is not None:
        about = f"{move.bound.words}{_on_bench(move)}"
        return "; ".join(text for text in (about, move.note) if text)
    if move.kind is MoveKind.RENAMED_VARIANT:
        return "made of the same"
    if move.kind in (MoveKind.VANISHED_READING, MoveKind.NEW_READING):
        return f"{move.note}, {move.bench}"
    if move.reading:
        held = f"; {move.note}" if move.note else ""
        return f"{kind_of(move.reading).what}{_on_bench(move)}{held}"
    return "; ".join(text for text in (move.bench, move.note) if text)


def _on_bench(move: Move) -> str:
    """Bench, where the words of a reading do not say it: cold and warm have the same."""
    return f", {move.bench}" if move.bench in (COLD, WARM) else ""


def place(group: Group) -> str:
    """Where the worst of a group is, and how many more there are.

    >>> place(Group((Move(MoveKind.VANISHED_VARIANT, "10 µF"), Move(MoveKind.VANISHED_VARIANT, "22 µF"))))
    '10 µF and 1 more'
    """
    worst = group.worst
    cases = {(move.variant, move.bench, move.conditions) for move in group.moves}
    supplies = {move.conditions for move in group.moves}
    where = f"{worst.variant} at {worst.conditions}" if len(supplies) > 1 else worst.variant
    if len(cases) > 1:
        return f"{where} and {len(cases) - 1} more"
    return f"{where}, {len(group.moves)} of them" if len(group.moves) > 1 else where


def value_text(value: Value | None, reading: str) -> str:
    """Value with its unit; empty where there is none.

    >>> value_text(0.40008, "surge_sink_peak_A"), value_text(None, "")
    ('0.4001 A', '')
    """
    if value is None or isinstance(value, str):
        return value or ""
    if not math.isfinite(value):
        return "never" if value > 0 else f"{value:g}"
    return f"{value:.4g} {kind_of(reading).unit}".rstrip()


def values_text(move: Move) -> str:
    """The values of a move, of the reference and of now, as far as there are any, and the limit."""
    values = [value_text(value, move.reading) for value in (move.was, move.now)]
    if move.kind in _OF_LIMITS and values[0] == values[1]:
        values = values[:1]
    said = " → ".join(text for text in values if text)
    if move.bound is None or math.isnan(move.bound.value):
        return said
    bound = move.bound
    limits = [amount(bound.value, move.reading)]
    if not math.isnan(bound.before) and limits[0] != amount(bound.before, move.reading):
        limits.insert(0, amount(bound.before, move.reading))
    least = "at least " if bound.least else ""
    over = use_of(move) > 1.0 and move.kind not in (MoveKind.KEPT_NOW, MoveKind.APPLIES_AND_KEPT)
    use = f" (×{times(use_of(move))})" if over else ""
    return f"{said} of {least}{' → '.join(limits)}{use}"


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


def changed_inputs(comparison: Comparison, moves: Sequence[Move] | None = None) -> list[str]:
    """Every input that stands behind a move, the one behind most of them first; several have their letters.

    >>> from coldiron.regress.reference import ReferenceTable
    >>> moves = (Move(MoveKind.DRIFT, "10 µF", because=("numpy 1 → 2",)), Move(MoveKind.NEW_VARIANT, "22 µF"))
    >>> empty = ReferenceTable("s", {}, {}, {}, {})
    >>> changed_inputs(Comparison(empty, empty, moves, (), None))
    ['numpy 1 → 2 (behind 1 of 2)']
    """
    moves = comparison.moves if moves is None else moves
    causes = causes_of(moves)
    said = [
        f"{f'{cause.letter}: ' if len(causes) > 1 else ''}{cause.words} "
        f"(behind {_share(cause.count, len(moves))})"
        for cause in causes
    ]
    more = len({cause for move in moves for cause in move.because}) - len(causes)
    return [*said, f"·: {more} more inputs"] if more > 0 else said


def _share(count: int, of: int) -> str:
    return f"all {of}" if count == of and of > 1 else f"{count} of {of}"


def line(move: Move) -> str:
    """A move on one line.

    >>> line(Move(MoveKind.DRIFT, "10 µF", "steady", "230 V 50 Hz", "sinks_W", 5.0, 6.0, distance=20.0))
    'drift: 10 µF | 230 V 50 Hz | power of all sinks, steady: 5 W → 6 W (+20 tolerances, worse)'
    """
    where = " | ".join(text for text in (move.variant, move.conditions, subject(move)) if text)
    far = f"{distance_text(move)} tolerances" if distance_text(move) else ""
    said = ", ".join(text for text in (far, trend(move), *move.because[:3]) if text)
    what = ": ".join(text for text in (move.kind.words, where, values_text(move)) if text)
    return f"{what} ({said})" if said else what
