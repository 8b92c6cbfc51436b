"""Advice in a few lines, and its table, the same on the terminal, in the report and in a notebook."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Final

from coldiron.advice.advice import Advice, Chosen
from coldiron.advice.dominance import GRAINS
from coldiron.advice.losers import Loser
from coldiron.advice.runs import Aim
from coldiron.answer.use import Topic, Use
from coldiron.answer.words import times, what_text
from coldiron.lamp.describe import part_label
from coldiron.readings.catalogue import WARM, kind_of
from coldiron.readings.figures import amount, figure
from coldiron.study.advise import COST

MOST_COUNTS: Final = 5
MOST_EASED: Final = 3


def advice_lines(advice: Advice) -> list[str]:
    """What to buy and why not the rest, in about five lines."""
    return [
        line
        for line in (
            lead_line(advice),
            _counts_line(advice),
            _eased_line(advice),
            _nearest_line(advice),
            _harder_line(advice),
            _lamps_line(advice),
            _proof_line(advice),
        )
        if line
    ]


def lead_line(advice: Advice) -> str:
    """The first line: how many there are, how many keep every limit, how many of them are shown."""
    found = advice.found
    total = grouped(len(found.space))
    if advice.is_empty:
        return f"None of {total} candidates keeps every limit; the nearest are shown."
    best = len(found.best)
    aims = said(_aim_words(aim) for aim in advice.aims)
    kept = f"{grouped(best)} of {total} candidates keep every limit and are beaten by none in {aims}"
    if best == len(advice.chosen):
        return f"{kept}."
    step = said(_step_words(aim, advice.box_steps) for aim in advice.aims)
    return f"{kept}; {len(advice.chosen)} differ by more than {step}. All are in set.csv."


def row_cells(advice: Advice, one: Chosen) -> list[str]:
    """Options of a candidate, its aims, and the limit that it uses most of."""
    options = [option.label for option in advice.found.space.options(one.number)]
    values = [value_text(value, aim) for value, aim in zip(one.values, advice.aims, strict=True)]
    broken = advice.found.bench.broken(one.number)
    if broken:
        topic, ratio = next(iter(broken.items()))
        more = f" and {len(broken) - 1} more" if len(broken) > 1 else ""
        return [*options, *values, f"misses {topic_words(topic)} ×{times(ratio)}{more}"]
    return [
        *options,
        *values,
        f"{_limit_words(one.closest)}, {100 * one.closest.ratio:.0f} %" if one.closest else "",
    ]


def headings(advice: Advice) -> list[str]:
    """Headings of these cells."""
    last = "what it misses" if advice.is_empty else "limited by"
    return [*(axis.heading for axis in advice.found.space.axes), *(aim.heading for aim in advice.aims), last]


def value_text(value: float, aim: Aim) -> str:
    """An aim as a person reads it: to the grain by which candidates are compared, and no finer.

    Examples
    --------
    >>> value_text(0.0832, Aim("flicker_pct", 1, 1.0)), value_text(1.254, Aim("cost", 1, 0.1))
    ('0.1', '1.25')
    """
    if not math.isfinite(value):
        return figure(value)
    decimals = max(0, round(-math.log10(aim.step / GRAINS)))
    return f"{value:.{decimals}f}"


def topic_words(topic: Topic) -> str:
    """A limit in words.

    Examples
    --------
    >>> topic_words(Topic("rating", "sinks, watts of one")), topic_words(Topic("law", "visible flicker"))
    ('watts of one sink', 'visible flicker')
    """
    if topic.group != "rating":
        return topic.name
    part, _, quantity = topic.name.partition(", ")
    if quantity.endswith(" of one"):
        return f"{quantity} {part.removesuffix('s')}"
    return f"{part_label(part.replace(' ', '_'))} {quantity}"


def _limit_words(use: Use) -> str:
    where = {"surge": " in the surge", "switch-on": " at switch-on", WARM: " warm"}.get(use.verdict.bench, "")
    return f"{what_text(use.verdict)}{where}"


def _counts_line(advice: Advice) -> str:
    if not advice.lost:
        return ""
    listed = [f"{topic_words(topic)} {grouped(count)}" for topic, count, _ in advice.counts[:MOST_COUNTS]]
    more = f", {len(advice.counts) - MOST_COUNTS} more limits" if len(advice.counts) > MOST_COUNTS else ""
    beaten = f"; {grouped(advice.found.beaten)} are beaten whatever they keep" if advice.found.beaten else ""
    return f"{grouped(advice.lost)} break a limit: {', '.join(listed)}{more}{beaten}."


def _eased_line(advice: Advice) -> str:
    if not advice.eased:
        if advice.is_empty and advice.nearest:
            names = said(
                f"{topic_words(topic)} by ×{times(r)}" for topic, r in advice.nearest[0].broken.items()
            )
            return f"No limit alone stands between a candidate and the set; the nearest needs {names} eased."
        return ""
    words = []
    for one in advice.eased[:MOST_EASED]:
        name = advice.found.space.name(one.number)
        if one.is_close:
            words.append(f"{name} is as close to {topic_words(one.topic)} as the engine can tell")
        else:
            words.append(f"{one.step} admits {name} (×{times(one.ratio)})")
    return f"Eased: {'; '.join(words)}."


def _nearest_line(advice: Advice) -> str:
    if advice.is_empty or not advice.nearest:
        return ""
    one = advice.nearest[0]
    return f"Nearest: {loser_words(advice, one)}."


def loser_words(advice: Advice, one: Loser) -> str:
    """A loser with what it misses, and the change that makes it a winner."""
    misses = said(f"{topic_words(topic)} by ×{times(ratio)}" for topic, ratio in list(one.broken.items())[:3])
    more = f" and {len(one.broken) - 3} more" if len(one.broken) > 3 else ""
    text = f"{advice.found.space.name(one.number)} misses {misses}{more}"
    if not one.change:
        return text
    change = said(f"{heading} {new} in place of {old}" for heading, old, new in one.change)
    return f"{text}; {change} turns it"


def _harder_line(advice: Advice) -> str:
    if not advice.chosen:
        return ""
    if advice.is_empty:
        return ""
    broke = [one for one in advice.chosen if one.harder]
    if not broke:
        return f"At mains ±10 % and warm {_all_of(len(advice.chosen))} still keep every limit."
    counts: dict[str, int] = {}
    for one in broke:
        words = _limit_words(one.harder[0])
        counts[words] = counts.get(words, 0) + 1
    listed = ", ".join(f"{words} ({count})" for words, count in sorted(counts.items(), key=lambda p: -p[1]))
    who = "it breaks" if len(advice.chosen) == 1 else f"{len(broke)} of these {len(advice.chosen)} break"
    return f"At mains ±10 %, or warm, {who} a limit: {listed}."


def _lamps_line(advice: Advice) -> str:
    """How many lamps of their tolerances keep the limit that most of them break."""
    told = [(one.number, *one.lamps) for one in advice.chosen if one.lamps]
    if not told:
        return ""
    words = [f"№ {number}: {100 * kept.ratio:.0f} % ({topic_words(topic)})" for number, kept, topic in told]
    return f"Of {told[0][1].of} lamps of its tolerances the limit broken most is kept by: {', '.join(words)}."


def _all_of(count: int) -> str:
    return "it does" if count == 1 else f"all {count}"


def _proof_line(advice: Advice) -> str:
    found = advice.found
    parts = []
    out = next((stage.out for stage in found.stages if stage.name == "half-cycle model"), 0)
    if out:
        wrong = (
            f"{found.widened} of them wrongly, which widened its bands"
            if found.widened
            else "all of them rightly"
        )
        parts.append(
            f"The half-cycle model threw {grouped(out)} out; "
            f"{found.proved} drawn from them were run: {wrong}."
        )
    if advice.study.advise.set_aside:
        parts.append(f"Set aside by the study: {', '.join(advice.study.advise.set_aside)}.")
    if found.space.left_out:
        left = ", ".join(f"{count} for {reason}" for reason, count in found.space.left_out.items())
        parts.append(f"Parts left out: {left}.")
    return " ".join(parts)


def _aim_words(aim: Aim) -> str:
    return "cost" if aim.reading == COST else _short(aim)


def _short(aim: Aim) -> str:
    kind = kind_of(aim.reading)
    return kind.spoken.subject.removeprefix("the ") if kind.spoken else kind.what


def _step_words(aim: Aim, steps: int) -> str:
    if aim.reading == COST:
        return f"{aim.step * steps:.2f} of cost"
    return f"{amount(aim.step * steps, aim.reading)} of {_short(aim)}"


def stage_lines(advice: Advice) -> Iterator[str]:
    """What each stage looked at and threw out."""
    for stage in advice.found.stages:
        if stage.name == "beaten at their best":
            yield f"{stage.name}: {grouped(stage.out)}"
        elif stage.looked_at:
            yield f"{stage.name}: {grouped(stage.looked_at)} looked at, {grouped(stage.out)} out"


def said(words: Iterator[str] | Sequence[str]) -> str:
    """Words as a list that a person reads.

    Examples
    --------
    >>> said(["cost", "light", "flicker"])
    'cost, light and flicker'
    """
    *head, last = list(words) or [""]
    return f"{', '.join(head)} and {last}" if head else last


def grouped(number: int) -> str:
    """A count with a space before each thousand.

    Examples
    --------
    >>> grouped(102856), grouped(12)
    ('102 856', '12')
    """
    return f"{number:,}".replace(",", " ")
