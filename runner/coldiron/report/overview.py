"""The table of variants: headline readings, their change against as found, and the verdict on each."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import pandas as pd

from coldiron.limits import Verdict
from coldiron.readings.figures import figure
from coldiron.report.marks import Mark, Sources, broken_limits, worst
from coldiron.study.model import AS_FOUND
from coldiron.tables import surge_limit
from coldiron.tables.terminal import HEADLINES, Headline, change_text

HOT_HEADLINES = (
    Headline("heat_outcome", "when hot", 0),
    Headline("sink_die_worst_C", "hottest die °C"),
    Headline("light_hot_pct", "light hot %", -1),
    Headline("reservoir_life_h", "reservoir life h, estimate", -1),
)
"""Readings of the settled, hot lamp; its other readings carry the ids of the cold ones."""


@dataclass(frozen=True)
class Cell:
    """One reading of one variant; without one, `text` is "failed" or "skipped" and `hole` says why."""

    text: str
    order: float
    change: str = ""
    mark: Mark | None = None
    worst: bool = False
    hole: str = ""
    wordy: bool = False


@dataclass(frozen=True)
class Lost:
    """A bench without readings: it failed, or was skipped because the lamp lacks what it needs."""

    word: str
    why: str


@dataclass(frozen=True)
class Row:
    """One variant under one supply; `over` counts the limits it breaks, `close` and `judged` verdicts."""

    number: int
    name: str
    cells: tuple[Cell, ...]
    over: int
    close: int
    judged: int
    holes: tuple[str, ...]

    @property
    def word(self) -> str:
        """What the verdicts come to."""
        if self.over:
            return "over"
        if self.holes:
            return "incomplete"
        return "close" if self.close else "ok" if self.judged else "no limit applies"


@dataclass(frozen=True)
class Overview:
    """The table of one supply."""

    supply: str
    headings: tuple[str, ...]
    rows: tuple[Row, ...]


Values = Mapping[str, Mapping[str, float | str]]


def overviews(
    table: pd.DataFrame, verdicts: Sequence[Verdict], sources: Sources, numbers: Mapping[str, int]
) -> list[Overview]:
    """One table a supply, in the order of the study.

    Parameters
    ----------
    table : DataFrame
        Tidy readings.
    verdicts : sequence of Verdict
    sources : Sources
    numbers : mapping
        Number of each variant, by which it is known in the pictures.
    """
    return [
        _overview(str(supply), rows, [v for v in verdicts if v.conditions == supply], sources, numbers)
        for supply, rows in table.groupby("conditions", sort=False)
    ]


def _overview(
    supply: str,
    rows: pd.DataFrame,
    verdicts: Sequence[Verdict],
    sources: Sources,
    numbers: Mapping[str, int],
) -> Overview:
    values: dict[str, dict[str, float | str]] = {name: {} for name in rows["variant"].unique()}
    lost: dict[str, dict[str, Lost]] = {name: {} for name in values}
    benches: dict[str, str] = {}
    for name, bench, reading, value in rows[["variant", "bench", "reading", "value"]].itertuples(index=False):
        if reading in ("failed", "skipped"):
            lost[name][bench] = Lost(str(reading), f"{bench}: {value}")
        elif bench != "heat" or any(reading == hot.reading for hot in HOT_HEADLINES):
            values[name].setdefault(reading, value)
            benches.setdefault(reading, bench)
    cold = [headline for headline in HEADLINES if headline.reading != "heat_outcome"]
    shown = [headline for headline in (*cold, *HOT_HEADLINES) if headline.reading in benches]
    of_variant: dict[str, list[Verdict]] = {name: [] for name in values}
    for verdict in verdicts:
        of_variant[verdict.variant].append(verdict)
    return Overview(
        supply,
        tuple(headline.heading.replace("\n", " ") for headline in shown),
        tuple(
            _row(
                name,
                numbers[name],
                values,
                [(h, benches[h.reading]) for h in shown],
                lost[name],
                found,
                sources,
            )
            for name, found in of_variant.items()
        ),
    )


def _row(
    name: str,
    number: int,
    values: Values,
    shown: Sequence[tuple[Headline, str]],
    lost: Mapping[str, Lost],
    verdicts: Sequence[Verdict],
    sources: Sources,
) -> Row:
    words = [verdict.verdict for verdict in verdicts]
    cells = []
    for headline, bench in shown:
        judged = [v for v in verdicts if v.reading == headline.reading and v.bench == bench]
        cells.append(_cell(headline, name, values, lost.get(bench), worst(judged), sources))
    return Row(
        number,
        name,
        tuple(cells),
        len(broken_limits(verdicts)),
        words.count("close"),
        sum(word != "no limit applies" for word in words),
        tuple(each.why for each in lost.values() if each.word == "failed"),
    )


def _cell(
    headline: Headline,
    name: str,
    values: Values,
    lost: Lost | None,
    verdict: Verdict | None,
    sources: Sources,
) -> Cell:
    value = values[name].get(headline.reading)
    if value is None:
        return Cell(lost.word, math.inf, hole=lost.why) if lost else Cell("–", math.inf)
    if headline.reading == "heat_outcome":
        return Cell(str(value), float(value != "settled"), wordy=True)
    if isinstance(value, str):
        margin = float(values[name].get("weakest_margin_pct", math.nan))
        return Cell(value, margin, change=f"{figure(margin)} %", wordy=True)
    as_found = values.get(AS_FOUND, {})
    found = as_found.get(headline.reading)
    change = surge_limit.turned(headline.reading, values[name], as_found)
    if not change and isinstance(found, float) and name != AS_FOUND:
        change = change_text(value, found)
    return Cell(
        figure(value),
        float(value),
        change,
        sources.mark(verdict) if verdict else None,
        _is_worst(headline, float(value), values),
    )


def _is_worst(headline: Headline, value: float, values: Values) -> bool:
    """Whether a value is the worst of its column as shown; where many show the same, none is."""
    column = [v for row in values.values() if isinstance(v := row.get(headline.reading), float)]
    if not headline.worse or len(column) < 2:
        return False
    worst_text = figure(max(column) if headline.worse > 0 else min(column))
    shown = [figure(v) for v in column]
    return figure(value) == worst_text and shown.count(worst_text) <= max(1, len(shown) // 4)
