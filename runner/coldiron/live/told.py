"""What the page is told of an answer: strips in few bytes, readings in words, bars, one sentence."""

from __future__ import annotations

import base64
import math
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import numpy as np

from coldiron.answer.use import GROUP_WORDS, GROUPS, Use, worst_uses
from coldiron.engine.waves import Array
from coldiron.lamp.lamp import Lamp
from coldiron.limits import judge
from coldiron.limits.verdict import Verdict
from coldiron.live.hand import IN_HAND
from coldiron.live.work import Answered
from coldiron.readings.catalogue import kind_of, place_of
from coldiron.readings.figures import amount, change_text, figure
from coldiron.strips.spread import Strips
from coldiron.strips.vectors import unit_of
from coldiron.study.model import AS_FOUND, Study
from coldiron.sweep.results import Results
from coldiron.sweep.run import FinishedCase
from coldiron.tables.sentences import sentences
from coldiron.tables.short import short_part, short_rule

LEAST_BAR = 0.5
"""Uses below this have no bar, unless the lamp as found has one."""


def packed(row: Array) -> str:
    """Single precision, little-endian, in base64."""
    return base64.b64encode(np.ascontiguousarray(row, dtype="<f4").tobytes()).decode()


def strips_told(found: Answered) -> dict[str, Any]:
    """Strips as the page reads them, with what they are of; why there are none where there are none."""
    result, strips = found.result, found.strips
    told: dict[str, Any] = {"note": found.note, "how": "; ".join(result.how_run.values())}
    if result.failure:
        told["why"] = f"no answer: {result.failure.why}"
    elif result.not_applicable:
        told["why"] = result.not_applicable
    if strips is None:
        told.setdefault("why", "this bench keeps no run to draw, or the lamp finds no settled state")
        return told
    axis = strips.axis
    return told | {
        "axis": {
            "unit": axis.unit,
            "size": axis.size_s,
            "first": [moment / axis.size_s for moment in axis.first_s],
            "decades": axis.decades,
            "title": axis.title,
        },
        "time": packed(np.asarray(strips.time_s, dtype=float) / axis.size_s),
        "strips": [
            {"name": name, "unit": unit_of(name), "row": packed(row), "said": _said(name, row, strips)}
            for name, row in strips.rows.items()
        ],
        "levels": [[level.strip, level.value, level.words] for level in strips.levels],
    }


def _said(name: str, row: Array, strips: Strips) -> str:
    """A strip in words: its lowest and highest, and when."""
    unit, axis = unit_of(name), strips.axis
    low, high = int(row.argmin()), int(row.argmax())

    def when(n: int) -> str:
        return f"{figure(float(strips.time_s[n]) / axis.size_s)} {axis.unit}"

    if math.isclose(float(row[low]), float(row[high]), rel_tol=1e-3, abs_tol=1e-9):
        return f"{name} stands at {figure(float(row[high]))} {unit}"
    return (
        f"{name} from {figure(float(row[low]))} {unit} at {when(low)} "
        f"to {figure(float(row[high]))} {unit} at {when(high)}"
    )


def readings_told(
    readings: Mapping[str, float | str], found: Mapping[str, float | str]
) -> list[dict[str, Any]]:
    """Readings in the order of the catalogue, each with that of the lamp as found and the change."""
    told = []
    for reading in sorted(readings, key=place_of):
        kind, value, was = kind_of(reading), readings[reading], found.get(reading)
        row: dict[str, Any] = {
            "id": reading,
            "what": kind.what,
            "short": kind.heading,
            "unit": kind.unit,
            "value": value,
        }
        if isinstance(value, float):
            row["value"] = value if math.isfinite(value) else None
            row["text"] = amount(value, reading)
            if isinstance(was, float):
                row["was"] = amount(was, reading)
                row["found"] = was if math.isfinite(was) else None
                # Where the worst was found is neither more nor less.
                row["change"] = "" if kind.held_by else change_text(value, was)
        else:
            row["text"], row["was"] = value, was
        told.append(row)
    return told


def finished(
    study: Study, cases: Iterable[tuple[FinishedCase, FinishedCase]]
) -> tuple[Results, list[Verdict]]:
    """Results and verdicts of the lamp as found and the lamp in hand, bench by bench."""
    both = list(cases)
    done = [*(found for found, _ in both), *(now for _, now in both)]
    results = Results(done)
    return results, judge(study, done)


def bars_told(results: Results, verdicts: Sequence[Verdict]) -> tuple[list[dict[str, Any]], str, str]:
    """Use over allowed of what is near its limit or over it; one sentence of what moved; what is over."""
    uses = worst_uses(verdicts)
    now, found = uses.get(IN_HAND, {}), uses.get(AS_FOUND, {})
    topics = sorted(
        {*now, *found}, key=lambda topic: (GROUPS.index(topic.group), -_ratio(now.get(topic)), topic.name)
    )
    bars = []
    for topic in topics:
        use, was = now.get(topic), found.get(topic)
        if max(_ratio(use), _ratio(was)) < LEAST_BAR:
            continue
        some = use or was
        assert some is not None
        bars.append(
            {
                "topic": f"{topic.group}/{topic.name}",
                "group": GROUP_WORDS[topic.group],
                "name": topic.name,
                "short": short_part(topic.name) if topic.group == "rating" else short_rule(topic.name),
                "now": _finite(use.ratio) if use else None,
                "was": _finite(was.ratio) if was else None,
                "over": bool(use and use.over),
                "said": _use_said(use),
                "bench": some.verdict.bench,
                "reading": some.verdict.reading,
            }
        )
    over = [_over_said(use) for use in now.values() if use.over]
    said = sentences(results, verdicts).get(IN_HAND, "")
    return bars, said, "; ".join(over)


def ratio_of(topic: str, verdicts: Sequence[Verdict], variant: str = IN_HAND) -> float:
    """Use of one topic, by the name that bars have it under; NaN where nothing uses it."""
    for each, use in worst_uses(verdicts).get(variant, {}).items():
        if f"{each.group}/{each.name}" == topic:
            return use.ratio
    return math.nan


def _use_said(use: Use | None) -> str:
    if use is None:
        return "no limit applies"
    verdict = use.verdict
    value, limit = amount(verdict.value, verdict.reading), amount(verdict.limit, verdict.reading)
    return f"{verdict.what}: {value}, {verdict.bound} {limit} ({verdict.source})"


def _over_said(use: Use) -> str:
    verdict = use.verdict
    value, limit = amount(verdict.value, verdict.reading), amount(verdict.limit, verdict.reading)
    return f"{verdict.what} {value} ({verdict.bound} {limit})"


def _ratio(use: Use | None) -> float:
    return use.ratio if use else 0.0


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None


def moment_told(lamp: Lamp, strips: Strips, moment_s: float) -> dict[str, str]:
    """What each part bears at a moment, in words, by its name."""
    return {
        name: f"{_amount(volts, 'V')}, {_amount(amperes, 'A')}"
        for name, (volts, amperes) in strips.at(moment_s).items()
        if name in lamp.circuit
    }


def _amount(value: float, unit: str) -> str:
    # Less than that is what the solver leaves of nothing.
    if abs(value) < (1e-3 if unit == "V" else 1e-7):
        return f"0 {unit}"
    for size, prefix in ((1.0, ""), (1e-3, "m"), (1e-6, "µ")):
        if abs(value) >= 0.9995 * size:
            return f"{'−' if value < 0 else ''}{figure(abs(value) / size)} {prefix}{unit}"
    return f"0 {unit}"
