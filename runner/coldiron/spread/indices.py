"""Sobol indices, on request: how much of a reading's variance each value makes, alone and with all others.

Two samples, and for each value the first with that one column of the second: n (d + 2) runs. It tells
interactions, which no regression does, and costs some ten times the runs of a spread.

References
----------
Saltelli et al. (2010), Computer Physics Communications 181, table 2: estimators of Saltelli for the first
order and of Jansen for the total, as `scipy.stats.sobol_indices` has them; held to that, and to Ishigami's
function.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from coldiron.readings.catalogue import kind_of
from coldiron.spread.margins import headlines
from coldiron.spread.population import Drawing, Run, run_population
from coldiron.spread.sample import drawn

Array = NDArray[np.float64]

LEAST_BASE = 256
"""Lamps of each sample; with 64 a total index of 0.8 is known to ± 0.25 only (measured)."""


@dataclass(frozen=True)
class Indices:
    """Indices of one reading: `first` and `total` in the order of the drawing's values, of `n` lamps each.

    A lamp counts where each of its d + 2 runs gave an answer: n is smaller where some failed.
    """

    bench: str
    reading: str
    n: int
    first: Array
    total: Array


def indices(drawing: Drawing, run: Run, base: int = LEAST_BASE) -> list[Indices]:
    """Sobol indices of the headline readings of a drawing.

    Parameters
    ----------
    drawing : Drawing
    run : callable
    base : int
        Lamps of each sample, a power of two.
    """
    d = len(drawing.values)
    # Both samples are halves of one sequence: so each of them, and each mixture, is as even as one alone.
    both = drawn(2 * d, drawing.spread.model_copy(update={"runs": base}))
    first, second = both[:, :d], both[:, d:]
    mixed = [np.where(np.arange(d) == place, second, first) for place in range(d)]
    whole = run_population(drawing, np.vstack([first, second, *mixed]), drawing.benches, run)
    found = []
    for bench, reading in headlines(drawing):
        values = whole.readings.get((bench, reading))
        if values is None:
            continue
        parts = values.reshape(d + 2, base)
        there = np.isfinite(parts).all(axis=0)
        if there.sum() > 1:
            s, t = estimated(parts[0][there], parts[1][there], parts[2:][:, there])
            found.append(Indices(bench, reading, int(there.sum()), s, t))
    return found


def estimated(f_a: Array, f_b: Array, f_ab: Array) -> tuple[Array, Array]:
    """First-order and total indices from the readings of two samples and their mixtures.

    Parameters
    ----------
    f_a, f_b : ndarray of shape (n,)
    f_ab : ndarray of shape (d, n)
        Of the first sample with one column of the second.
    """
    middle = np.concatenate([f_a, f_b]).mean()
    f_a, f_b, f_ab = f_a - middle, f_b - middle, f_ab - middle
    variance = np.concatenate([f_a, f_b]).var()
    if variance <= 1e-18 * middle**2:
        return np.zeros(len(f_ab)), np.zeros(len(f_ab))
    first = (f_b * (f_ab - f_a)).mean(axis=1) / variance
    total = 0.5 * ((f_a - f_ab) ** 2).mean(axis=1) / variance
    return first, total


def index_rows(variant: str, drawing: Drawing, found: Sequence[Indices]) -> list[tuple[object, ...]]:
    """One row a reading and value, with the columns of `INDEX_COLUMNS`."""
    return [
        (variant, one.bench, one.reading, value.key, one.n, float(one.first[place]), float(one.total[place]))
        for one in found
        for place, value in enumerate(drawing.values)
    ]


INDEX_COLUMNS = ("variant", "bench", "reading", "value", "n", "first_order", "total")


def index_lines(drawing: Drawing, found: Sequence[Indices]) -> list[str]:
    """One line a reading: the three values with the largest total, first order and total."""
    lines = []
    for one in found:
        order = sorted(range(len(one.total)), key=lambda place: -one.total[place])[:3]
        said = ", ".join(
            f"{drawing.values[place].label} {one.first[place]:.2f} / {one.total[place]:.2f}"
            for place in order
        )
        lines.append(f"Sobol, alone / with others: {kind_of(one.reading).heading} ({one.bench}): {said}.")
    return lines
