"""Faults as a table: fault by outcome, the worst first; on a terminal, and as a file."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

from coldiron.answer.fault_words import (
    COMPUTED,
    caution,
    change_lines,
    fault_text,
    headline,
    what_happens,
)
from coldiron.answer.final_state import FIRE, RUNS, FinalState, final_state, final_states
from coldiron.lamp.lamp import Lamp
from coldiron.limits.decision_lines import decision_lines
from coldiron.study.model import AS_FOUND
from coldiron.sweep.faults import Followed
from coldiron.tables.columns import Column, beside, wrapped
from coldiron.tables.tidy import table_text
from coldiron.wording import printable

MOST_ROWS = 14
MOST_CHANGES = 6
_WIDE = 30
COLUMNS = (
    "variant", "supply", "fault", "ends_as", "what_happens", "light_pct", "end_W", "peak_A", "opened",
    "opens_fast_s", "opens_slow_s", "live_this_plug", "live_plug_swapped", "over_its_rating", "why_fire",
    "caution",
)  # fmt: skip


def fault_lines(
    lamp: Lamp, followed: Sequence[Followed], width: int, *, everything: bool = False
) -> list[str]:
    """Lines of the screen: each supply of the lamp as found in a table, then what the variants alter.

    Parameters
    ----------
    lamp : Lamp
        As found.
    followed : sequence of Followed
    width : int
        Of the terminal.
    everything : bool
        Whether to show every row, and each one's caution.
    """
    lines: list[str] = []
    first = followed[0].variant if followed else AS_FOUND
    for supply in dict.fromkeys(one.supply for one in followed):
        own = [one for one in followed if one.supply == supply and one.variant == first]
        states = final_states(own)
        lines += (
            ["", *_table(lamp, states, len(own), supply, width, everything)]
            if lines
            else _table(lamp, states, len(own), supply, width, everything)
        )
        altered = list(altered_lines([one for one in followed if one.supply == supply], first))
        shown = altered if everything else altered[:MOST_CHANGES]
        for line in shown:
            lines += wrapped(line, width)
        if len(altered) > len(shown):
            lines.append(f"{len(altered) - len(shown)} more changes of a fault's end: --all, or faults.csv")
    return lines


def _table(
    lamp: Lamp, states: Sequence[FinalState], faults: int, supply: str, width: int, everything: bool
) -> list[str]:
    title = f"{printable(lamp.name)}, {supply}, cold. {headline(states, faults)} {COMPUTED}"
    lines = wrapped(title, width)
    rows = list(states) if everything else _shown(states)
    names = [_cut(fault_text(state), _WIDE) for state in rows]
    ends = [state.words.upper() if state.word == FIRE else state.words for state in rows]
    room = width - max(map(len, names), default=0) - max(map(len, ends), default=0) - 22
    happens = tuple(_cut(what_happens(state), max(24, room)) for state in rows)
    columns = [
        Column("", "ends as", "", tuple(ends), left=True, narrow=30),
        Column("", "light", "%", tuple(f"{state.light_pct:.0f}" for state in rows)),
        Column("", "in the end", "W", tuple(f"{state.end_w:.3g}" for state in rows)),
        Column("", "what happens", "", happens, left=True, narrow=30),
    ]
    lines += [line.rstrip() for line in beside(names, columns, "fault")]
    if len(states) > len(rows):
        lines.append(f"{len(states) - len(rows)} more, none of them worse: --all, or faults.csv")
    cautions = [(state, caution(state)) for state in rows]
    seen: set[str] = set()
    for state, said in cautions if everything else cautions[:3]:
        if said and said not in seen:
            seen.add(said)
            lines += wrapped(f"{fault_text(state)}: {said}", width)
    return lines


def _shown(states: Sequence[FinalState]) -> list[FinalState]:
    """The first rows: what merely keeps running, with no part over, waits for --all."""
    told = [state for state in states if state.word != RUNS or state.over]
    return list(told[:MOST_ROWS]) or list(states[:MOST_ROWS])


def _cut(text: str, most: int) -> str:
    return text if len(text) <= most else f"{text[: most - 1].rstrip()}…"


def altered_lines(followed: Sequence[Followed], first: str) -> Iterator[str]:
    """What each variant alters in the end of a fault, against the first one, on one supply."""
    states = [final_state(one) for one in followed]
    as_found = [state for state in states if state.followed.variant == first]
    for variant in dict.fromkeys(one.variant for one in followed):
        if variant != first:
            own = [state for state in states if state.followed.variant == variant]
            yield from change_lines(as_found, variant, own)


def fault_table(followed: Sequence[Followed]) -> str:
    """Every fault of every variant on every supply as CSV."""
    return table_text(COLUMNS, _rows(followed))


def _rows(followed: Sequence[Followed]) -> Iterable[tuple[object, ...]]:
    for state in sorted(map(final_state, followed), key=lambda state: state.rank):
        f = state.followed
        live = dict(state.live)
        fast_s, slow_s = state.opens_s
        yield (
            f.variant, f.supply, f.fault.name, state.words, what_happens(state), round(state.light_pct, 2),
            state.end_w, f.number("fault_peak_A"), f.word("end_opened"), fast_s, slow_s,
            live.get("this", ""), live.get("swapped", ""), "; ".join(state.over), "; ".join(state.hot),
            caution(state),
        )  # fmt: skip


def line_words() -> list[str]:
    """Lines by which final states are judged, each with its source."""
    return [line.words for line in decision_lines().values()]
