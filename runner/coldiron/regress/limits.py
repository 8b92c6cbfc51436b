"""Which limit it is, from run to run, and why one applies now that did not."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Mapping, Sequence
from functools import cache

from coldiron.answer.use import HARMONICS_OF
from coldiron.limits.rules import Limit, limits_of, shipped_limits
from coldiron.limits.verdict import NO_LIMIT, Verdict
from coldiron.quantities import FARAD, WATT
from coldiron.readings.figures import figure
from coldiron.regress.reference import CaseName, ReferenceTable, Value
from coldiron.study.model import Study

SAME_LIMIT_RATIO = 0.01
"""A rating that follows a reading moves as the reading does: within this share it is the same."""


def limit_key(verdict: Verdict) -> str:
    """Which limit on which reading: the same from run to run, whatever its value and its source are.

    Where one of several alternatives is enough, the reading is that of the one that is met best, which need
    not be the same each time: their question is the key.
    """
    if verdict.alternatives > 1:
        return ".".join(_shipped()[verdict.limit_id].question)
    return f"{verdict.limit_id} {verdict.reading}"


def verdict_case(verdict: Verdict) -> CaseName:
    """Name of the case that a verdict belongs to."""
    return CaseName(verdict.variant, verdict.bench, verdict.conditions)


def bounds_of(verdicts: Sequence[Verdict], *, over: bool) -> dict[CaseName, dict[str, float]]:
    """Limits that cases exceed, or keep, in the unit of their reading."""
    found: dict[CaseName, dict[str, float]] = {}
    for verdict in verdicts:
        if verdict.verdict != NO_LIMIT and (verdict.verdict == "over") is over:
            found.setdefault(verdict_case(verdict), {})[limit_key(verdict)] = float(f"{verdict.limit:.6g}")
    return found


def rule_digests(study: Study) -> dict[str, str]:
    """Hash of every limit that a study is held to, by its id: of its value, its scope and its reading.

    Its words, its source and how well it is known are no part of it.
    """
    said: dict[str, list[str]] = {}
    for limit in limits_of(study):
        said.setdefault(limit.id, []).append(_sense(limit))
    return {
        key: hashlib.sha256("\n".join(sorted(lines)).encode()).hexdigest()[:8] for key, lines in said.items()
    }


def _sense(limit: Limit) -> str:
    row = limit.row.model_dump(exclude={"what", "clause", "known", "note"})
    file = limit.file.model_dump(exclude={"standard", "edition", "group", "limit"})
    return f"{limit.reading} {limit.value} {row} {file}"


def applies_because(
    verdict: Verdict,
    was: Mapping[str, Value],
    now: Mapping[str, Value],
    rules: Mapping[str, str],
    rules_now: Mapping[str, str],
) -> str:
    """Why a limit holds a case now that did not hold it before, as far as readings and limits tell.

    Parameters
    ----------
    verdict : Verdict
    was, now : mapping of str to Value
        Readings of the case.
    rules, rules_now : mapping of str to str
        Limits by id, as `rule_digests` gives them.

    Returns
    -------
    str
        Empty where only the inputs can say it, such as the use of the housing.
    """
    limit = _shipped().get(verdict.limit_id)
    if limit is not None and rules and verdict.limit_id not in rules:
        return "the limit is new"
    if verdict.reading not in was:
        return "the reading is new"
    if limit is None:
        return ""
    row = limit.row
    before, after = was.get("input_power_W"), now.get("input_power_W")
    if isinstance(before, float) and isinstance(after, float):
        edge = _edge_crossed(before, after, limit)
        if edge:
            return f"input power {figure(before)} → {figure(after)} W, {edge}"
    if rules and rules.get(verdict.limit_id) != rules_now.get(verdict.limit_id):
        return "the limit itself was changed"
    return (
        f"for a bus of more than {FARAD.format(row.capacitance_above_f)}" if row.capacitance_above_f else ""
    )


def _edge_crossed(before_w: float, after_w: float, limit: Limit) -> str:
    """Edge of the power that a limit is for, which lies between two powers."""
    row = limit.row
    if before_w <= row.power_above_w < after_w:
        return f"above {WATT.format(row.power_above_w)}"
    if before_w < row.power_from_w <= after_w:
        return f"from {WATT.format(row.power_from_w)} on"
    if after_w <= row.power_up_to_w < before_w:
        return f"up to {WATT.format(row.power_up_to_w)}"
    return ""


def lapsed_because(
    key: str, case: CaseName, verdicts: Sequence[Verdict], was: ReferenceTable, now: ReferenceTable
) -> str:
    """Why a limit holds a case no longer, as far as limits and readings tell.

    Parameters
    ----------
    key : str
        Of the limit, as `limit_key` gives it.
    case : CaseName
    verdicts : sequence of Verdict
        Of now.
    was, now : ReferenceTable

    Returns
    -------
    str
        Empty where only the inputs can say it.
    """
    shipped = _shipped()
    limit_id = key.partition(" ")[0]
    if limit_id in was.rules and limit_id not in now.rules:
        return "the study is no longer held to it"
    stem, _, name = limit_id.partition(".")
    question = shipped[limit_id].question if limit_id in shipped else (stem, name)
    for verdict in verdicts:
        limit = shipped.get(verdict.limit_id) if verdict.verdict == NO_LIMIT else None
        if limit is not None and limit.question == question and verdict_case(verdict) == case:
            return verdict.note
    powers_w = [table.readings.get(case, {}).get("input_power_W") for table in (was, now)]
    before_w, after_w = (power if isinstance(power, float) else math.nan for power in powers_w)
    for limit in shipped_limits():
        # Backwards: the edge that its scope would be entered by is the one that it was left by.
        if limit.question == question and (edge := _edge_crossed(after_w, before_w, limit)):
            return f"input power {figure(before_w)} → {figure(after_w)} W, it is for {edge}"
    return ""


def topic_words(key: str) -> tuple[str, str]:
    """Group and words of a limit of which only the key is left.

    >>> topic_words("ieee-1789.low-risk flicker_pct"), topic_words("rating.sinks.power sinks_each_W")
    (('practice', 'flicker (low risk)'), ('rating', 'rating of sinks.power'))
    """
    limit_id = key.partition(" ")[0]
    if limit_id.startswith("rating."):
        return "rating", f"rating of {limit_id.removeprefix('rating.')}"
    for limit in shipped_limits():
        if limit_id in (limit.id, ".".join(limit.question)):
            harmonics = limit_id.startswith(HARMONICS_OF)
            return limit.group, "harmonics" if harmonics else limit.what
    return "", limit_id


@cache
def _shipped() -> Mapping[str, Limit]:
    return {limit.id: limit for limit in shipped_limits()}
