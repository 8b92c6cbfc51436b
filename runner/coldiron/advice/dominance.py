"""Which candidates no other beats in any number of aims, and a set of them that a person can read.

Two candidates are compared in grains, tenths of a step that a person would notice: finer differences are
those of the engine's own steps, and would make nearly every candidate one that nothing beats.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

GRAINS: Final = 10
"""Grains of a readable step."""
READABLE: Final = 9
"""A set of more members is thinned."""

Grains = NDArray[np.float64]
"""Aims in grains, one row a candidate, one column an aim, the less the better; infinite where never."""


def in_grains(values: NDArray[np.float64], steps: Sequence[float]) -> Grains:
    """Values of aims in whole grains.

    Parameters
    ----------
    values : (n, m) array
        The less the better; NaN counts as the worst.
    steps : sequence of float
        Readable step of each aim.

    Examples
    --------
    >>> in_grains(np.array([[0.31, 12.04], [0.314, 12.06]]), [0.1, 1.0]).tolist()
    [[31.0, 120.0], [31.0, 121.0]]
    """
    # A little to one side, so that decimal values on the edge of a grain fall the same way on every machine.
    scaled = values / np.asarray(steps) * GRAINS
    return np.where(np.isnan(values), math.inf, np.floor(scaled + 0.5 + 1e-9))


def beats(one: Grains, other: Grains) -> bool:
    """Whether one row is nowhere worse than another and somewhere better.

    Examples
    --------
    >>> beats(np.array([1.0, 2.0]), np.array([1.0, 3.0])), beats(np.array([1.0, 2.0]), np.array([1.0, 2.0]))
    (True, False)
    """
    return bool((one <= other).all() and (one < other).any())


def non_dominated(grains: Grains) -> list[int]:
    """Rows that no other beats, in the order of the rows; equal rows stay together.

    Parameters
    ----------
    grains : (n, m) array

    Examples
    --------
    >>> non_dominated(np.array([[1.0, 5.0], [2.0, 3.0], [3.0, 4.0], [1.0, 5.0]]))
    [0, 1, 3]
    """
    unique, back = np.unique(grains, axis=0, return_inverse=True)
    kept: list[int] = []
    # Sorted by the first aim, then the next: nothing later beats what is kept.
    for row in range(len(unique)):
        if not any(beats(unique[each], unique[row]) for each in kept):
            kept.append(row)
    alive = np.zeros(len(unique), dtype=bool)
    alive[kept] = True
    return [int(row) for row in np.flatnonzero(alive[back.ravel()])]


def thinned(grains: Grains, most: int = READABLE) -> tuple[list[int], int]:
    """Few rows of a set that nothing beats, one a box of some readable steps, and how many steps a box has.

    The step doubles until no more than `most` boxes are beaten by none. Of a box the row is shown that is
    best in the first aim, then in the next.

    Parameters
    ----------
    grains : (n, m) array
        Of candidates that none beats.
    most : int

    Examples
    --------
    >>> thinned(np.array([[0.0, 90.0], [4.0, 80.0], [40.0, 10.0]]), 2)
    ([1, 2], 1)
    """
    steps = 1
    while True:
        boxes = np.floor(grains / (GRAINS * steps))
        first: dict[tuple[float, ...], int] = {}
        for row in sorted(range(len(grains)), key=lambda row: (*grains[row], row)):
            first.setdefault(tuple(boxes[row]), row)
        rows = list(first.values())
        rows = [rows[place] for place in non_dominated(boxes[rows])] if rows else []
        if len(rows) <= most or steps > 1_000_000:
            return sorted(rows, key=lambda row: (*grains[row], row)), steps
        steps *= 2
