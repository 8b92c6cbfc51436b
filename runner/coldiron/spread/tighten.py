"""What a closer part would gain: read off the runs there are, and confirmed by runs of its own.

The same lamps with one tolerance halved to a class that is made: all else is off as before, so that the two
yields differ by that part alone. A yield among the lamps whose part happened to be near its value points at
the part, and is no more than a hint: it may be chance.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from coldiron.spread.margins import LimitSpread, Margins
from coldiron.spread.population import Run, run_population
from coldiron.spread.sample import drawn
from coldiron.spread.values import AMBIENT, MAINS
from coldiron.spread.yields import Yield, yield_of

CLASSES = (0.2, 0.1, 0.05, 0.02, 0.01, 0.005)
"""Tolerances that parts are made to: letters M, K, J, G, F and D of IEC 60062."""
LEAST_GAIN = 0.02
"""Hint of a gain, in lamps of all, below which nothing is worth a run."""


@dataclass(frozen=True)
class Tightening:
    """A closer part, what it was and is, and the yield of a limit before and with it."""

    limit: LimitSpread
    key: str
    before_ratio: float
    after_ratio: float
    hinted: float
    yielded: Yield


def closer(ratio: float) -> float:
    """Class that is at most half a tolerance; half of it where none is.

    >>> closer(0.2), closer(0.05), closer(0.013)
    (0.1, 0.02, 0.005)
    """
    return next((one for one in CLASSES if one <= 0.5 * ratio * (1 + 1e-9)), 0.5 * ratio)


def tightened(found: Margins, run: Run) -> Tightening | None:
    """The closer part that gains most for a limit which the nominal lamp keeps; None where none does.

    Parameters
    ----------
    found : Margins
    run : callable
    """
    hints = [
        (hint, limit, place)
        for limit in found.limits
        if limit.nominal_use <= 1.0 and limit.yielded.kept < limit.yielded.of
        for place in _parts_that_matter(found, limit)
        if (hint := _hint(found, limit, place)) - limit.yielded.ratio >= LEAST_GAIN
    ]
    if not hints:
        return None
    hint, limit, place = max(hints, key=lambda each: (each[0] - each[1].yielded.ratio, -each[2]))
    one = found.drawing.values[place]
    ratio = closer(one.ratio)
    values = (*found.drawing.values[:place], one._replace(ratio=ratio), *found.drawing.values[place + 1 :])
    drawing = replace(found.drawing, values=values)
    again = run_population(
        drawing, drawn(len(values), drawing.spread), [limit.bench], run, rated=limit.rated_v is not None
    )
    over = again.over.get(limit.held)
    judged = np.isfinite(over) if over is not None else np.zeros(0, dtype=bool)
    if over is None or not judged.any():
        return None
    kept = int((over[judged] == 0.0).sum())
    return Tightening(limit, one.key, one.ratio, ratio, hint, yield_of(kept, int(judged.sum())))


def _parts_that_matter(found: Margins, limit: LimitSpread) -> list[int]:
    """Places of the values that move a limit and can be bought closer: neither mains nor room."""
    places = {one.key: place for place, one in enumerate(found.drawing.values)}
    return [places[key] for key, _ in limit.moved_by if key not in (MAINS, AMBIENT)]


def _hint(found: Margins, limit: LimitSpread, place: int) -> float:
    """Yield of the lamps whose value happens to be within the closer class."""
    population = found.rated if limit.rated_v is not None else found.varying
    assert population is not None
    one = found.drawing.values[place]
    over = population.over[limit.held][1:]
    near = np.abs(population.off[1:, place]) <= closer(one.ratio) / one.ratio
    judged = np.isfinite(over) & near
    return float((over[judged] == 0.0).mean()) if judged.any() else 0.0
