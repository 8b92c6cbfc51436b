"""One sentence of plain trade English for each variant: what got better or worse, which limits it breaks."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence

from coldiron.lamp.describe import part_label
from coldiron.limits.verdict import Verdict
from coldiron.readings import surge_limit
from coldiron.readings.catalogue import WARM, Kind, spoken_kinds
from coldiron.readings.figures import amount
from coldiron.study.model import AS_FOUND
from coldiron.sweep.results import Results

Readings = Mapping[str, float | str]

LEAST_CHANGE_RATIO = 0.05
"""A change below this share of the reading is not worth a word."""
MOST_CLAUSES = 3
_TURN_WEIGHT = math.log(3.0)
"""Whether the sinks avalanche says as much as a reading that changes threefold."""


def sentences(results: Results, verdicts: Sequence[Verdict]) -> dict[str, str]:
    """One sentence a variant, under the first conditions of the study, warm where it was run warm.

    Parameters
    ----------
    results : Results
        The lamp as found among them.
    verdicts : sequence of Verdict
        From `coldiron.limits.judge` of the same cases.

    Returns
    -------
    dict
        Sentence by variant, in the order of the study.
    """
    if not len(results):
        return {}
    label = results.conditions[0]
    held: dict[str, list[Verdict]] = {variant: [] for variant in results.variants}
    for verdict in verdicts:
        if verdict.variant in held and verdict.conditions == label:
            held[verdict.variant].append(verdict)
    said = {}
    for variant in results.variants:
        own, found = _side_by_side(results, variant, label)
        holes = [hole for hole in results.holes(variant) if hole.conditions == label]
        said[variant] = sentence(
            own,
            held[variant],
            found=found if variant != AS_FOUND and AS_FOUND in results.variants else None,
            found_verdicts=held.get(AS_FOUND, ()),
            failed=[hole.bench for hole in holes if hole.word == "failed"],
        )
    return said


def _side_by_side(results: Results, variant: str, label: str) -> tuple[Readings, Readings]:
    """Readings of a variant, and the same of the lamp as found: warm where both have it warm, else cold."""
    benches: dict[str, str] = {}
    for bench in results.benches:
        warm_of_both = results.readings(AS_FOUND, WARM, label) if bench == WARM else {}
        for reading in results.readings(variant, bench, label):
            if reading not in benches or reading in warm_of_both:
                benches[reading] = bench
    own, found = (
        {
            reading: given[reading]
            for reading, bench in benches.items()
            if reading in (given := results.readings(name, bench, label))
        }
        for name in (variant, AS_FOUND)
    )
    return own, found


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
        BenchModules that gave no answer.

    Examples
    --------
    >>> sentence({"flicker_pct": 0.4, "sinks_W": 30.0}, [], found={"flicker_pct": 100.0, "sinks_W": 12.0})
    'Flicker falls from 100 % to 0.4 %, but the sinks now carry 30 W in place of 12 W.'
    """
    if not readings:
        return f"No answer from {_listed(failed)}." if failed else "No readings."
    if found is None:
        described = [
            _state(kind, float(readings[kind.reading])) + surge_limit.note(kind.reading, readings)
            for kind in spoken_kinds()
            if kind.reading != "light_pct" and _is_number(readings.get(kind.reading))
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
    for rank, kind in enumerate(spoken_kinds()):
        now, before = readings.get(kind.reading), found.get(kind.reading)
        if not (isinstance(now, float) and isinstance(before, float)):
            continue
        if limit := surge_limit.turned(kind.reading, readings, found):
            side = worse if limit == surge_limit.AVALANCHE else better
            side.append((_TURN_WEIGHT / (1 + 0.15 * rank), _turn(kind, limit, now, readings)))
            continue
        if not _differs(now, before, kind.spoken.least):
            continue
        side = worse if (now > before) == (kind.worse == "up") else better
        # A reading that says more about a lamp may have changed less than one that says little.
        said = _change(kind, before, now) + surge_limit.note(kind.reading, readings)
        side.append((_weight(now, before) / (1 + 0.15 * rank), said))
    good, bad = _largest(better), _largest(worse)
    if good and bad:
        return f"{good}, but {bad}"
    return good or bad or f"nothing that was read changes by {100 * LEAST_CHANGE_RATIO:.0f} % or more"


def _change(kind: Kind, found: float, now: float) -> str:
    """Say how a reading changed."""
    before, after = amount(found, kind.reading), amount(now, kind.reading)
    subject, verb = kind.spoken.subject, kind.spoken.verb
    if verb:
        return f"{subject} now {verb} {after} in place of {before}"
    if math.isinf(now):
        return f"{subject}: {after} in place of {before}"
    return f"{subject} {'rises' if now > found else 'falls'} from {before} to {after}"


def _state(kind: Kind, value: float) -> str:
    """Say what a reading is."""
    return " ".join(filter(None, (kind.spoken.subject, kind.spoken.verb, amount(value, kind.reading))))


def _turn(kind: Kind, limit: str, now: float, readings: Readings) -> str:
    """Say that the sinks begin or cease to avalanche in a surge; by how much is not a matter of currents."""
    verb = "now" if limit == surge_limit.AVALANCHE else "no longer"
    left = f"{amount(now, kind.reading)} through one{surge_limit.note(kind.reading, readings)}"
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
    """Largest changes, the most telling first."""
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
