"""Every reading of a study held against every limit it has: standards, part ratings, the study's own."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import groupby

from coldiron.benches import stress
from coldiron.benches.base import Case, TestConditions
from coldiron.limits.rules import Limit, limits_of
from coldiron.limits.scope import Circumstances, out_of_scope
from coldiron.limits.verdict import NO_LIMIT, Verdict, classify
from coldiron.readings.catalogue import kind_of
from coldiron.study.model import Study
from coldiron.sweep.run import FinishedCase

PER_WORDS = {
    "power factor": "{value:g} % times the power factor",
    "mA/W": "{value:g} mA/W",
    "mA/W and order": "{value:g} mA/W over the order",
    "hertz of the light": "{value:g} % a hertz",
}


STANDS_FOR = {"housing.board_capacitance": ("board_area",)}


def judge(study: Study, done: Iterable[FinishedCase]) -> list[Verdict]:
    """Verdicts on all readings of finished cases, case by case, standards first.

    Parameters
    ----------
    study : Study
        Whose margin and limits count.
    done : iterable of FinishedCase
        Finished cases; one that failed or does not apply has no verdicts.

    Returns
    -------
    list of Verdict
        A topic of a standard that does not cover the case has one verdict "no limit applies", which says why.
        Last come ratings that the study's highest mains breaks, where no run of it tells.

    Raises
    ------
    FileProblems
        If the files of limits are damaged.
    """
    limits = limits_of(study)
    done = list(done)
    verdicts = [verdict for one in done for verdict in judge_case(limits, one, study.limits.margin_ratio)]
    return verdicts + list(_untried(study, done))


def judge_case(limits: Sequence[Limit], one: FinishedCase, margin_ratio: float) -> Iterator[Verdict]:
    """Verdicts on the readings of one finished case, standards first.

    Parameters
    ----------
    limits : sequence of Limit
        From `coldiron.limits.rules.limits_of`.
    one : FinishedCase
    margin_ratio : float
        Share of a limit that counts as close to it.
    """
    at = Circumstances.of(one.case, one.result.readings)
    own = [limit for limit in limits if limit.bench == one.case.bench and limit.reading in at.readings]
    # The rows of a topic stand together in their file.
    for _, rows in groupby(own, key=lambda limit: limit.question):
        yield from _topic(at, list(rows), margin_ratio)
    yield from _rated(at, margin_ratio)


def _topic(at: Circumstances, rows: Sequence[Limit], margin_ratio: float) -> Iterator[Verdict]:
    """Verdicts on one question of one standard."""
    reasons = [(limit, out_of_scope(at, limit)) for limit in rows]
    held = [limit for limit, reason in reasons if reason is None]
    if not held:
        # The row whose scope was missed last is the one a person would have expected.
        limit, reason = max(
            ((limit, reason) for limit, reason in reasons if reason), key=lambda pair: pair[1].rank
        )
        yield _none(at, limit, reason.text)
        return
    ways: dict[int, list[Verdict]] = {}
    for limit in held:
        verdict = _held(at, limit, margin_ratio)
        if limit.row.alternative is None:
            yield verdict
        else:
            ways.setdefault(limit.row.alternative, []).append(verdict)
    if ways:
        yield _best_way(ways)


def _held(at: Circumstances, limit: Limit, margin_ratio: float) -> Verdict:
    """Verdict of one reading against one limit that applies."""
    value = at.number(limit.reading)
    allowed = in_unit_of_reading(at, limit)
    word = classify(value, allowed, margin_ratio, least=limit.least)
    note = limit.row.note
    if limit.row.per and not note:
        note = PER_WORDS[limit.row.per].format(value=limit.value)
    if limit.order and _disregarded(at, limit, value):
        word, note = "ok", "so small that it is not judged"
    if assumed := hangs_on(at.case, limit.reading):
        note = "; ".join(text for text in (note, f"hangs on {assumed}, which is assumed") if text)
    if word == NO_LIMIT:
        note = "the reading is not a number"
    return Verdict(
        variant=at.case.variant,
        bench=at.case.bench,
        conditions=at.case.conditions.label,
        reading=limit.reading,
        value=value,
        limit=allowed,
        verdict=word,
        limit_id=limit.id,
        group=limit.group,
        source=limit.source,
        clause=limit.clause,
        provenance=limit.provenance,
        note=note,
        least=limit.least,
        what=limit.what,
    )


def in_unit_of_reading(at: Circumstances, limit: Limit) -> float:
    """Limit in the unit of its reading: what a standard gives as a multiple is multiplied out."""
    if limit.row.per == "power factor":
        return limit.value * at.number("power_factor")
    if limit.row.per == "hertz of the light":
        return limit.value * at.light_hz
    if limit.row.per in ("mA/W", "mA/W and order"):
        each_ma = limit.value / (limit.order if limit.row.per == "mA/W and order" else 1)
        fundamental_ma = 1e3 * at.number("fundamental_current_A")
        return 100.0 * each_ma * at.number("input_power_W") / fundamental_ma if fundamental_ma else math.nan
    return limit.value


def hangs_on(case: Case, reading: str) -> str:
    """Key of the lamp that a reading is in proportion to, where the lamp file does not give it; else ""."""
    key = kind_of(reading).hangs_on
    table, _, field = key.partition(".")
    if not key:
        return ""
    # What stands for it, such as an area for a capacitance, is given as well as it is.
    given = getattr(case.lamp, table).provenances
    return "" if {field, *STANDS_FOR.get(key, ())} & set(given) else key


def _disregarded(at: Circumstances, limit: Limit, value_pct: float) -> bool:
    """Whether a harmonic current is below what its standard wants judged."""
    disregard = limit.file.disregard
    harmonic_a = value_pct / 100.0 * at.number("fundamental_current_A")
    least_a = max(disregard.share_ratio * at.number("input_current_A"), disregard.current_a)
    return harmonic_a < least_a


def _best_way(ways: Mapping[int, Sequence[Verdict]]) -> Verdict:
    """Verdict of the alternative that is met best, with a note on what the others break."""
    worst = {number: max(ways[number], key=_severity) for number in ways}
    best = min(worst, key=lambda number: _severity(worst[number]))
    broken = [
        f"alternative {number}: {verdict.what} {verdict.value:.3g} against {verdict.limit:.3g}"
        for number, verdict in worst.items()
        if number != best and verdict.verdict == "over"
    ]
    verdict = worst[best]
    said = "none of the alternatives is met, nearest is" if verdict.verdict == "over" else "met by"
    note = "; ".join([f"{said} alternative {best}", *broken, *([verdict.note] if verdict.note else [])])
    recalled = any(each.provenance == "from memory" for way in ways.values() for each in way)
    provenance = "from memory" if recalled else verdict.provenance
    return replace(verdict, note=note, provenance=provenance, alternatives=len(ways))


def _severity(verdict: Verdict) -> tuple[int, float]:
    """Order of verdicts: what is broken most comes last; what is not judged, or has no number, first."""
    rank = ("no limit applies", "ok", "close", "over").index(verdict.verdict)
    return rank, 0.0 if math.isnan(verdict.use_ratio) else verdict.use_ratio


def _none(at: Circumstances, limit: Limit, why: str) -> Verdict:
    """Verdict on a question that nobody has a limit for here."""
    return Verdict(
        variant=at.case.variant,
        bench=at.case.bench,
        conditions=at.case.conditions.label,
        reading=limit.reading,
        value=at.number(limit.reading),
        limit=math.nan,
        verdict=NO_LIMIT,
        limit_id=limit.id,
        group=limit.group,
        source=limit.source,
        clause=limit.clause,
        provenance=limit.provenance,
        note=why,
        least=limit.least,
        what=limit.question[1],
    )


def _rated(at: Circumstances, margin_ratio: float) -> Iterator[Verdict]:
    """Verdicts on the ratings of parts."""
    yield from _held_to_ratings(at.case, at.readings, margin_ratio)


def _untried(study: Study, done: list[FinishedCase]) -> Iterator[Verdict]:
    """Verdicts that the highest mains of the study settles without a run: what a part's rating says of it.

    Between its terminals a lamp sees the supply, and its bus stands at the crest when it is just connected or
    dark: a few volts less in work, as the run of that mains tells where there is one. Without a run
    nothing is called ok, or close.
    """
    runs = {
        (one.case.variant, one.case.conditions.supply)
        for one in done
        if "bus_highest_V" in one.result.readings
    }
    cases = {one.case.variant: one.case for one in done}
    for variant, case in cases.items():
        highest = max(study.supplies(case.lamp), key=lambda supply: supply.voltage_v)
        conditions = TestConditions(highest.voltage_v, highest.frequency_hz)
        if (variant, conditions.supply) in runs:
            continue
        crest_v = math.sqrt(2.0) * highest.voltage_v
        readings = {
            "input_voltage_V": highest.voltage_v,
            "bus_highest_V": crest_v,
            "reservoir_highest_V": crest_v,
        }
        untried = replace(case, bench="steady", conditions=conditions)
        for verdict in _held_to_ratings(untried, readings, study.limits.margin_ratio):
            if verdict.verdict == "over":
                yield replace(
                    verdict, note="; ".join(("by the mains alone, not run", verdict.note)).rstrip("; ")
                )


def _held_to_ratings(
    case: Case, readings: Mapping[str, float | str], margin_ratio: float
) -> Iterator[Verdict]:
    at = Circumstances.of(case, readings)
    for rated in stress.ratings(case.lamp, readings, case.conditions.frequency_hz):
        value = at.number(rated.reading)
        typical = "a typical rating, not this part's own" if rated.provenance == "typical" else ""
        yield Verdict(
            variant=at.case.variant,
            bench=at.case.bench,
            conditions=at.case.conditions.label,
            reading=rated.reading,
            value=value,
            limit=rated.most,
            verdict=classify(value, rated.most, margin_ratio),
            limit_id=f"rating.{rated.key}",
            group="rating",
            source=f"rating of the part: {rated.part}",
            clause=rated.key,
            provenance=rated.provenance,
            note="; ".join(note for note in (rated.note, typical) if note),
            what=rated.part,
        )
