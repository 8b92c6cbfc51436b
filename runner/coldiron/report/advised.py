"""The section of a report that says what to buy."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from coldiron.advice.advice import Advice
from coldiron.advice.words import (
    advice_lines,
    grouped,
    headings,
    loser_words,
    row_cells,
    stage_lines,
    topic_words,
)
from coldiron.pictures.advice import advice_pictures
from coldiron.pictures.ink import BROAD, NARROW
from coldiron.pictures.laid_over import Both


@dataclass(frozen=True)
class Advised:
    """What the section shows: lines, those chosen, limits with their counts, losers, stages, pictures."""

    lines: Sequence[str]
    headings: Sequence[str]
    rows: Sequence[tuple[int, Sequence[str]]]
    parts: int
    limits: Sequence[tuple[str, str, str]]
    losers: Sequence[str]
    stages: Sequence[str]
    pictures: Sequence[Both]


def advised(advice: Advice | None) -> Advised | None:
    """Section of some advice; none where none was asked for."""
    if advice is None:
        return None
    pictures = zip(advice_pictures(advice, BROAD), advice_pictures(advice, NARROW), strict=True)
    return Advised(
        lines=advice_lines(advice),
        headings=headings(advice),
        rows=[(one.number, row_cells(advice, one)) for one in advice.chosen],
        parts=len(advice.found.space.axes),
        limits=[
            (topic_words(topic), grouped(count), grouped(alone)) for topic, count, alone in advice.counts
        ],
        losers=[loser_words(advice, one) for one in advice.nearest],
        stages=list(stage_lines(advice)),
        pictures=[Both(broad, narrow) for broad, narrow in pictures],
    )
