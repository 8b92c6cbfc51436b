"""One sentence of plain trade English for each variant: what got better or worse, which limits it breaks."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from coldiron.lamp.describe import part_label
from coldiron.limits.verdict import Verdict
from coldiron.readings.figures import amount
from coldiron.study.model import AS_FOUND
from coldiron.sweep.run import FinishedCase
from coldiron.tables import surge_limit

Readings = Mapping[str, float | str]

LEAST_CHANGE_RATIO = 0.05
"""A change below this share of the reading is not worth a word."""
MOST_CLAUSES = 3
_TURN_WEIGHT = math.log(3.0)
"""Whether the sinks avalanche says as much as a reading that changes threefold."""


@dataclass(frozen=True)
class Phrase:
    """How a person speaks of a reading.

    `worse` is +1 where more is worse, -1 where less is; `least` is the smallest change worth a word, in the
    reading's unit; `carries` words a load that a part has to bear.
    """

    reading: str
    subject: str
    worse: int
    least: float
    carries: str = ""

    def change(self, found: float, now: float) -> str:
        """Say how the reading changed."""
        before, after = amount(found, self.reading), amount(now, self.reading)
        if self.carries:
            return f"{self.subject} now {self.carries} {after} in place of {before}"
        if math.isinf(now):
            return f"{self.subject}: {after} in place of {before}"
        return f"{self.subject} {'rises' if now > found else 'falls'} from {before} to {after}"

    def state(self, value: float) -> str:
        """Say what the reading is."""
        if self.carries:
            return f"{self.subject} {self.carries} {amount(value, self.reading)}"
        return f"{self.subject} {amount(value, self.reading)}"


PHRASES = (
    Phrase("flicker_pct", "flicker", +1, 1.0),
    Phrase("light_pct", "light", -1, 1.0),
    Phrase("sinks_W", "the sinks", +1, 0.2, "carry"),
    Phrase("inrush_peak_A", "inrush", +1, 0.2),
    Phrase("svm", "SVM", +1, 0.02),
    Phrase("surge_sink_peak_A", "the surge through one sink", +1, 0.02),
    Phrase("surge_drain_peak_V", "the surge at the drain", +1, 5.0),
    Phrase("power_factor", "power factor", -1, 0.01),
    Phrase("current_thd_pct", "distortion of the input current", +1, 2.0),
    Phrase("fusing_W", "the fusing resistors", +1, 0.05, "burn"),
    Phrase("bleed_W", "the bleed resistor", +1, 0.02, "burns"),
    Phrase("discharge_60V_s", "time down to 60 V inside", +1, 0.1),
    Phrase("sink_die_worst_C", "the hottest die", +1, 2.0),
    Phrase("housing_C", "the housing", +1, 2.0),
    Phrase("burst_sink_peak_A", "the burst through one sink", +1, 0.02),
    Phrase("dip_light_gap_ms", "the gap in the light at a dip", +1, 0.5),
    Phrase("off_string_uA", "the current that glows when off", +1, 0.5),
)
"""Readings worth a word, the most telling first."""


def sentences(done: Sequence[FinishedCase], verdicts: Sequence[Verdict]) -> dict[str, str]:
    """One sentence a variant, under the first conditions of the study.

    Parameters
    ----------
    done : sequence of FinishedCase
        Finished cases, the lamp as found among them.
    verdicts : sequence of Verdict
        From `coldiron.limits.judge` of the same cases.

    Returns
    -------
    dict
        Sentence by variant, in the order of the cases.
    """
    if not done:
        return {}
    label = done[0].case.exposure.label
    readings: dict[str, dict[str, float | str]] = {}
    failed: dict[str, list[str]] = {}
    for one in done:
        if one.case.exposure.label == label:
            # A reading that several benches give is taken from the first, as the tables do.
            own = readings.setdefault(one.case.variant, {})
            own |= {name: value for name, value in one.result.readings.items() if name not in own}
            if one.result.failure:
                failed.setdefault(one.case.variant, []).append(one.case.bench)
    found_light_a = readings.get(AS_FOUND, {}).get("light_A")
    for own in readings.values():
        light_a = own.get("light_A")
        if isinstance(light_a, float) and isinstance(found_light_a, float) and found_light_a > 0:
            own["light_pct"] = 100 * light_a / found_light_a
    held: dict[str, list[Verdict]] = {variant: [] for variant in readings}
    for verdict in verdicts:
        if verdict.variant in held and verdict.conditions == label:
            held[verdict.variant].append(verdict)
    return {
        variant: sentence(
            own,
            held[variant],
            found=readings.get(AS_FOUND) if variant != AS_FOUND else None,
            found_verdicts=held.get(AS_FOUND, ()),
            failed=failed.get(variant, ()),
        )
        for variant, own in readings.items()
    }


def sentence(
    readings: Readings,
    verdicts: Sequence[Verdict],
    *,
    found: Readings | None = None,
    found_verdicts: Sequence[Verdict] = (),
    failed: Sequence[str] = (),
) -> str:
    """What one variant does, in one sentence.

    Parameters
    ----------
    readings : mapping
        Readings of the variant by id, all benches together.
    verdicts : sequence of Verdict
        Its verdicts.
    found, found_verdicts
        The same of the lamp as found; without them the lamp is described, not compared.
    failed : sequence of str
        Benches that gave no answer.

    Examples
    --------
    >>> sentence({"flicker_pct": 0.4, "sinks_W": 30.0}, [], found={"flicker_pct": 100.0, "sinks_W": 12.0})
    'Flicker falls from 100 % to 0.4 %, but the sinks now carry 30 W in place of 12 W.'
    """
    if not readings:
        return f"No answer from {_listed(failed)}." if failed else "No readings."
    if found is None:
        described = [
            phrase.state(float(readings[phrase.reading])) + surge_limit.note(phrase.reading, readings)
            for phrase in PHRASES
            if phrase.reading != "light_pct" and _is_number(readings.get(phrase.reading))
        ]
        clauses = [", ".join(described[:5])] if described else []
    else:
        clauses = [_compared(readings, found)]
    outcome = readings.get("heat_outcome")
    if isinstance(outcome, str) and outcome != "settled":
        clauses.append(
            f"warming up it ends in {outcome}" if outcome.startswith("thermal") else f"hot, {outcome}"
        )
    if failed:
        clauses.append(f"no answer from {_listed(failed)}")
    return _one_sentence([*clauses, *_limit_clauses(verdicts, found_verdicts if found is not None else None)])


def _compared(readings: Readings, found: Readings) -> str:
    """Say what got better, but what got worse."""
    better: list[tuple[float, str]] = []
    worse: list[tuple[float, str]] = []
    for rank, phrase in enumerate(PHRASES):
        now, before = readings.get(phrase.reading), found.get(phrase.reading)
        if not (isinstance(now, float) and isinstance(before, float)):
            continue
        if limit := surge_limit.turned(phrase.reading, readings, found):
            side = worse if limit == surge_limit.AVALANCHE else better
            side.append((_TURN_WEIGHT / (1 + 0.15 * rank), _turn(phrase, limit, now, readings)))
            continue
        if not _differs(now, before, phrase.least):
            continue
        side = worse if (now > before) == (phrase.worse > 0) else better
        # A reading that says more about a lamp may have changed less than one that says little.
        said = phrase.change(before, now) + surge_limit.note(phrase.reading, readings)
        side.append((_weight(now, before) / (1 + 0.15 * rank), said))
    good, bad = _largest(better), _largest(worse)
    if good and bad:
        return f"{good}, but {bad}"
    return good or bad or f"nothing that was read changes by {100 * LEAST_CHANGE_RATIO:.0f} % or more"


def _turn(phrase: Phrase, limit: str, now: float, readings: Readings) -> str:
    """Say that the sinks begin or cease to avalanche in a surge; by how much is not a matter of currents."""
    verb = "now" if limit == surge_limit.AVALANCHE else "no longer"
    left = f"{amount(now, phrase.reading)} through one{surge_limit.note(phrase.reading, readings)}"
    return f"the sinks {verb} avalanche in a surge, {left}"


def _differs(now: float, before: float, least: float) -> bool:
    if math.isnan(now) or math.isnan(before) or now == before:
        return False
    return abs(now - before) >= max(least, LEAST_CHANGE_RATIO * abs(before))


def _weight(now: float, before: float) -> float:
    """How much a change says: by which factor, and at most as much as one of a thousand."""
    if math.isinf(now) or math.isinf(before) or now <= 0 or before <= 0:
        return math.log(1000.0)
    return min(math.log(1000.0), abs(math.log(now / before)))


def _largest(changes: list[tuple[float, str]]) -> str:
    """Largest changes, in the order of the phrases."""
    kept = sorted(range(len(changes)), key=lambda n: -changes[n][0])[:MOST_CLAUSES]
    return _listed([changes[n][1] for n in sorted(kept)])


def _limit_clauses(verdicts: Sequence[Verdict], found: Sequence[Verdict] | None) -> list[str]:
    """Say which limits break that did not before, which are kept again, and how many stay broken."""
    over = _worst_by_question(verdicts)
    before = _worst_by_question(found or ())
    broken = [verdict for question, verdict in over.items() if question not in before]
    kept = [verdict for question, verdict in before.items() if _keeps(question, verdicts)]
    clauses = [_broken(verdict) for verdict in broken[:MOST_CLAUSES]]
    if len(broken) > MOST_CLAUSES:
        clauses.append(f"{len(broken) - MOST_CLAUSES} more over")
    if kept:
        clauses.append(f"now kept: {_listed([_named(verdict) for verdict in kept[:MOST_CLAUSES]])}")
    still = len(over) - len(broken)
    if still:
        clauses.append(f"{still} over as found {'stay' if still > 1 else 'stays'} over")
    return clauses


def _worst_by_question(verdicts: Iterable[Verdict]) -> dict[tuple[str, str, str], Verdict]:
    """Broken limits, the worst verdict of each."""
    worst: dict[tuple[str, str, str], Verdict] = {}
    for verdict in verdicts:
        if verdict.verdict == "over":
            first = worst.setdefault(_question(verdict), verdict)
            if verdict.use_ratio > first.use_ratio:
                worst[_question(verdict)] = verdict
    return worst


def _question(verdict: Verdict) -> tuple[str, str, str]:
    """What a limit is about, for a sentence: all ratings of one part on one bench are one question.

    Settled is one bench here, cold or hot: the worse of the two is told.
    """
    bench = "steady" if verdict.bench == "heat" else verdict.bench
    return ("", bench, _part(verdict)) if verdict.is_rating else verdict.question


def _keeps(question: tuple[str, str, str], verdicts: Sequence[Verdict]) -> bool:
    """Whether a variant is held to a limit and keeps it: a part that is gone keeps nothing."""
    words = {verdict.verdict for verdict in verdicts if _question(verdict) == question}
    return bool(words & {"ok", "close"}) and "over" not in words


def _named(verdict: Verdict) -> str:
    if verdict.is_rating:
        return f"rating of the {_part(verdict)}{_where(verdict)}"
    return f"{verdict.question[2]} of {verdict.standard}"


def _broken(verdict: Verdict) -> str:
    value, limit = amount(verdict.value, verdict.reading), amount(verdict.limit, verdict.reading)
    recalled = ", from memory" if verdict.provenance == "from memory" else ""
    if verdict.is_rating:
        part = _part(verdict)
        verb = "are over their" if part.endswith("s") else "is over its"
        return f"the {part} {verb} rating{_where(verdict)} ({value}, {verdict.bound} {limit}{recalled})"
    return f"{verdict.what} {value} breaks {verdict.standard} ({verdict.bound} {limit}{recalled})"


def _part(verdict: Verdict) -> str:
    label = part_label(verdict.what.partition(", ")[0])
    return f"{label} resistor" if label.endswith("fusing") else label


def _where(verdict: Verdict) -> str:
    return "" if verdict.bench in ("steady", "heat") else f" in the {verdict.bench} bench"


def _is_number(value: object) -> bool:
    return isinstance(value, float) and not math.isnan(value)


def _listed(clauses: Sequence[str]) -> str:
    """Join clauses as a person does.

    >>> _listed(["a", "b", "c"])
    'a, b and c'
    """
    *head, last = clauses or [""]
    return f"{', '.join(head)} and {last}" if head else last


def _one_sentence(clauses: Sequence[str]) -> str:
    text = "; ".join(clause for clause in clauses if clause)
    return f"{text[:1].upper()}{text[1:]}." if text else "No readings worth a word."
