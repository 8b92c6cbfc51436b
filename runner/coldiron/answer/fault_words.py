"""What the end of a fault means, in words for a person: what happens, what to mind, what a change alters."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Final

from coldiron.answer.final_state import DARK, FIRE, NO_ANSWER, OPENS, RUNS, UNSEEN, FinalState
from coldiron.faults.breaker import breaker_of
from coldiron.quantities import SECOND, WATT

COMPUTED: Final = "Computed, not measured; no number here says how likely a fault is."
LONG_S = 1.0
"""A part that may take longer to open glows and smokes on the way."""
PLUG_WORDS: Final = {"this": "the plug as it is", "swapped": "the plug the other way round"}


def time_text(seconds: float) -> str:
    """A time in two digits.

    Examples
    --------
    >>> time_text(0.0453), time_text(8.04), time_text(354.0), time_text(float("inf"))
    ('45 ms', '8 s', '5.9 min', 'never')
    """
    if math.isinf(seconds):
        return "never"
    if seconds >= 120.0:
        return f"{seconds / 60.0:.2g} min" if seconds < 6000.0 else f"{seconds / 3600.0:.2g} h"
    return SECOND.format(float(f"{seconds:.2g}"), 2)


def band_text(fast_s: float, slow_s: float) -> str:
    """A band of time.

    Examples
    --------
    >>> band_text(0.005, 0.0453), band_text(3.8, float("inf"))
    ('in 5 ms to 45 ms', 'after 3.8 s at the soonest')
    """
    if math.isinf(slow_s):
        return f"after {time_text(fast_s)} at the soonest"
    fast, slow = time_text(fast_s), time_text(slow_s)
    return f"in {fast}" if fast == slow else f"in {fast} to {slow}"


def what_happens(state: FinalState) -> str:
    """What a fault does, in a line."""
    f = state.followed
    if state.word == NO_ANSWER:
        failure = f.done.result.failure or f.healthy.result.failure
        return failure.why if failure else "no answer"
    if state.word == FIRE:
        said = list(state.hot[:2])
        if len(state.hot) > 2:
            said.append(f"{len(state.hot) - 2} parts more")
        return "; ".join([*said, *_ends_by(state)])
    if state.word == OPENS:
        return _opens_text(state)
    if state.word == DARK:
        return live_text(state)
    if state.word == UNSEEN:
        return f"lights as before, without its {state.lost}"
    over = "; ".join(state.over[:2])
    return f"over: {over}" if over else _runs_text(state)


def _runs_text(state: FinalState) -> str:
    f = state.followed
    if f.number("arc_W") > 0.0:
        return f"an arc of {f.number('arc_W'):.2g} W; {arc_ends_text(state)}"
    degraded = [w for part, w in f.fault.pairs if w.startswith("-") and w.endswith("%")]
    if degraded:
        [(part, _)] = [pair for pair in f.fault.pairs if pair[1] in degraded][:1]
        return f"{part} takes {WATT.format(f.number(f'{part}_W'), 2)}"
    return ""


def arc_ends_text(state: FinalState) -> str:
    """What ends an arc: a gap that asks for more volts than are left for it."""
    return f"it ends when the gap asks for more than {state.followed.number('arc_left_V'):.0f} V"


def _opens_text(state: FinalState) -> str:
    f = state.followed
    steps = [step.replace("_", " ") for step in f.word("end_opened").split("; ")]
    fast_s, slow_s = state.opens_s
    first = "fails short" if _fails_short(state) else "opens" if " or " not in steps[0] else "open"
    begun = (
        f"{f.number('fault_peak_A'):.2g} A"
        if f.number("fault_peak_A") >= 1.0
        else (f"{f.number('fault_input_W'):.3g} W")
    )
    said = f"{begun} till {steps[0]} {first}, {band_text(fast_s, slow_s)}"
    return "; then ".join([said, *(f"{step} opens" for step in steps[1:])])


def _fails_short(state: FinalState) -> bool:
    left = state.followed.word("end_left").partition(" + ")[0]
    return left.endswith(" short")


def _ends_by(state: FinalState) -> Iterator[str]:
    """What ends a fire: nothing in the lamp, perhaps the breaker of the house."""
    f = state.followed
    if not state.nothing_opens:
        return
    fast_s, slow_s = f.number("breaker_fast_s"), f.number("breaker_slow_s")
    if state.by_breaker_only:
        house = breaker_of(f.done.case.conditions.voltage_v)
        yield f"only the breaker of the house ends it, {band_text(fast_s, slow_s)} ({house.words})"


def live_text(state: FinalState) -> str:
    """Points that are live, with the worse position of the plug."""
    live = [(plug, points) for plug, points in state.live if points != "none"]
    if not live:
        return "no point inside is live by 0.7 mA, with the plug either way"
    if len(live) == 2 and live[0][1] == live[1][1]:
        return f"live: {live[0][1]}, with the plug either way"
    plug, points = max(live, key=lambda one: one[1].count(","))
    where = "with the plug either way" if len(live) == 2 else f"with {PLUG_WORDS[plug]}"
    return f"live: {points}, {where}"


def caution(state: FinalState) -> str:
    """What a person has to mind about a final state, in a line; nothing where the usual cautions do."""
    f = state.followed
    if state.word == FIRE and state.by_breaker_only:
        return (
            "Only the breaker of the house ends this; computed from a stated curve, not from this lamp. "
            "Do not try it on the mains."
        )
    if state.word == FIRE and f.number("end_row_pulse_ratio") > 1.0:
        return (
            f"Very bright: its LEDs carry {f.number('end_row_pulse_ratio'):.2g} times their pulse current. "
            "Do not look into it, do not leave it connected; what fails next is not computed."
        )
    if state.word == FIRE:
        return (
            "Nothing in this lamp ends this. It heats until something fails or burns: do not leave it "
            "connected, not even to measure."
        )
    if state.word == OPENS and state.opens_s[1] > LONG_S:
        return (
            "Until it opens this part may glow and smoke. Do not hold the lamp or watch it close by while "
            "trying it. What lies before the opened part stays at mains potential."
        )
    if state.word == OPENS:
        return (
            "The lamp is changed by it, and parts before the opened one stay at mains potential. Unplug it; "
            "a switch may leave the other pole connected."
        )
    if state.word == DARK:
        return (
            f"Dark does not mean dead: {live_text(state)}. Unplug, wait for the bus to fall below 34 V, "
            "measure, then touch."
        )
    if state.word == UNSEEN:
        return (
            f"It lights as before, and its {state.lost} is gone. No reading of the lamp in use shows it; "
            "only the part measured unplugged does."
        )
    if state.word == RUNS and f.number("arc_W") > 0.0:
        return f"An arc may burn at this gap while the lamp is lit: {f.number('arc_W'):.2g} W in one spot."
    if state.word == RUNS and state.over:
        over = "; ".join(state.over[:3])
        return f"It gives light, and over its rating is: {over}. How long it lasts is not computed."
    return ""


def fault_text(state: FinalState) -> str:
    """The faults of a row: those that end alike are one.

    A kind's own are counted ("bridge line-plus short and 3 alike"), others are named.
    """
    own, alike = state.followed.fault.words, [name.replace("_", " ") for name in state.alike]
    if not alike:
        return own
    part = own.split()[0]
    if all(name.split()[0] == part for name in alike):
        return f"{own} and {len(alike)} alike"
    return " = ".join([own, *alike[:1]]) + (f" and {len(alike) - 1} alike" if len(alike) > 1 else "")


def change_lines(as_found: Sequence[FinalState], variant: str, changed: Sequence[FinalState]) -> list[str]:
    """What a variant alters: each fault that ends by another word, opens elsewhere or at other times.

    Parameters
    ----------
    as_found, changed : sequence of FinalState
        One for each fault, not put together.
    """
    was = {state.followed.fault.name: state for state in as_found}
    lines = []
    for now in changed:
        before = was.get(now.followed.fault.name)
        if before is None or NO_ANSWER in (before.word, now.word):
            continue
        said = _altered(before, now)
        if said:
            lines.append(f"with {variant}: {now.followed.fault.words} {said}")
    return lines


def _altered(before: FinalState, now: FinalState) -> str:
    opened, opens = (s.followed.word("end_opened").replace("_", " ") for s in (before, now))
    if now.by_breaker_only and not before.by_breaker_only:
        band = band_text(now.followed.number("breaker_fast_s"), now.followed.number("breaker_slow_s"))
        was = f"{opened} opened {band_text(*before.opens_s)}" if before.word == OPENS else before.words
        return f"opens nothing in the lamp: only the breaker of the house ends it, {band} (was: {was})"
    if now.word != before.word or now.left != before.left:
        happens = what_happens(now)
        return f"ends {now.words} in place of {before.words}{f' ({happens})' if happens else ''}"
    if now.word == OPENS:
        times = band_text(*now.opens_s), band_text(*before.opens_s)
        if opened != opens:
            return f"opens {opens} {times[0]}; as found {opened}, {times[1]}"
        ratio = now.opens_s[1] / before.opens_s[1] if before.opens_s[1] not in (0.0, math.inf) else 1.0
        if not 0.8 < ratio < 1.25:
            return f"opens {opens} {times[0]}; as found {times[1]}"
    return ""


def headline(states: Sequence[FinalState], faults: int) -> str:
    """How many faults end how, the worst first."""
    counts = dict.fromkeys((FIRE, OPENS, DARK, UNSEEN, RUNS, NO_ANSWER), 0)
    for state in states:
        counts[state.word] += 1 + len(state.alike)
    said = "; ".join(f"{count} {word}" for word, count in counts.items() if count)
    return f"{faults} faults: {said}."
