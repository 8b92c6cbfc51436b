"""Final state of a fault: one of few words, judged by public lines and against the same lamp healthy.

Fire is not judged by ratings alone: on high mains a healthy lamp may stand above some of its own. A part has
to take twice its rating *and* twice what it takes in the healthy lamp on the same mains, or 15 W more than
there, or to glow without opening. No number says how likely a fault is.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final

from coldiron.benches.live_points import PLUGS
from coldiron.benches.stress import ratings
from coldiron.faults.catalogue import AND, HOUSING, SUPPLY
from coldiron.lamp.lamp import Lamp
from coldiron.limits.decision_lines import decision_lines
from coldiron.parts.roles import Clamps
from coldiron.quantities import WATT
from coldiron.sweep.faults import Followed, number_of

FIRE: Final = "hot, not opening"
OPENS: Final = "opens"
DARK: Final = "dark but live"
UNSEEN: Final = "unprotected and unseen"
RUNS: Final = "keeps running"
NO_ANSWER: Final = "no answer"
WORDS: Final = (FIRE, OPENS, DARK, UNSEEN, RUNS, NO_ANSWER)
"""Final states, the worst first."""

SAME_RATIO = 0.03
"""Light and watts within this share of the healthy lamp's are the same to a person."""
NO_LIGHT_PCT = 1.0
GLOW_CAUTION_S = 1.0


@dataclass(frozen=True)
class FinalState:
    """What a fault ends as.

    Parameters
    ----------
    followed : Followed
    word : str
        One of `WORDS`.
    left : str
        What is left of a lamp in which something opens: "dark but live", "dark" or "runs on".
    light_pct, end_w : float
        Light of the healthy lamp's [%] and input watts [W] of what is left.
    hot : tuple of str
        Why it is fire, each with its numbers; empty where it is not.
    over : tuple of str
        Parts over their ratings that are not over them in the healthy lamp.
    live : tuple of (str, str)
        Plug and the points that are live with it, where the lamp is dark or switched off.
    lost : str
        What protects no more, while the lamp lights as before.
    """

    followed: Followed
    word: str
    left: str = ""
    light_pct: float = 0.0
    end_w: float = 0.0
    hot: tuple[str, ...] = ()
    over: tuple[str, ...] = ()
    live: tuple[tuple[str, str], ...] = ()
    lost: str = ""
    alike: tuple[str, ...] = ()
    """Other faults that end the same way."""

    @property
    def words(self) -> str:
        """Its word, and what is left where something opens."""
        return (
            f"{self.word}, {'then ' if self.left != 'runs on' else ''}{self.left}" if self.left else self.word
        )

    @property
    def opens_s(self) -> tuple[float, float]:
        """Band of time in which the first part opens [s]; infinite where nothing does."""
        f = self.followed
        if "end_opens_fast_s" not in f.readings:
            return math.inf, math.inf
        return f.number("end_opens_fast_s"), f.number("end_opens_slow_s")

    @property
    def by_breaker_only(self) -> bool:
        """Whether nothing in the lamp ends it and the breaker of the house does."""
        return (
            self.word == FIRE
            and not math.isinf(self.followed.number("breaker_fast_s"))
            and self.nothing_opens
        )

    @property
    def nothing_opens(self) -> bool:
        """Whether nothing in the lamp has opened; a varistor that has failed short has not."""
        left = self.followed.word("end_left")
        return left in ("nothing", "") or all(one.endswith(" short") for one in left.split(AND))

    @property
    def rank(self) -> tuple[int, int, float]:
        """Place among final states, the worst first."""
        live = {"dark but live": 0, "dark": 1, "runs on": 2}.get(self.left, 0)
        weight = self.followed.number("fault_worst_W") if self.word == FIRE else float(len(self.over))
        return WORDS.index(self.word), live, -weight


def final_state(followed: Followed) -> FinalState:
    """Judge the end of one fault."""
    if not followed.readings or not followed.was:
        return FinalState(followed, NO_ANSWER)
    light_a, was_a = followed.number("end_light_A"), float(followed.was["end_light_A"])
    switched_off = (SUPPLY, "neutral switched") in followed.fault.pairs
    light_pct = 0.0 if switched_off else 100.0 * light_a / was_a if was_a else 0.0
    end_w = 0.0 if switched_off else followed.number("input_power_W")
    own = FinalState(followed, RUNS, light_pct=light_pct, end_w=end_w, over=tuple(_over(followed)))
    own = replace(own, live=tuple(_live(followed)))
    hot = tuple(_hot(followed))
    is_dark = light_pct < NO_LIGHT_PCT
    is_live = any(points != "none" for _, points in own.live)
    if hot:
        return replace(own, word=FIRE, hot=hot)
    if followed.word("end_opened") != "nothing":
        left = ("dark but live" if is_live else "dark") if is_dark else "runs on"
        return replace(own, word=OPENS, left=left)
    if is_dark:
        return replace(own, word=DARK)
    lost = _lost(followed)
    same = (
        abs(light_pct - 100.0) < 100 * SAME_RATIO
        and abs(end_w - float(followed.was["input_power_W"])) < SAME_RATIO * end_w
    )
    if lost and same and not own.over:
        return replace(own, word=UNSEEN, lost=lost)
    return own


def final_states(every: Sequence[Followed]) -> list[FinalState]:
    """Final states of some faults, the worst first; those that end alike are one, with all their names."""
    found: dict[tuple[object, ...], FinalState] = {}
    for state in map(final_state, every):
        f = state.followed
        key = (
            f.variant, f.supply, state.word, state.left, round(state.light_pct), f"{state.end_w:.2g}",
            f.word("end_opened"), f"{f.number('fault_peak_A'):.2g}", state.lost, state.hot, state.over,
            f"{state.opens_s[1]:.2g}",
        )  # fmt: skip
        first = found.get(key)
        is_own = first is not None and first.followed.fault.parts == f.fault.parts
        if first is None or (state.word == RUNS and not is_own):
            found[(*key, f.fault.name) if first is not None else key] = state
        else:
            found[key] = replace(first, alike=(*first.alike, f.fault.name))
    return sorted(found.values(), key=lambda state: state.rank)


MOST_MOMENTS = 2
"""Openings that pictures show."""


def drawn_moments(found: Sequence[Followed]) -> list[int]:
    """Places of the faults whose moment of opening is drawn: the worst of the first variant and supply."""
    if not found:
        return []
    own = [one for one in found if (one.variant, one.supply) == (found[0].variant, found[0].supply)]
    opening = [s.followed for s in final_states(own) if "moment_opens_s" in s.followed.readings]
    return [next(n for n, one in enumerate(found) if one is drawn) for drawn in opening[:MOST_MOMENTS]]


def _hot(f: Followed) -> Iterator[str]:
    """Why the end of a fault is fire."""
    lines, lamp = decision_lines(), f.done.case.lamp
    twice, more_w = lines["rating-ratio"].most, lines["resistive-30-s"].most
    held = ratings(end_lamp(f), f.readings, f.done.case.conditions.frequency_hz)
    said: set[str] = set()
    for rated in held:
        watts = f.number(rated.reading)
        was_w = number_of(f.was, rated.reading)
        if rated.reading.endswith("_W") and watts >= twice * rated.most and watts >= twice * was_w:
            said |= {rated.reading, rated.part}
            yield f"{rated.part.partition(',')[0]} {WATT.format(watts, 3)} of {WATT.format(rated.most, 3)}"
    for name, value in f.readings.items():
        if name.endswith("_sense_W"):
            rated_w = getattr(getattr(lamp, "sinks", None), "sense_power_w", 0.25)
            if isinstance(value, float) and value >= twice * rated_w:
                yield f"{name.removesuffix('_W').replace('_', ' ')} {value:.3g} W of {rated_w:.3g} W"
    parts = {f"{part.name}_W": part.name for part in lamp.circuit}
    for reading, name in parts.items():
        watts, was_w = f.number(reading), number_of(f.was, reading)
        told = any(one.startswith(name.replace("_", " ")) for one in said)
        if reading not in said and not told and watts - was_w > more_w:
            more = f"{WATT.format(watts - was_w, 3)} more than healthy"
            if watts - was_w > lines["resistive-at-once"].most:
                more += ", at once"
            yield f"{name.replace('_', ' ')} {WATT.format(watts, 3)}, {more}"
    if (glows := f.word("end_glows_part")) and f.number("end_glows_K") > 0.0:
        yield f"{glows.replace('_', ' ')} glows at {25 + f.number('end_glows_K'):.0f} °C and never opens"
    if "end_opens_slow_s" in f.readings and math.isinf(f.number("end_opens_slow_s")):
        opened = f.word("end_opened").partition(";")[0].replace("_", " ")
        if not _is_clamp(f, opened):
            yield f"{opened} may glow and not open"
    arc_va, arc_v = f.number("arc_VA"), f.number("arc_open_V")
    if arc_va > lines["arcing-product"].most and arc_v > lines["arcing-voltage"].most:
        yield f"an arc of {f.number('arc_W'):.2g} W at {arc_v:.0f} V: {arc_va:.2g} V·A of 15"


def _is_clamp(f: Followed, name: str) -> bool:
    circuit = f.done.case.lamp.circuit
    return name in circuit and isinstance(circuit[name], Clamps)


def end_lamp(f: Followed) -> Lamp:
    """Lamp that is left: with what has opened or failed besides the fault."""
    lamp, left = f.done.case.lamp, f.word("end_left")
    if left in ("", "nothing"):
        return lamp
    pairs = [one.partition(" ") for one in left.split(AND)]
    return lamp.with_faults(*((part, word) for part, _, word in pairs))


def _over(f: Followed) -> Iterator[str]:
    """Parts that are over a rating in the end and are not over it in the healthy lamp."""
    was = set(str(f.was.get("end_over_parts", "none")).split("; "))
    for part in f.word("end_over_parts").split("; "):
        if part not in ("none", "") and part not in was:
            yield part
    if f.number("end_row_pulse_ratio") > 1.0:
        yield "LEDs, pulse current"


def _live(f: Followed) -> Iterator[tuple[str, str]]:
    for plug in PLUGS:
        if f"live_{plug}" in f.readings:
            yield plug, f.word(f"live_{plug}")


def _lost(f: Followed) -> str:
    """What protects no more with the parts that are broken."""
    lost = []
    circuit = f.healthy.case.lamp.circuit
    for name, word in f.fault.pairs:
        if (name, word) == (HOUSING, "earth broken"):
            lost.append("protective earth")
        elif name in circuit and word in ("open", "bridged", "short"):
            lost.append(circuit[name].guards)
    return " and ".join(dict.fromkeys(filter(None, lost)))
