"""Verdicts as a page shows them: a mark that needs no colour, a line of text, a numbered source."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from coldiron.limits import Verdict
from coldiron.readings.catalogue import kind_of
from coldiron.readings.figures import amount

SEVERITY = ("no limit applies", "ok", "close", "over")
SIGNS = {"no limit applies": "○", "ok": "✓", "close": "≈", "over": "✗"}


@dataclass(frozen=True)
class Mark:
    """A verdict on the page; `source` is the number of its source in the list."""

    word: str
    sign: str
    text: str
    source: int


@dataclass(frozen=True)
class Source:
    """A source as the list of the page shows it; `is_rating` tells ratings of parts from rules and advice."""

    number: int
    name: str
    clause: str
    provenance: str
    limits: tuple[str, ...]
    is_rating: bool = False


def worst(verdicts: Iterable[Verdict]) -> Verdict | None:
    """The verdict that counts: the severest, and of those the one that uses up most of its limit."""
    return max(verdicts, key=_severity, default=None)


def _severity(verdict: Verdict) -> tuple[int, float]:
    used = verdict.use_ratio
    return SEVERITY.index(verdict.verdict), -math.inf if math.isnan(used) else used


def verdict_text(verdict: Verdict) -> str:
    """One verdict as one line: what, how much against how much, source, and provenance."""
    what = verdict.what or kind_of(verdict.reading).what
    if math.isnan(verdict.limit):
        held = f"{what}: {verdict.verdict}"
    else:
        value, limit = amount(verdict.value, verdict.reading), amount(verdict.limit, verdict.reading)
        held = f"{what}: {value}, {'at least' if verdict.least else 'at most'} {limit}: {verdict.verdict}"
    clause = f", {verdict.clause}" if verdict.clause else ""
    note = f". {verdict.note}" if verdict.note else ""
    return f"{held}. {verdict.source}{clause} ({verdict.provenance}){note}"


class SourceList:
    """The sources of all verdicts, numbered in the order in which they are first met."""

    def __init__(self, verdicts: Sequence[Verdict]) -> None:
        self._limits: dict[tuple[str, str, str], list[Verdict]] = {}
        for verdict in verdicts:
            self._limits.setdefault(_key(verdict), []).append(verdict)
        self._numbers = {key: number for number, key in enumerate(self._limits, start=1)}

    def mark(self, verdict: Verdict) -> Mark:
        """A verdict as a mark that points to its source."""
        return Mark(
            verdict.verdict, SIGNS[verdict.verdict], verdict_text(verdict), self._numbers[_key(verdict)]
        )

    def listed(self) -> list[Source]:
        """Every source with the limits taken from it."""
        return [
            Source(
                number, *key, _limits_words(self._limits[key]), all(v.is_rating for v in self._limits[key])
            )
            for key, number in self._numbers.items()
        ]


@dataclass(frozen=True)
class Told:
    """A verdict in full, where it was read, and the number of its source."""

    word: str
    sign: str
    text: str
    source: int


def told(verdicts: Sequence[Verdict], sources: SourceList) -> tuple[Told, ...]:
    """Verdicts that are over or close, over first and the worst first; one line for all harmonics."""
    lines: list[Told] = []
    for word in ("over", "close"):
        found = sorted((v for v in verdicts if v.verdict == word), key=_severity, reverse=True)
        harmonic = [v for v in found if v.reading.startswith("harmonic_")]
        for verdict in found:
            if verdict in harmonic[1:]:
                continue
            more = ""
            if verdict in harmonic and len(harmonic) > 1:
                more = f". And {len(harmonic) - 1} more harmonics are {word}"
            mark = sources.mark(verdict)
            lines.append(Told(word, mark.sign, f"{verdict.bench}: {mark.text}{more}.", mark.source))
    return tuple(lines)


def _key(verdict: Verdict) -> tuple[str, str, str]:
    return verdict.source, verdict.clause, verdict.provenance


def _limits_words(verdicts: Sequence[Verdict]) -> tuple[str, ...]:
    """Limits of one source: the range where they differ from case to case, one word for what is alike."""
    by_what: dict[str, list[Verdict]] = {}
    for verdict in verdicts:
        by_what.setdefault(verdict.what or kind_of(verdict.reading).what, []).append(verdict)
    alike: dict[str, list[str]] = {}
    for what, group in by_what.items():
        alike.setdefault(_range_words(group), []).append(what)
    return tuple(f"{_from_to(whats)}: {text}" for text, whats in alike.items())


def _range_words(verdicts: Sequence[Verdict]) -> str:
    limits = sorted({v.limit for v in verdicts if not math.isnan(v.limit)})
    if not limits:
        return "; ".join(dict.fromkeys(v.note or v.verdict for v in verdicts))
    word = "at least" if verdicts[0].least else "at most"
    low, high = (amount(limit, verdicts[0].reading) for limit in (limits[0], limits[-1]))
    return f"{word} {low}" if low == high else f"{word} {low} to {high}, by case"


def _from_to(whats: Sequence[str]) -> str:
    return ", ".join(whats) if len(whats) <= 3 else f"{whats[0]} to {whats[-1]}"
