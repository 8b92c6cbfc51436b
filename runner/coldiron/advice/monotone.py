"""Readings that move one way with a value: what one candidate breaks, all that are worse in it break too.

Only pairs that hold over whole grids of real runs stand here; what moves either way (the watts of the sinks
with their sense resistor, ripple with capacitance, anything with the class of a varistor) does not. A pair is
used between parts of the catalogue alone, where the resistance of a reservoir goes with its capacitance, and
only for a limit that is missed by more than the engine's steps could make of it. Some of what a pair rules
out is run for real; if any of it were good, no pair is used.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

import numpy as np
from numpy.typing import NDArray

from coldiron.advice.space import Axis, Space
from coldiron.answer.use import Use

RISES: Final = +1
FALLS: Final = -1
PAIRS: Final[Mapping[str, Mapping[str, int]]] = {
    "surge_bus_peak_V": {"reservoir.capacitance": FALLS, "line_fusing.resistance": FALLS},
    "surge_drain_peak_V": {
        "reservoir.capacitance": FALLS,
        "line_fusing.resistance": FALLS,
        "sinks.sense_resistor": RISES,
    },
    "discharge_50V_s": {"reservoir.capacitance": RISES, "bleed.resistance": RISES},
    "neutral_fusing_W": {"reservoir.capacitance": RISES, "sinks.sense_resistor": FALLS},
    "inrush_bridge_peak_A": {"reservoir.capacitance": RISES, "line_fusing.resistance": FALLS},
}
"""Reading, to the keys with which it rises or falls."""
CLEAR_RATIO: Final = 1.02
"""A limit that is missed by less may be met by a worse candidate within the engine's steps."""


def worse_by_pairs(space: Space, number: int, use: Use) -> NDArray[np.bool_]:
    """Candidates that must break what one breaks: alike but for values by which its reading only gets worse.

    Parameters
    ----------
    space : Space
    number : int
        Candidate that broke a limit in a real run.
    use : Use
        The limit, and the reading that broke it.

    Returns
    -------
    (n,) array
        The candidate itself is not among them.
    """
    verdict = use.verdict
    nobody = np.zeros(len(space), dtype=bool)
    if verdict.reading not in PAIRS or verdict.least or use.ratio < CLEAR_RATIO:
        return nobody
    rated = verdict.clause.partition(".")[0] if verdict.is_rating else ""
    worse = np.ones(space.shape, dtype=bool)
    for place, (axis, step) in enumerate(zip(space.axes, space.steps(number), strict=True)):
        along = [1] * len(space.axes)
        along[place] = -1
        worse &= _options(axis, step, PAIRS[verdict.reading], rated).reshape(along)
    found = worse.ravel()
    found[number] = False
    return found


def _options(axis: Axis, step: int, pairs: Mapping[str, int], rated: str) -> NDArray[np.bool_]:
    """Options of an axis that are the own one, or worse by a pair; of the rated part only the own one."""
    own = axis.options[step]
    allowed = np.zeros(len(axis.options), dtype=bool)
    allowed[step] = True
    if own.keeps or axis.name == rated:
        return allowed
    [(key, value)] = own.numbers.items()
    for place, option in enumerate(axis.options):
        if not option.keeps and key in pairs:
            allowed[place] |= pairs[key] * (option.numbers[key] - value) >= 0.0
    return allowed
