"""Variants that no other beats in both of two readings: the trade-off of a study."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from coldiron.answer.aims import CORNERS, MEASURES, Measure
from coldiron.answer.answer import Answer
from coldiron.answer.rank import Ranked
from coldiron.answer.told import SURGE_STRAIN

Points = NDArray[np.float64]

_OTHERS = (Measure("housing_C"), Measure("inrush_peak_A"), Measure("current_thd_pct"))
"""What a lamp without sinks is weighed by besides its light."""


def non_dominated(points: Points) -> list[int]:
    """Rows that no other row beats in both columns, in the order of the first column; less is better.

    Parameters
    ----------
    points : array, shape (n, 2)
        Finite numbers.

    Examples
    --------
    >>> non_dominated(np.array([[1.0, 5.0], [2.0, 3.0], [3.0, 4.0], [4.0, 1.0]]))
    [0, 1, 3]
    """
    order = sorted(range(len(points)), key=lambda row: (points[row, 0], points[row, 1]))
    kept: list[int] = []
    for row in order:
        if not kept or points[row, 1] < points[kept[-1], 1]:
            kept.append(row)
    return kept


@dataclass(frozen=True)
class Front:
    """Two readings, every variant that has both, and those of them that none beats.

    `ranked` and the rows of `points`, the worst over all conditions, belong together; `best` are rows.
    """

    across: Measure
    up: Measure
    ranked: tuple[Ranked, ...]
    points: Points
    best: tuple[int, ...]

    @property
    def variants(self) -> list[Ranked]:
        """Variants that none beats, in the order of the reading across."""
        return [self.ranked[row] for row in self.best]


def front(answer: Answer) -> Front | None:
    """Trade-off of the two readings that a study is most about; None where it read only one of them.

    Those are what the first two aims are measured by, and without aims the flicker and the heat of the sinks.
    What takes a safety part away, or has a hole, beats nothing.
    """
    measures = _measures(answer)
    if len(measures) < 2:
        return None
    up, across = measures[:2]
    ranked = [one for one in answer.ranked if _finite(one, (across, up))]
    points = np.array([[m.sign * m.of(one.candidate) for m in (across, up)] for one in ranked]).reshape(-1, 2)
    able = [row for row, one in enumerate(ranked) if one.may_be_recommended]
    signs = np.array([across.sign, up.sign])
    best = non_dominated((points * signs)[able]) if able else []
    return Front(across, up, tuple(ranked), points, tuple(able[row] for row in best))


def _measures(answer: Answer) -> list[Measure]:
    """Readings, each once: of the aims as far as the lamp as found has one, of the corners, of any lamp."""
    found = answer.found
    measures: dict[str, Measure] = {}
    for aim in dict.fromkeys((*answer.aims.want, *(aim for _, aim in CORNERS))):
        own = next((m for m in MEASURES[aim] if m.reading != SURGE_STRAIN and _finite(found, (m,))), None)
        if own is not None:
            measures.setdefault(own.reading, own)
    for other in _OTHERS:
        if _finite(found, (other,)):
            measures.setdefault(other.reading, other)
    return list(measures.values())


def _finite(one: Ranked, measures: Sequence[Measure]) -> bool:
    return all(np.isfinite(measure.of(one.candidate)) for measure in measures)
