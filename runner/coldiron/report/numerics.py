"""How a study was computed, in words: read from the decks that ran and from the settings that decided."""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import NamedTuple

from coldiron.benches import hot, settling, surge, switch_on
from coldiron.quantities import AMPERE, DEGREE, RATIO, SECOND, VOLT
from coldiron.study.model import Study
from coldiron.sweep.results import Results

_OPTIONS = re.compile(
    r"^\.options method=(\w+) reltol=(\S+) abstol=(\S+) vntol=(\S+).*\n\.tran \S+ \S+ \S+ (\S+) uic$", re.M
)
_METHODS = {"gear": "Gear", "trap": "trapezoidal"}


class Settings(NamedTuple):
    """What a deck tells the solver: method, tolerances and largest step, as printed in it."""

    method: str
    reltol: float
    abstol_a: float
    vntol_v: float
    step_s: float


def settings_of(deck: str) -> Settings | None:
    """Settings of a printed deck; None where it prints none."""
    found = _OPTIONS.search(deck)
    return Settings(found[1], *(float(text) for text in found.groups()[1:])) if found else None


def words(found: Sequence[Settings]) -> str:
    """Settings of decks of one kind for people; steps that differ from lamp to lamp as a range.

    Examples
    --------
    >>> words([Settings("gear", 1e-4, 1e-9, 1e-6, 25e-6)])
    'Gear, steps to 25 µs, relative tolerance 0.0001, down to 1 nA and 1 µV'
    >>> words([Settings("gear", 1e-3, 1e-7, 1e-4, s) for s in (2e-6, 1e-3, 5e-6)])
    'Gear, steps to 2 µs to 1 ms, relative tolerance 0.001, down to 100 nA and 100 µV'
    """
    steps_s: dict[tuple[str, float, float, float], list[float]] = {}
    for each in found:
        steps_s.setdefault(each[:4], []).append(each.step_s)
    said = []
    for (method, reltol, abstol_a, vntol_v), seen_s in steps_s.items():
        ends = dict.fromkeys(SECOND.format(end, 3) for end in (min(seen_s), max(seen_s)))
        said.append(
            f"{_METHODS.get(method, method)}, steps to {' to '.join(ends)}, relative tolerance {reltol:g}, "
            f"down to {AMPERE.format(abstol_a)} and {VOLT.format(vntol_v)}"
        )
    return "; or ".join(said)


def numerics(study: Study, results: Results) -> list[str]:
    """One line for each kind of deck that ran and its settings, then what ended a search or a settling."""
    kinds: dict[str, list[Settings]] = {}
    for one in results:
        for label, text in one.result.decks.items():
            settings = settings_of(text)
            # The stretches of a long run are labelled by the time they end at.
            kind = re.sub(r" to [\d.]+ s$", "", label)
            if settings is not None:
                name = one.case.bench if kind == one.case.bench else f"{one.case.bench}, {kind}"
                kinds.setdefault(name, []).append(settings)
    lines = [
        "Every reading comes from an ngspice transient simulation; its deck lies in the folder decks beside "
        "this page, and a plain ngspice -b gives the same reading."
    ]
    lines += [f"{kind}: {words(found)}." for kind, found in kinds.items()]
    ran = {one.case.bench for one in results if one.result.decks}
    if ran - {"switch-on"}:
        ended = {"cold": settling.SETTLED_RATIO}
        ended |= {"warm": hot.SETTLED_RATIO} if "heat" in ran else {}
        ended |= {"before a surge": surge.SETTLED_RATIO} if "surge" in ran else {}
        said = ", ".join(f"{RATIO.format(ratio)} {when}" for when, ratio in ended.items())
        lines.append(
            "Settled means that bus, string power and sink power change by less than this from one half "
            f"cycle to the next, measured on every run: {said}."
        )
    if "switch-on" in ran:
        angles = ", ".join(DEGREE.format(angle) for angle in switch_on.COARSE_DEG)
        lines.append(
            f"The worst angle of switch-on is searched: {angles}, then finely "
            f"{DEGREE.format(switch_on.ABOUT_DEG)} about the top of a parabola through the worst."
        )
    if "surge" in ran:
        angles = ", ".join(DEGREE.format(angle) for angle in study.conditions.surge_angle_deg)
        signs = " and ".join("+" if sign > 0 else "−" for sign in study.conditions.surge_polarity)
        lines.append(f"A surge is tried at {angles} with polarity {signs}.")
    return lines
