"""Which variants the pictures of a study show: in each the same, those that its answer speaks of first."""

from __future__ import annotations

from collections.abc import Iterator

from coldiron.answer.answer import Answer, alike
from coldiron.answer.rank import Ranked
from coldiron.pictures.lay import MOST_ON_A_FILE

MOST_LAID_OVER = 24
"""A page with more variants than this in each picture would be slow on a phone."""


def chosen(answer: Answer, most: int = MOST_ON_A_FILE) -> list[str]:
    """Names of the lamp as found, of who the answer names, and of the next in rank that are not alike.

    Returns
    -------
    list of str
        At most so many, in the order of the study.
    """
    kept: list[Ranked] = []
    for one in _by_weight(answer):
        if len(kept) < most and not any(alike(one, other) for other in kept):
            kept.append(one)
    return [one.candidate.name for one in sorted(kept, key=lambda one: one.candidate.number)]


def laid(answer: Answer, most: int = MOST_LAID_OVER) -> list[str]:
    """Names of the variants that can be laid over on a page, in the order of the study."""
    first = list(dict.fromkeys(_by_weight(answer)))[:most]
    return [one.candidate.name for one in sorted(first, key=lambda one: one.candidate.number)]


def _by_weight(answer: Answer) -> Iterator[Ranked]:
    yield answer.found
    told = (answer.named, *(one for _, one in answer.corners), answer.least)
    yield from (one.ranked for one in told if one)
    yield from answer.ranked
