"""Used over allowed on the page: variants in the order of their rank by the limits that one comes near to."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from coldiron.answer.answer import Answer
from coldiron.answer.told import CLOSE_RATIO
from coldiron.answer.use import GROUP_WORDS, GROUPS, Topic, Use
from coldiron.readings.catalogue import kind_of
from coldiron.report.marks import verdict_text
from coldiron.tables.matrix import use_cell
from coldiron.tables.short import short_part, short_rule


@dataclass(frozen=True)
class Square:
    """Use of one limit by one variant: its text, its verdict in words, and whether it is over."""

    text: str
    said: str
    is_over: bool


@dataclass(frozen=True)
class Line:
    """One variant."""

    number: int
    name: str
    squares: tuple[Square, ...]


@dataclass(frozen=True)
class Matrix:
    """Groups with how many columns each has, headings in two lines, and a line for each variant."""

    groups: tuple[tuple[str, int], ...]
    headings: tuple[tuple[str, str], ...]
    lines: tuple[Line, ...]


def matrix(answer: Answer) -> Matrix:
    """Used over allowed, the worst over all benches and conditions."""
    topics = list(_topics(answer))
    groups = [topic.group for topic in topics]
    return Matrix(
        tuple((GROUP_WORDS[group], groups.count(group)) for group in GROUPS if group in groups),
        tuple(_heading(topic, answer) for topic in topics),
        tuple(
            Line(
                one.candidate.number,
                one.candidate.name,
                tuple(_square(one.candidate.uses.get(topic)) for topic in topics),
            )
            for one in answer.ranked
        ),
    )


def _topics(answer: Answer) -> Iterator[Topic]:
    highest: dict[Topic, float] = {}
    for one in answer.ranked:
        for topic, use in one.candidate.uses.items():
            highest[topic] = max(highest.get(topic, 0.0), use.ratio)
    near = [topic for topic, ratio in highest.items() if ratio >= CLOSE_RATIO]
    yield from sorted(near, key=lambda topic: (GROUPS.index(topic.group), -highest[topic]))


def _heading(topic: Topic, answer: Answer) -> tuple[str, str]:
    if topic.group != "rating":
        return short_rule(topic.name), ""
    use = next(one.candidate.uses[topic] for one in answer.ranked if topic in one.candidate.uses)
    return short_part(topic.name), kind_of(use.verdict.reading).unit


def _square(use: Use | None) -> Square:
    if use is None:
        return Square(use_cell(math.nan), "", is_over=False)
    return Square(use_cell(use.ratio), verdict_text(use.verdict), use.over)
