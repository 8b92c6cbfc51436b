"""The table of variants: headline readings, their change against as found, and the verdict on each."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from coldiron.answer.use import broken_topics
from coldiron.limits import Verdict
from coldiron.readings import surge_limit
from coldiron.readings.catalogue import COLD, COLUMNS, WARM, Kind, kind_of
from coldiron.readings.figures import change_text, figure
from coldiron.report.marks import Mark, SourceList, Told, told, worst
from coldiron.study.model import AS_FOUND
from coldiron.sweep.results import Results


@dataclass(frozen=True)
class Cell:
    """One reading of one variant; without one, `text` is "failed" or "not applicable", `hole` says why."""

    text: str
    order: float
    change: str = ""
    mark: Mark | None = None
    worst: bool = False
    hole: str = ""
    wordy: bool = False


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
    told: tuple[Told, ...] = ()

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
    headings: tuple[tuple[str, str], ...]
    rows: tuple[Row, ...]


def overviews(
    results: Results, verdicts: Sequence[Verdict], sources: SourceList, order: Sequence[str] = ()
) -> list[Overview]:
    """One table for each set of conditions, in the order of the study; variants in an order that is given."""
    return [
        _overview(
            results, label, [v for v in verdicts if v.conditions == label], sources, order or results.variants
        )
        for label in results.conditions
    ]


def _overview(
    results: Results, label: str, verdicts: Sequence[Verdict], sources: SourceList, order: Sequence[str]
) -> Overview:
    columns = _columns(results, label)
    ran = [name for name in order if any(results.ran(name, b, label) for b in results.benches)]
    held: dict[str, list[Verdict]] = {name: [] for name in ran}
    for verdict in verdicts:
        if verdict.variant in held:
            held[verdict.variant].append(verdict)
    return Overview(
        label,
        tuple(_heading(bench, kind_of(reading)) for bench, reading in columns),
        tuple(_row(results, name, label, columns, held[name], sources) for name in ran),
    )


def _columns(results: Results, label: str) -> list[tuple[str, str]]:
    """Readings worth a column that some variant has; a settled one is warm where warm was run, else cold."""

    def given(bench: str, reading: str) -> bool:
        return any(reading in results.readings(name, bench, label) for name in results.variants)

    shown = []
    for bench, reading in COLUMNS:
        if given(bench, reading):
            shown.append((bench, reading))
        elif bench == WARM and given(COLD, reading):
            shown.append((COLD, reading))
    return shown


def _heading(bench: str, kind: Kind) -> tuple[str, str]:
    """Heading of a column and its unit: warm or cold is said of what there is both of."""
    settled = {WARM: "warm ", COLD: "cold "}.get(bench, "") if COLD in kind.benches else ""
    return f"{settled}{kind.heading}", kind.unit


def _row(
    results: Results,
    name: str,
    label: str,
    columns: Sequence[tuple[str, str]],
    verdicts: Sequence[Verdict],
    sources: SourceList,
) -> Row:
    words = [verdict.verdict for verdict in verdicts]
    cells = []
    for bench, reading in columns:
        judged = [v for v in verdicts if v.reading == reading and v.bench == bench]
        cells.append(_cell(results, name, bench, reading, label, worst(judged), sources))
    holes = [hole for hole in results.holes(name) if hole.conditions == label and hole.word == "failed"]
    return Row(
        results.numbers[name],
        name,
        tuple(cells),
        len(broken_topics(verdicts)),
        words.count("close"),
        sum(word != "no limit applies" for word in words),
        tuple(f"{hole.bench}: {hole.why}" for hole in holes),
        told(verdicts, sources),
    )


def _cell(
    results: Results,
    name: str,
    bench: str,
    reading: str,
    label: str,
    verdict: Verdict | None,
    sources: SourceList,
) -> Cell:
    own, as_found = results.readings(name, bench, label), results.readings(AS_FOUND, bench, label)
    value, found = own.get(reading), as_found.get(reading)
    if not isinstance(value, float):
        hole = results.hole(name, bench, label) if results.ran(name, bench, label) else None
        return Cell(hole.word, math.inf, hole=f"{bench}: {hole.why}") if hole else Cell("–", math.inf)
    change = surge_limit.turned(reading, own, as_found)
    if not change and isinstance(found, float) and name != AS_FOUND:
        change = change_text(value, found)
    outcome = str(own.get("heat_outcome", "settled"))
    if reading == "sink_die_worst_C" and outcome != "settled":
        change = outcome
    return Cell(
        figure(value),
        value,
        change,
        sources.mark(verdict) if verdict else None,
        _is_worst(results, value, bench, reading, label),
        wordy=reading == "sink_die_worst_C",
    )


def _is_worst(results: Results, value: float, bench: str, reading: str, label: str) -> bool:
    """Whether a value is the worst of its column as shown; where many show the same, none is."""
    given = [results.readings(name, bench, label).get(reading) for name in results.variants]
    column = [each for each in given if isinstance(each, float)]
    worse = kind_of(reading).worse
    if worse == "none" or len(column) < 2:
        return False
    worst_text = figure(max(column) if worse == "up" else min(column))
    shown = [figure(v) for v in column]
    return figure(value) == worst_text and shown.count(worst_text) <= max(1, len(shown) // 4)
