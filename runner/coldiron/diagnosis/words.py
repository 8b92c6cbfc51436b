"""The lines of a diagnosis, for the terminal and for scripts. They never say "certain"."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np

from coldiron.diagnosis.columns import Row, columns
from coldiron.diagnosis.endstates import BREAKER_A, HEALTHY
from coldiron.diagnosis.likelihood import UNTOLD
from coldiron.diagnosis.measurable import Kind
from coldiron.diagnosis.next_reading import Proposal, forbidden, propose
from coldiron.diagnosis.rank import HELD, Line, Ranking
from coldiron.tables.columns import wrapped

HEALTHY_WORDS = "nothing wrong that these readings show"
MOST_LINES = 6
MOST_NAMES = 4
MOST_LIKELY = 8
LEAST_SHARE = 0.001

UNPLUGGED = "Unplug it, wait until the bus is below 34 V (measure that first: its bleed may be open), then"
HOW = {
    "unplugged": f"{UNPLUGGED} measure in circuit.",
    "plug": "With the lamp closed, by a meter between plug and lamp; nothing is opened for it.",
    "live": (
        "This is work on live parts, for people trained and allowed to do it: clip the leads on with the "
        "lamp unplugged, stand clear, plug in, read, unplug, and wait until the bus is below 34 V."
    ),
}
"""How each kind of measurement is taken (34 V: IEC 61347-1, what may be touched; from memory)."""
LIFTED = f"{UNPLUGGED} lift one leg of it: what lies across it would be measured too."
_LIFTED_KINDS = ("capacitance", "string test")

NO_PLUG = (
    "Do not plug it in, not even to measure: a dead short, or a part that heats until it burns, is among "
    "what explains this."
)
BREAKER = "Only the breaker of the house would end this; computed from its curve, not from this lamp."
DARK = (
    "Dark does not mean dead: parts of it may be at mains potential while it is plugged in, in either "
    "position of the plug. Unplug, wait for the bus to fall below 34 V, measure, then touch."
)
ASSUMED = (
    "Computed, not measured, for a cold lamp with one fault; nothing here says how often a part fails. The "
    "spread of good parts and the meters are assumed."
)


def lines(ranking: Ranking, width: int) -> list[str]:
    """Lines of a diagnosis, none longer than a width.

    Parameters
    ----------
    ranking : Ranking
    width : int
        Of the terminal.
    """
    texts = (*_likely(ranking), *_odd(ranking), *_next(ranking, propose(ranking)), *_cautions(ranking))
    found = [*wrapped(_title(ranking), width), *wrapped(_verdict(ranking), width), ""]
    found += [*columns(_table(ranking), width), ""]
    return found + [line for text in texts for line in wrapped(text, width)]


def state_words(name: str) -> str:
    """Name of an end state for people.

    >>> state_words("healthy"), state_words("line_fusing open")
    ('nothing wrong that these readings show', 'line fusing open')
    """
    return HEALTHY_WORDS if name == HEALTHY else name.replace("_", " ")


def line_words(ranking: Ranking, line: Line) -> str:
    """Twins joined by "or"."""
    names = [state_words(ranking.signatures.states[n].name) for n in line.states]
    more = len(names) - MOST_NAMES
    return " or ".join([*names[:MOST_NAMES], f"{more} more"] if more > 1 else names)


def share_text(probability: float) -> str:
    """Probability for people, never that of certainty.

    >>> share_text(0.9999), share_text(0.62), share_text(0.004), share_text(1e-5)
    ('over 99 %', '62 %', '0.4 %', 'under 0.1 %')
    """
    if probability > 0.99:
        return "over 99 %"
    if probability < LEAST_SHARE:
        return "under 0.1 %"
    return f"{100 * probability:.{1 if probability < 0.01 else 0}f} %"


def _title(ranking: Ranking) -> str:
    seen, read = ranking.findings.seen, len(ranking.findings.readings)
    parts = [f"{read} reading{'s' if read != 1 else ''}" if read else "", ", ".join(seen.symptoms)]
    what = " and ".join(part for part in parts if part)
    lamp = ranking.signatures.lamp
    return f"{lamp.name}, {ranking.signatures.mains_v:g} V: what explains {what} (likely, never certain)"


def _verdict(ranking: Ranking) -> str:
    words = line_words(ranking, ranking.lines[0])
    if ranking.shown:
        return f"Most likely: {words}."
    also = "" if ranking.is_healthy(ranking.lead) else f"; the best of the others: {words}"
    return f"No fault shown: a good lamp may read so{also}."


def _table(ranking: Ranking) -> list[Row]:
    """One row a line of twins: what it is, how likely, and what it would read."""
    of, healthy = ranking.signatures, ranking.signatures.state(HEALTHY)
    kinds = [of.measurables[found.place] for found in ranking.findings.readings]
    as_read = [
        one.kind.text(found.value) for one, found in zip(kinds, ranking.findings.readings, strict=True)
    ]
    rows = [
        Row("", "explained by", ("likely", *(one.name for one in kinds))),
        *([Row("", "as read", ("", *as_read))] if as_read else []),
    ]
    shown = [
        (str(n), line)
        for n, line in enumerate(ranking.lines[:MOST_LINES], start=1)
        if line.probability >= LEAST_SHARE or n == 1
    ]
    if all(healthy not in line.states for _, line in shown):
        shown.append(("–", Line((healthy,), float(ranking.probability[healthy]))))
    for number, line in shown:
        cells = (share_text(line.probability), *_predicted(ranking, line.states[0]))
        rows.append(Row(number, line_words(ranking, line), cells))
    return rows


def _predicted(ranking: Ranking, state: int) -> list[str]:
    """What a state would read, plus and minus two standard deviations."""
    of, texts = ranking.signatures, []
    for found in ranking.findings.readings:
        kind = of.measurables[found.place].kind
        # The severity that comes nearest stands for the state.
        one = min(
            of.severities[state], key=lambda each: abs(each.mean[found.place] - kind.scaled(found.value))
        )
        slopes, meter = one.slopes[found.place], float(one.meter[found.place])
        texts.append(_with_spread(kind, float(one.mean[found.place]), math.hypot(meter, _third(slopes))))
    return texts


def _third(slopes: np.ndarray) -> float:
    return float(np.sqrt(slopes @ slopes / 3.0))


def _with_spread(kind: Kind, mean: float, sd: float) -> str:
    """A prediction with two digits of its spread, in the unit of the reading.

    >>> from coldiron.diagnosis.measurable import KINDS
    >>> _with_spread(KINDS["input power"], 45.832, 2.91), _with_spread(KINDS["resistance"], 1.0, 0.1)
    ('45.8 ± 5.8 W', '10 Ω')
    """
    if sd >= UNTOLD:
        return "not told"
    if kind.logarithmic:
        return kind.text(kind.plain(mean))
    within = float(f"{2 * sd:.2g}")
    places = max(0, 1 - math.floor(math.log10(within))) if within > 0.0 else 3
    return f"{mean:.{places}f} ± {within:.{places}f} {kind.unit.symbol}".replace("-0.0 ", "0.0 ")


def _likely(ranking: Ranking) -> Iterator[str]:
    names = [state_words(ranking.signatures.states[n].name) for n in ranking.likely]
    if len(names) > 1:
        more = [f"and {len(names) - MOST_LIKELY} more"] if len(names) > MOST_LIKELY else []
        yield f"Nine in ten: one of {len(names)}: {'; '.join([*names[:MOST_LIKELY], *more])}."


def _odd(ranking: Ranking) -> Iterator[str]:
    first = state_words(ranking.signatures.states[ranking.lead].name)
    for odd in ranking.odd:
        one = ranking.signatures.measurables[odd.found.place]
        read, would = one.kind.text(odd.found.value), one.kind.text(odd.expected)
        yield (
            f"Not explained: {one.name} {read}; with {first} it would be about {would}. Take it again: it "
            f"may be misread, or a second part is broken."
        )


def _next(ranking: Ranking, proposal: Proposal | None) -> Iterator[str]:
    of = ranking.signatures
    if proposal is None:
        if ranking.probability[ranking.first] < HELD:
            yield "Next: nothing that can be measured here without danger tells the first ones apart."
        return
    one = proposal.measurable
    first, second = (state_words(of.states[n].name) for n in (proposal.first, proposal.second))
    texts = [one.kind.text(value) for value in proposal.expected]
    how = LIFTED if one.kind.what in _LIFTED_KINDS else HOW[one.kind.danger]
    yield f"Next: {one.name}: about {texts[0]} with {first}, {texts[1]} with {second}. {how}"


def _cautions(ranking: Ranking) -> Iterator[str]:
    looks = ranking.signatures.looks[ranking.lead]
    if forbidden(ranking):
        yield NO_PLUG
    if any(look.input_a >= BREAKER_A for look in looks):
        yield BREAKER
    if all(look.light_ratio < 0.05 for look in looks) and not ranking.is_healthy(ranking.lead):
        yield DARK
    yield ASSUMED
