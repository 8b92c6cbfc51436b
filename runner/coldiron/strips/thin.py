"""Fewer points that look the same: lowest and highest of each piece, on instants common to all rows."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from coldiron.engine.waves import Array

Places = NDArray[np.intp]

MOST_POINTS = 600


def thinned(rows: Array, most: int = MOST_POINTS) -> Places:
    """Numbers of the instants that are kept.

    Points are parted into pieces of as many points each (the engine puts its points where something happens),
    and of each piece every row's lowest and highest are kept, with the first and the last of all. So no row
    loses a peak, and all keep the same instants.

    Parameters
    ----------
    rows : ndarray
        One row a vector, shape (vectors, points).
    most : int
        Most instants to keep.

    Returns
    -------
    ndarray of int
        Rising, at most `most` of them.

    Examples
    --------
    >>> rows = np.array([[0.0, 1.0, 0.0, 9.0, 0.0, 1.0, 2.0, 3.0, 4.0, 5.0]])
    >>> thinned(rows, 6).tolist()
    [0, 1, 3, 4, 6, 9]
    """
    count = rows.shape[1]
    if count <= most:
        return np.arange(count)
    fewest, pieces = 1, most
    kept = _kept(rows, fewest)
    while fewest < pieces:
        middle = (fewest + pieces + 1) // 2
        tried = _kept(rows, middle)
        if len(tried) <= most:
            fewest, kept = middle, tried
        else:
            pieces = middle - 1
    return kept


def _kept(rows: Array, pieces: int) -> Places:
    edges = np.linspace(0, rows.shape[1], pieces + 1).astype(int)
    chosen = {0, rows.shape[1] - 1}
    for start, stop in pairwise(edges):
        if stop > start:
            piece = rows[:, start:stop]
            chosen.update((start + piece.argmin(axis=1)).tolist(), (start + piece.argmax(axis=1)).tolist())
    return np.array(sorted(chosen))
