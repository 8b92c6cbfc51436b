"""When a quantity is below a level, with the crossings found between points."""

from __future__ import annotations

import numpy as np

from coldiron.readings.sampling import Floats, steps_s


def spans_below(time_s: Floats, values: Floats, level: float) -> tuple[Floats, Floats]:
    """Spans of time in which a quantity is below a level, with interpolated crossings.

    Parameters
    ----------
    time_s, values : (n,) array
        Instants [s] and the quantity [unit].
    level : float
        Level [unit]; a value equal to it is not below.

    Returns
    -------
    starts_s, stops_s : (spans,) array
        Where each span starts and stops [s]; the ends of the record count as such.

    Raises
    ------
    ValueError
        As `integral`.

    Examples
    --------
    >>> spans_below(np.array([0.0, 1.0, 2.0, 4.0]), np.array([0.0, 2.0, 2.0, 0.0]), 1.0)
    (array([0., 3.]), array([0.5, 4. ]))
    """
    steps = steps_s(time_s, values)
    below = values < level
    flips = np.flatnonzero(below[1:] != below[:-1])
    crossings_s = time_s[flips] + steps[flips] * (level - values[flips]) / (values[flips + 1] - values[flips])
    falling = below[flips + 1]
    starts_s = np.concatenate((time_s[:1][below[:1]], crossings_s[falling]))
    stops_s = np.concatenate((crossings_s[~falling], time_s[-1:][below[-1:]]))
    return starts_s, stops_s
