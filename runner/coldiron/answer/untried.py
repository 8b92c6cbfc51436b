"""What a study did not try: mains above those it ran where a rating would be passed, benches left out."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from typing import Final

from coldiron.answer.candidate import Candidate
from coldiron.lamp.describe import part_label
from coldiron.lamp.lamp import Lamp
from coldiron.quantities import VOLT
from coldiron.readings.catalogue import WARM
from coldiron.study.model import Study

HIGH_MAINS_RATIO: Final = 1.1
"""How far above its nominal voltage the mains may stand (EN 50160: 10 %; from memory)."""


def passed_at(lamp: Lamp, mains_v: float) -> Iterator[tuple[str, float]]:
    """Yield each part whose voltage rating a mains voltage passes, and that rating [V].

    Closed form, without load and without a surge: a varistor's rating is for the r.m.s. value of the mains, a
    capacitor's and the bridge's are for its peak.
    """
    circuit, peak_v = lamp.circuit, math.sqrt(2.0) * mains_v
    for part in circuit:
        on_mains = set(part.at[:2]) <= set(circuit.mains_rails)
        if part.voltage_rating_v is None or not (
            on_mains or (lamp.bus_follows_mains and part.reaches_the_bus)
        ):
            continue
        if (mains_v if part.rated_in_rms else peak_v) > part.voltage_rating_v:
            yield part_label(part.name), part.voltage_rating_v


TOUCH: Final = "touch"
_SHOWN_BY = {
    "varistor": ("surge", "burst"),
    "bleed": ("unplug",),
    "line_fusing": ("switch-on", "surge"),
    "neutral_fusing": ("switch-on", "surge"),
    "housing": ("touch",),
}
"""Parts that do their work only on some benches: without one of them a change of the part shows nothing."""
_UNTRIED_WORDS = {
    WARM: "the warm lamp",
    "surge": "surges",
    "unplug": "unplugging",
    TOUCH: "a hand on the housing",
}


def missing_benches(candidate: Candidate, benches: Sequence[str]) -> list[str]:
    """BenchModules that would show what a variant changes, where none of them was run."""
    missing = []
    for change in candidate.changes:
        wanted = _SHOWN_BY.get(change.part, ())
        if wanted and not set(wanted) & set(benches):
            missing.append(wanted[0])
    return list(dict.fromkeys(missing))


def untried(
    study: Study, benches: Sequence[str], named: Sequence[Candidate], weighed: Sequence[Candidate]
) -> list[str]:
    """Say what was not tried and might turn the answer, one clause each.

    Parameters
    ----------
    study : Study
    benches : sequence of str
        Those that were run.
    named : sequence of Candidate
        Variants that the answer names.
    weighed : sequence of Candidate
        Every variant.
    """
    clauses = []
    highest_v = max(supply.voltage_v for supply in study.supplies(study.lamp))
    high_v = HIGH_MAINS_RATIO * study.lamp.mains.voltage_v
    if highest_v < 0.999 * high_v:
        passed = [
            f"the {part} of {one.number} is over its {VOLT.format(rated_v)}"
            for one in named
            for part, rated_v in passed_at(one.lamp, high_v)
        ]
        clause = f"mains above {VOLT.format(highest_v, 4)}"
        clauses.append(f"{clause}: at {VOLT.format(high_v, 4)} {' and '.join(passed)}" if passed else clause)
    for bench, words in _UNTRIED_WORDS.items():
        blind = [f"{one.number}" for one in weighed if bench in missing_benches(one, benches)]
        if blind:
            clauses.append(f"{words}, which {', '.join(blind)} would show in")
        elif bench not in benches and (bench != TOUCH or study.lamp.housing.material == "metal"):
            clauses.append(words)
    return clauses
