"""The first screen: what was asked, who is named, what that gains and costs, and what is over by how much."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from coldiron.answer.answer import Answer, Moved, Named
from coldiron.answer.told import CLOSE_RATIO, SURGE_STRAIN, subject_of
from coldiron.answer.words import (
    caution_lines,
    further_lines,
    loosest,
    moved_text,
    times,
    use_text,
    verdict_line,
)
from coldiron.readings.figures import amount, figure
from coldiron.study.aims import Aims
from coldiron.study.model import Study

MOST_MOVED = 5
MOST_BARS = 6
_FULL_RATIO = 2.5
"""A bar of this use of a limit fills its place; a longer one is cut, and its number says so."""


@dataclass(frozen=True)
class Change:
    """A reading as found and now, or where the two are no measure of each other a word."""

    what: str
    before: str
    now: str


@dataclass(frozen=True)
class Bar:
    """Use of one limit: by the named variant, and as found; lengths in per cent of the place for bars."""

    text: str
    times: str
    length_pct: float
    found_pct: float
    is_over: bool
    is_cut: bool


@dataclass(frozen=True)
class First:
    """Everything that the first screen says in words; `shown` is who is drawn, None for the lamp as found."""

    asked: str
    verdict: str
    cautions: tuple[str, ...]
    shown: Named | None
    gains: tuple[Change, ...]
    price: tuple[Change, ...]
    bars: tuple[Bar, ...]
    allowed_pct: float
    further: tuple[str, ...]


def first_screen(study: Study, answer: Answer) -> First:
    """Say what the first screen shows: of the variant that is named, or of the first corner that is one."""
    corners = (one for _, one in answer.corners if one.ranked.candidate.number)
    shown = answer.named or next(corners, None)
    return First(
        asked=asked(study.aim),
        verdict=verdict_line(answer),
        cautions=tuple(caution_lines(answer)),
        shown=shown,
        gains=tuple(map(_change, shown.gains[:MOST_MOVED])) if shown else (),
        price=tuple(map(_change, shown.price[:MOST_MOVED])) if shown else (),
        bars=tuple(_bars(shown)) if shown else (),
        allowed_pct=100.0 / _FULL_RATIO,
        further=tuple(further_lines(answer)),
    )


def asked(aims: Aims) -> str:
    """What was asked, in a line; empty where nothing was."""
    said = [f"Asked for: {', then '.join(aims.want)}"] if aims.want else []
    if aims.keep:
        said.append(f"kept within: {'; '.join(str(bound) for bound in aims.keep)}")
    text = "; ".join(said)
    return f"{text[:1].upper()}{text[1:]}." if text else ""


def _change(move: Moved) -> Change:
    if move.turned or move.reading == SURGE_STRAIN:
        return Change(moved_text(move), "", "")
    return Change(subject_of(move.reading), figure(move.before), amount(move.now, move.reading))


def _bars(one: Named) -> Iterator[Bar]:
    """Limits that are over, newly first, then those that are near, each with its use as found."""
    near = sorted(
        (use for use in one.ranked.candidate.uses.values() if not use.over and use.ratio >= CLOSE_RATIO),
        key=lambda use: -use.ratio,
    )
    for use in loosest([*one.over, *one.still, *near])[:MOST_BARS]:
        before = one.was.get(use.topic)
        text, _, _ = use_text(use, one).rpartition(" (×")
        yield Bar(
            text,
            times(use.ratio),
            _length_pct(use.ratio),
            _length_pct(before.ratio) if before else math.nan,
            use.over,
            use.ratio > _FULL_RATIO,
        )


def _length_pct(ratio: float) -> float:
    return round(100.0 * min(ratio, _FULL_RATIO) / _FULL_RATIO, 1)
