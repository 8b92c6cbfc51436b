"""The answer in a few short lines, the same on the terminal, in the report, in a notebook and in files."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from coldiron.answer.aims import measure_of
from coldiron.answer.answer import Answer, Moved, Named
from coldiron.answer.candidate import Candidate
from coldiron.answer.rank import Ranked
from coldiron.answer.safety import standing_hazards
from coldiron.answer.told import SURGE_STRAIN, subject_of
from coldiron.answer.use import Use
from coldiron.lamp.describe import part_label
from coldiron.limits.verdict import Verdict
from coldiron.readings import surge_limit
from coldiron.readings.catalogue import WARM, kind_of
from coldiron.readings.figures import amount, figure

MOST_GAINS = 4
MOST_PRICES = 4
MOST_OVER = 4
MOST_NAMES = 8
"""More changes, broken limits or variants than these are counted, not listed."""


TOUCH = "touch"


def verdict_line(answer: Answer) -> str:
    """The first line a person reads: shock where there is one, then who, for what, and what is over."""
    return " ".join([*shock_words(answer), _verdict(answer)])


def shock_words(answer: Answer) -> list[str]:
    """What a hand on the housing carries where that is over its limit: of who is named, else of the lamp."""
    found, named = answer.found.candidate, answer.named
    said: dict[str, dict[str, None]] = {}
    for candidate in (named.ranked.candidate if named else found, found):
        over = [use for use in candidate.uses.values() if use.over and use.verdict.bench == TOUCH]
        if over:
            worst = max(over, key=lambda use: use.ratio)
            said.setdefault(_shock(worst, candidate), {})[candidate.title] = None
    return [f"SHOCK: {_and(list(who)) + ': ' if named else ''}{what}." for what, who in said.items()]


def _shock(use: Use, candidate: Candidate) -> str:
    verdict = use.verdict
    value, allowed = amount(verdict.value, verdict.reading), amount(verdict.limit, verdict.reading)
    if verdict.reading.startswith("earth"):
        return f"the protective conductor carries {value}, {allowed} asked"
    fault = candidate.words.get("touch_fault", "") if verdict.reading.startswith("touch_fault") else ""
    what = f" with {fault}" if fault else ""
    return f"a hand on the housing carries {value} peak{what}, {allowed} asked"


def _verdict(answer: Answer) -> str:
    if answer.named:
        return _named_line(answer, answer.named)
    if answer.corners:
        said = ", ".join(f"{words} {one.title}{_parts_over(one)}" for words, one in _merged(answer.corners))
        return f"{_limits_line(answer)} No aim was set; {said}."
    if not answer.aims:
        return f"{_limits_line(answer)} No aim was set, and nothing was read that one could be measured by."
    wanted = _and(
        [*(_unserved_words(aim, answer.found) for aim in answer.unserved), *_missed_words(answer.found)]
    )
    if not wanted:
        return f"As found, the lamp keeps what was asked: {_and([str(b) for b in answer.aims.keep])}."
    return f"No variant that was tried serves what was asked: {wanted}. {_limits_line(answer)}"


def answer_lines(answer: Answer) -> list[str]:
    """The answer in three to six short lines; second are cautions where a safety part would be taken away."""
    paid = _paid(answer.named) if answer.named else ()
    return [verdict_line(answer), *caution_lines(answer), *paid, *further_lines(answer)]


def further_lines(answer: Answer) -> list[str]:
    """What the answer says besides who is named, at what gain and price: the rest of `answer_lines`."""
    lines = [
        _corner_line(words, one) for words, one in _merged(answer.corners) if one.ranked.candidate.number
    ]
    if answer.least:
        lines.append(_least_line(answer.least))
    lines += answer.sways
    lines += _limits_of_the_answer(answer)
    if lists := _lists(answer):
        lines.append(lists)
    lines += [
        f"As found already: {hazard.caution}." for hazard in standing_hazards(answer.found.candidate.lamp)
    ]
    return lines


def _merged(corners: Sequence[tuple[str, Named]]) -> list[tuple[str, Named]]:
    """Corners with those of one variant together; the lamp as found has nothing to tell."""
    words: dict[int, list[str]] = {}
    of = {}
    for corner, one in corners:
        number = one.ranked.candidate.number
        words.setdefault(number, []).append(corner)
        of[number] = one
    return [(_and(said), of[number]) for number, said in words.items()]


def _parts_over(one: Named) -> str:
    """Part that a corner newly takes over its rating, for the first line."""
    use = next((use for use in one.over if use.topic.group == "rating"), None)
    return f" (over: {what_text(use.verdict)}, ×{times(use.ratio)})" if use else ""


def _corner_line(words: str, one: Named) -> str:
    head = f"{words[:1].upper()}{words[1:]}: {one.title}"
    over = f"; over: {over_words(one, 1)}" if one.over else ""
    return f"{head}; {_gains_and_price(one, 2, 2)}{over}."


def caution_lines(answer: Answer) -> list[str]:
    """One line for each safety part that variants take away; whatever they gain, they are not recommended."""
    by_hazard: dict[str, list[str]] = {}
    for one in answer.refused:
        for hazard in one.takes_away:
            by_hazard.setdefault(hazard.caution, []).append(one.candidate.title)
    said = [f"Never do this: {_few(names)}: {caution}." for caution, names in by_hazard.items()]
    return said + _follow_lines(answer)


FOLLOWS_A = 1.0


def _follow_lines(answer: Answer) -> list[str]:
    """Arrestors to earth that burn on after a surge, of the lamp as found and of who is named."""
    named = [answer.named.ranked] if answer.named else []
    burning = [
        one.candidate
        for one in dict.fromkeys([*named, *answer.ranked])
        if one.candidate.reading("surge_earth_follow_A") > FOLLOWS_A
    ]
    if not burning:
        return []
    worst = max(burning, key=lambda one: one.reading("surge_earth_follow_A"))
    most = amount(worst.reading("surge_earth_follow_A"), "surge_earth_follow_A")
    names = _few([one.title for one in burning], 3)
    return [
        f"FIRE: {names}: after a surge to earth the mains feed the arrestor with {most}, limited only by the "
        "network, until the current is zero."
    ]


def _named_line(answer: Answer, one: Named) -> str:
    name = one.title
    goal = _goal(one.serves)
    clean = one.ranked.is_clean
    missed = one.ranked.missed
    late = ""
    if one.serves and answer.unserved and answer.aims.want.index(one.serves) > 0:
        late = f"Nothing that was tried gives {_and(answer.unserved)}. "
    if clean and not missed:
        return f"{late}For {goal}: {name}. It keeps every limit that applies here."
    if not clean:
        if answer.kept_by:
            keeps = f"{answer.kept_by[0].candidate.title} keeps every limit, but does nothing for {goal}."
            return f"{late}Nearest for {goal}: {name}; over: {over_words(one, 2)}. {keeps}"
        return f"{late}No variant keeps every limit. Nearest for {goal}: {name}."
    return f"{late}For {goal}: {name}, but it misses {_and(_missed_words(one.ranked))}."


def _goal(aim: str) -> str:
    """What an aim is called after "for"."""
    return "the surge" if aim == "survives the surge" else aim or "the bounds that were set"


def _limits_line(answer: Answer) -> str:
    judged = any(one.candidate.uses for one in answer.ranked)
    if not judged:
        return "No limit was applied to these variants."
    kept = [one for one in answer.ranked if one.is_clean and one.may_be_recommended]
    if not kept:
        return "No variant keeps every limit."
    return f"Every limit is kept by {_few([one.candidate.title for one in kept])}."


def over_words(one: Named, most: int = MOST_OVER) -> str:
    """What a named variant breaks, newly or worse than as found, the worst first."""
    return _few([use_text(use, one) for use in loosest(one.over or one.still)], most)


def _gains_and_price(one: Named, most_gains: int, most_prices: int) -> str:
    gains = ", ".join(moved_text(move) for move in one.gains[:most_gains])
    price = ", ".join(moved_text(move) for move in one.price[:most_prices])
    return f"gains: {gains or 'nothing worth a word'}; price: {price or 'none that was read'}"


def _paid(one: Named) -> Iterator[str]:
    yield _sentence(_gains_and_price(one, MOST_GAINS, MOST_PRICES))
    over, still = loosest(one.over), loosest(one.still)
    said = []
    if over:
        said.append("over: " + _few([use_text(use, one) for use in over], MOST_OVER))
    if still:
        said.append("still over, as found: " + _few([use_text(use, one) for use in still], MOST_OVER))
    if one.ranked.missed:
        said.append("misses " + _and(_missed_words(one.ranked)))
    if said:
        yield _sentence("; ".join(said))


def _sentence(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}."


def _unserved_words(aim: str, found: Ranked) -> str:
    measure = measure_of(aim, found.candidate)
    if measure is None:
        return f"{aim} (no bench of this study reads it)"
    value = found.candidate.reading(measure.reading)
    return f"{aim} (as found {subject_of(measure.reading)} {amount(value, measure.reading)})"


def _least_line(one: Named) -> str:
    told = one.gains[:1] or one.price[:1]
    change = f": {moved_text(told[0])}" if told else ""
    return f"Least change, for {_goal(one.serves)} alone: {one.title}{change}."


def _limits_of_the_answer(answer: Answer) -> list[str]:
    said = []
    if answer.not_tried:
        said.append(f"Not tried: {'; '.join(answer.not_tried)}.")
    if answer.leans_on:
        said.append(f"Leans on typical values: {_few(answer.leans_on, 2)}.")
    if answer.from_memory:
        said.append(f"From memory: {answer.from_memory} of the limits near it.")
    return [" ".join(said)] if said else []


def _lists(answer: Answer) -> str:
    lists = (
        ("No light", answer.dark),
        ("No answer from some bench", answer.failed),
        ("Changes nothing", answer.nothing),
        ("Worse than as found", answer.worse),
    )
    return " ".join(f"{words}: {_few([one.candidate.title for one in of])}." for words, of in lists if of)


def moved_text(move: Moved) -> str:
    """A reading as found and now: "SVM 5.26 → 0.03".

    What a part is strained to is told as a factor on its rating. Of a surge current it is told whether the
    sinks avalanche, where only one of the two does: the step between is the size of an assumed drive.
    """
    if move.reading == SURGE_STRAIN:
        return f"{subject_of(move.reading)} ×{times(move.before)} → ×{times(move.now)}"
    if move.turned:
        verb = "now avalanche" if move.turned == surge_limit.AVALANCHE else "no longer avalanche"
        return f"sinks {verb} in the surge"
    before, now = figure(move.before), amount(move.now, move.reading)
    return f"{subject_of(move.reading)} {before} → {now}"


def use_text(use: Use, one: Named) -> str:
    """A limit and how much of it is used: "watts of one sink 2.33 of 2 W warm (×1.17)"."""
    verdict = use.verdict
    what = what_text(verdict)
    value, allowed = amount(verdict.value, verdict.reading), amount(verdict.limit, verdict.reading)
    value = value.removesuffix(f" {kind_of(verdict.reading).unit}")
    cold = " cold" if verdict.reading in one.ranked.candidate.also_cold else ""
    where = {
        WARM: " warm",
        "steady": cold,
        "unplug": "",
        "switch-on": " at switch-on",
        "off-glow": " when off",
        TOUCH: "",
    }.get(verdict.bench, f" in the {verdict.bench}")
    bound = "for at least" if verdict.least else "of"
    before = one.was.get(use.topic)
    was = f", was ×{times(before.ratio)}" if before and before.over and _apart(before, use) else ""
    return f"{what} {value} {bound} {allowed}{where} (×{times(use.ratio)}{was})"


def _apart(one: Use, other: Use) -> bool:
    """Whether two uses of a limit are more than 5 % apart."""
    low, high = sorted((one.ratio, other.ratio))
    return high > 1.05 * low


def times(ratio: float) -> str:
    """A factor over a limit as people write it.

    Examples
    --------
    >>> times(1.166), times(12.5), times(float("inf")), times(1.001)
    ('1.17', '12', '∞', '1.01')
    """
    if ratio == float("inf"):
        return "∞"
    if ratio >= 10:
        return f"{ratio:.0f}"
    # Over by less than shown is still over.
    return f"{max(ratio, 1.01) if ratio > 1 else ratio:.3g}"


def what_text(verdict: Verdict) -> str:
    """What a limit is about: a part and its rated quantity, or the words of the rule."""
    if verdict.is_rating:
        part, _, quantity = verdict.what.partition(", ")
        if quantity.endswith(" of one"):
            return f"{quantity} {part.removesuffix('s')}"
        return f"{part_label(part.replace(' ', '_'))} {quantity}"
    return verdict.what


def loosest(uses: Sequence[Use]) -> list[Use]:
    """Broken limits; of several on one reading and bench within a group only the loosest."""
    kept: dict[tuple[str, str, str, str], Use] = {}
    for use in uses:
        verdict = use.verdict
        rated = verdict.what if verdict.is_rating else ""
        key = (use.topic.group, verdict.reading, verdict.bench, rated)
        if key not in kept or use.ratio < kept[key].ratio:
            kept[key] = use
    return list(kept.values())


def _missed_words(one: Ranked) -> list[str]:
    return [f"{held.bound} ({figure(held.value)})" for held in one.missed]


def _few(names: Sequence[str], most: int = MOST_NAMES) -> str:
    left = len(names) - most
    return ", ".join(names[:most]) + (f" and {left} more" if left > 0 else "")


def _and(names: Sequence[str]) -> str:
    *head, last = names or [""]
    return f"{', '.join(head)} and {last}" if head else last
