"""What a spread says in lines: the closer part, what decides, what it takes to pass."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from coldiron.answer.use import Topic
from coldiron.answer.words import times, what_text
from coldiron.lamp.describe import part_label
from coldiron.lamp.lamp import Lamp
from coldiron.limits.verdict import Verdict
from coldiron.readings.catalogue import WARM, kind_of
from coldiron.readings.figures import amount
from coldiron.spread.decides import Deciding, Flip
from coldiron.spread.indices import index_lines
from coldiron.spread.margins import LimitSpread, Margins
from coldiron.spread.passes import Passing, Step, Way
from coldiron.spread.tighten import Tightening
from coldiron.spread.values import label_of, text_of
from coldiron.spread.whole import SpreadOf
from coldiron.spread.yields import Yield

MOST_WAYS = 3
MOST_FLIPS = 3
_WHERE = {
    WARM: " warm",
    "steady": " cold",
    "unplug": "",
    "switch-on": " at switch-on",
    "off-glow": " when off",
}


def share(ratio: float) -> str:
    """A share in whole per cent; one that is not all, or not none, is never told as such.

    >>> share(0.623), share(0.998), share(0.001), share(1.0)
    ('62 %', '99 %', '1 %', '100 %')
    """
    whole = round(100.0 * ratio)
    if 0.0 < ratio < 1.0:
        whole = min(max(whole, 1), 99)
    return f"{whole} %"


def yield_text(of: Yield) -> str:
    """A yield with its interval: "62 % (57 to 68)"."""
    return f"{share(of.ratio)} ({100 * of.low_ratio:.0f} to {100 * of.high_ratio:.0f})"


def limit_text(verdict: Verdict, bench: str, benches: Sequence[str]) -> str:
    """What a limit is about, and where it was read: "film voltage in the surge"."""
    where = _WHERE.get(bench, f" in the {bench}")
    if bench == "steady" and WARM not in benches:
        where = ""
    return f"{what_text(verdict)}{where}"


def topic_text(topic: Topic) -> str:
    """What a limit is about, where no verdict is at hand.

    >>> topic_text(Topic("rating", "sinks, watts of one")), topic_text(Topic("law", "harmonics"))
    ('watts of one sink', 'harmonics')
    """
    part, comma, quantity = topic.name.partition(", ")
    if topic.group != "rating" or not comma:
        return topic.name
    if quantity.endswith(" of one"):
        return f"{quantity} {part.removesuffix('s')}"
    return f"{part_label(part.replace(' ', '_'))} {quantity}"


def spread_lines(one: SpreadOf) -> list[str]:
    """Everything that a spread of one variant says in sentences."""
    found = one.margins
    lines = [*_tolerance_lines(found, one.tightening)]
    lines += deciding_lines(found.drawing.lamp, one.deciding, found.drawing.benches)
    lines += passing_lines(found.drawing.lamp, one.passing)
    lines += index_lines(found.drawing, one.indices)
    return lines


def _tolerance_lines(found: Margins, closer: Tightening | None) -> Iterator[str]:
    benches = found.drawing.benches
    if closer is not None:
        limit = limit_text(closer.limit.worst_verdict, closer.limit.bench, benches)
        yield (
            f"A closer part: {label_of(closer.key)} within ±{100 * closer.after_ratio:.2g} % in place of "
            f"±{100 * closer.before_ratio:.2g} %: {limit} is kept by {yield_text(closer.yielded)} in place "
            f"of {share(closer.limit.yielded.ratio)}, by runs of its own."
        )
    helpless = [
        limit_text(limit.worst_verdict, limit.bench, benches)
        for limit in found.limits
        if limit.nominal_use > 1.0 and limit.yielded.ratio < 0.5
    ]
    if helpless:
        yield f"No tolerance helps: {_few(helpless)}; over with every value as meant."


def deciding_lines(lamp: Lamp, decided: Sequence[Deciding], benches: Sequence[str]) -> list[str]:
    """One line a verdict that an assumed value turns, then those that none does."""
    lines = [_deciding_line(lamp, one, benches) for one in decided if one.flips]
    still = [one for one in decided if not one.flips and not one.by_construction]
    if still:
        names = [f"{limit_text(one.verdict, one.held[0], benches)} (×{times(one.use)})" for one in still]
        lines.append(f"No assumed value within what is plausible turns: {_few(names)}.")
    fixed = [limit_text(one.verdict, one.held[0], benches) for one in decided if one.by_construction]
    if fixed:
        lines.append(f"So by construction, whatever is assumed: {_few(fixed)}.")
    return lines


def _deciding_line(lamp: Lamp, one: Deciding, benches: Sequence[str]) -> str:
    verdict = one.verdict
    value = amount(verdict.value, verdict.reading).removesuffix(f" {kind_of(verdict.reading).unit}")
    limit = (
        f"{limit_text(verdict, one.held[0], benches)}, {value} of {amount(verdict.limit, verdict.reading)}"
    )
    first, *others = one.flips
    said = f"{limit[:1].upper()}{limit[1:]}: {flip_text(lamp, first, one.use)}"
    for flip in others[: MOST_FLIPS - 1]:
        said += f"; or {flip_text(lamp, flip, one.use)}"
    more = len(others) - (MOST_FLIPS - 1)
    return f"{said}{f'; and {more} more' if more > 0 else ''}. To measure: {first.reading}."


def flip_text(lamp: Lamp, flip: Flip, use: float) -> str:
    """Where a verdict turns: "over above 15.2 Ω of reservoir ESR (9.04 Ω assumed)"."""
    at = text_of(lamp, flip.key, flip.at[0])
    broken = use > 1.0
    above = flip.over_above != broken
    word = "kept only" if broken else "over"
    side = "above" if above else "below"
    pinned = (
        f", {text_of(lamp, flip.key, flip.least)} to {text_of(lamp, flip.key, flip.most)} by its readings"
    )
    twice = f" and again at {text_of(lamp, flip.key, flip.at[1])}" if len(flip.at) > 1 else ""
    assumed = f"{text_of(lamp, flip.key, flip.assumed)} assumed{pinned if flip.pinned else ''}"
    return f"{word} {side} {at}{twice} of {label_of(flip.key)} ({assumed})"


def passing_lines(lamp: Lamp, ways: Sequence[Passing]) -> list[str]:
    """One line for limits that are kept by the same: the changes that keep them, least harm first."""
    alike: dict[str, list[str]] = {}
    none = "nothing that can be bought does, within 8 steps of one value or of two"
    for one in ways:
        said = "; or ".join(way_text(lamp, way) for way in one.ways[:MOST_WAYS])
        alike.setdefault(said or none, []).append(f"{topic_text(one.topic)} (×{times(one.use)})")
    return [f"To keep {', '.join(names)}: {said}." for said, names in alike.items()]


def way_text(lamp: Lamp, way: Way) -> str:
    """A change, and what else happens: "sinks sense resistor 9.1 → 15 Ω (keeps 3, light 73 %)"."""
    change = " and ".join(step_text(lamp, step) for step in way.steps)
    besides = []
    if way.newly:
        besides.append("then over: " + _few([f"{topic_text(t)} ×{times(now)}" for t, _, now in way.newly], 2))
    if way.worse:
        worse = [f"{topic_text(t)} ×{times(was)} → ×{times(now)}" for t, was, now in way.worse]
        besides.append("far worse: " + _few(worse, 2))
    if way.keeps > 1:
        besides.append(f"keeps {way.keeps} limits")
    if abs(way.light_ratio - 1.0) >= 0.05:
        besides.append(f"light {share(way.light_ratio)}")
    return f"{change} ({'; '.join(besides)})" if besides else change


def step_text(lamp: Lamp, step: Step) -> str:
    """One value bought otherwise."""
    before, after = text_of(lamp, step.key, step.before), text_of(lamp, step.key, step.after)
    return f"{label_of(step.key)} {before} → {after}"


def worst_text(limit: LimitSpread) -> str:
    """Worst use of a limit: "×1.06", or "at least ×1.3"."""
    return f"{'at least ' if limit.worst.at_least else ''}×{times(limit.worst.value)}"


def moved_text(moved_by: Sequence[tuple[str, float]], *, by_ranks: bool, most: int = 2) -> str:
    """What moves a reading, with the direction where it has one: "ESR +, mains -"."""
    if not moved_by:
        return "–"
    if by_ranks:
        return ", ".join(f"{label_of(key)} {weight:+.2f}" for key, weight in moved_by[:most])
    return "not monotone: " + ", ".join(f"{label_of(key)} {share(weight)}" for key, weight in moved_by[:most])


def _few(names: Sequence[str], most: int = 6) -> str:
    left = len(names) - most
    return ", ".join(names[:most]) + (f" and {left} more" if left > 0 else "")
