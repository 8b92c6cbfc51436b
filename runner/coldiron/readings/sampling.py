"""Uneven time points of a run: cutting a window, exact integrals, even steps.

Between two points a quantity is taken as a straight line, and every integral here is exact for that.
"""

from __future__ import annotations

from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

Floats: TypeAlias = NDArray[np.float64]

# Times are written into decks with 12 significant digits, so a window may overhang its record by rounding.
_OVERHANG = 1e-9


_last: tuple[Floats | None, Floats] = (None, np.empty(0))
"""Time points that nobody can write to, and their steps: one window is asked for many integrals in a row."""


def steps_s(time_s: Floats, values: Floats) -> Floats:
    """Return the steps between the points of a record, once it has been found to be one.

    Parameters
    ----------
    time_s : (n,) array
        Instants [s].
    values : (n,) or (..., n) array
        What belongs to them.

    Returns
    -------
    (n - 1,) array
        Steps [s], none negative; a jump is a step of 0.

    Raises
    ------
    ValueError
        If there are fewer than two points, the time runs backwards or stands, or a value is wanting.

    Examples
    --------
    >>> steps_s(np.array([0.0, 1.0, 3.0]), np.zeros(3))
    array([1., 2.])
    """
    global _last
    if time_s.ndim != 1 or values.shape[-1:] != time_s.shape:
        raise ValueError(f"expected as many values as time points, got {values.shape} and {time_s.shape}")
    known, steps = _last
    if known is time_s:
        return steps
    steps = np.diff(time_s)
    if steps.size == 0 or steps.min() < 0.0 or time_s[-1] <= time_s[0]:
        raise ValueError("expected two or more time points that increase")
    if time_s.base is None and not time_s.flags.writeable:
        steps.flags.writeable = False
        _last = time_s, steps
    return np.asarray(steps)


def cut(time_s: Floats, values: Floats, start_s: float, stop_s: float) -> tuple[Floats, Floats]:
    """Part of a record between two instants, with interpolated points at both ends.

    Keeping only the points inside a window loses up to a step at each end, which shows as a jitter of
    some 0.1 % in the mean of a mains cycle; an interpolated end loses nothing.

    Parameters
    ----------
    time_s : (n,) array
        Instants [s], not decreasing.
    values : (n,) or (..., n) array
        One quantity, or several stacked on the leading axes.
    start_s, stop_s : float
        The window [s], inside the record (an overhang of 1e-9 of the record is taken as rounding).

    Returns
    -------
    time_s : (m,) array
        `start_s`, the points in between, `stop_s`.
    values : (m,) or (..., m) array
        The values there. At a jump on an end the value on the window's side is taken.

    Raises
    ------
    ValueError
        If the window is empty or reaches outside the record.

    Examples
    --------
    >>> cut(np.array([0.0, 1.0, 3.0]), np.array([0.0, 10.0, 30.0]), 0.5, 2.0)
    (array([0.5, 1. , 2. ]), array([ 5., 10., 20.]))
    """
    if values.shape[-1:] != time_s.shape:
        raise ValueError(f"expected as many values as time points, got {values.shape} and {time_s.shape}")
    window = Cut(time_s, start_s, stop_s)
    return window.time_s, window.of(values)


class Cut:
    """A stretch of a record between two instants, out of which quantities are cut one by one.

    Parameters
    ----------
    time_s : (n,) array
        Instants [s], not decreasing.
    start_s, stop_s : float
        As for `cut`.

    Attributes
    ----------
    time_s : (m,) array
        `start_s`, the points in between, `stop_s`.

    Raises
    ------
    ValueError
        As `cut`.
    """

    def __init__(self, time_s: Floats, start_s: float, stop_s: float) -> None:
        steps_s(time_s, time_s)
        begin_s, end_s = time_s.item(0), time_s.item(-1)
        slack_s = _OVERHANG * (end_s - begin_s)
        if not (begin_s - slack_s <= start_s < stop_s <= end_s + slack_s):
            raise ValueError(
                f"expected a window inside {begin_s:g} s to {end_s:g} s, got {start_s:g} s to {stop_s:g} s"
            )
        start_s, stop_s = max(start_s, begin_s), min(stop_s, end_s)
        first = int(np.searchsorted(time_s, start_s, side="right"))
        last = int(np.searchsorted(time_s, stop_s, side="left"))
        self._inside = slice(first, last)
        self._ends = tuple(
            (index, (instant_s - time_s.item(index - 1)) / (time_s.item(index) - time_s.item(index - 1)))
            for index, instant_s in ((first, start_s), (last, stop_s))
        )
        self.time_s = np.concatenate(([start_s], time_s[self._inside], [stop_s]))
        self.time_s.flags.writeable = False

    def of(self, values: Floats) -> Floats:
        """Values (m,) or (..., m) of a quantity (n,) or (..., n) in this stretch."""
        found = np.empty((*values.shape[:-1], self.time_s.size))
        found[..., 1:-1] = values[..., self._inside]
        for at, (index, share) in zip((0, -1), self._ends, strict=True):
            found[..., at] = values[..., index - 1] * (1.0 - share) + values[..., index] * share
        return found


def integral(time_s: Floats, values: Floats) -> float:
    """Integral over the whole record, exact for straight lines between points.

    Parameters
    ----------
    time_s, values : (n,) array
        Instants [s] and the quantity [unit].

    Returns
    -------
    float
        Integral [unit·s].

    Raises
    ------
    ValueError
        If there are fewer than two points, or the time runs backwards.

    Examples
    --------
    >>> integral(np.array([0.0, 1.0, 3.0]), np.array([0.0, 2.0, 2.0]))
    5.0
    """
    return 0.5 * float(np.dot(steps_s(time_s, values), values[1:] + values[:-1]))


def mean(time_s: Floats, values: Floats) -> float:
    """Time mean of the whole record, its integral over its length.

    Parameters
    ----------
    time_s, values : (n,) array
        Instants [s] and the quantity [unit].

    Returns
    -------
    float
        Mean [unit].

    Raises
    ------
    ValueError
        As `integral`.

    Examples
    --------
    >>> mean(np.array([0.0, 1.0, 4.0]), np.array([0.0, 2.0, 2.0]))
    1.75
    """
    return integral(time_s, values) / float(time_s[-1] - time_s[0])


def integral_of_product(time_s: Floats, first: Floats, second: Floats) -> float:
    """Integral of the product of two quantities, exact for straight lines between points.

    Over a step h with ends a, b of the one and c, d of the other: h·(2ac + 2bd + ad + bc)/6. The product
    of two lines is a parabola, so the trapezoid of the products would be too large wherever both change.

    Parameters
    ----------
    time_s, first, second : (n,) array
        Instants [s] and two quantities, such as voltage [V] and current [A].

    Returns
    -------
    float
        Integral of the product; of voltage and current, energy [J].

    Raises
    ------
    ValueError
        As `integral`.

    References
    ----------
    Closed form (integral of a product of two linear functions).

    Examples
    --------
    >>> ramp = np.array([0.0, 3.0])
    >>> integral_of_product(np.array([0.0, 1.0]), ramp, ramp)  # 9 t² from 0 to 1
    3.0
    """
    steps = steps_s(time_s, first)
    a, b, c, d = first[:-1], first[1:], second[:-1], second[1:]
    return float(np.dot(steps, a * (2.0 * c + d) + b * (2.0 * d + c))) / 6.0


def mean_of_product(time_s: Floats, first: Floats, second: Floats) -> float:
    """Time mean of the product of two quantities, exact for straight lines between points.

    Parameters
    ----------
    time_s, first, second : (n,) array
        Instants [s] and two quantities, such as voltage [V] and current [A].

    Returns
    -------
    float
        Mean of the product; of voltage and current, power [W].

    Raises
    ------
    ValueError
        As `integral`.

    Examples
    --------
    >>> ramp = np.array([0.0, 3.0])
    >>> mean_of_product(np.array([0.0, 2.0]), ramp, ramp)
    3.0
    """
    return integral_of_product(time_s, first, second) / float(time_s[-1] - time_s[0])


def rms(time_s: Floats, values: Floats) -> float:
    """Root of the mean square of the whole record, exact for straight lines between points.

    Parameters
    ----------
    time_s, values : (n,) array
        Instants [s] and the quantity [unit].

    Returns
    -------
    float
        Effective value [unit].

    Raises
    ------
    ValueError
        As `integral`.

    Examples
    --------
    >>> round(rms(np.array([0.0, 1.0]), np.array([0.0, 1.0])), 6)  # a ramp: 1/√3
    0.57735
    """
    return float(np.sqrt(mean_of_product(time_s, values, values)))


def even_means(time_s: Floats, values: Floats, count: int) -> Floats:
    """Even steps of a record, each the mean of the quantity over its own step.

    A mean, unlike the value at the middle, leaves nothing out that happens between two even instants:
    the mean of the record is kept exactly, and what lies above half the new rate is damped before it can
    fold down.

    Parameters
    ----------
    time_s, values : (n,) array
        Instants [s] and the quantity [unit].
    count : int
        Number of even steps across the whole record; one or more.

    Returns
    -------
    (count,) array
        Means [unit]; element k belongs to the instant (k + 1/2)/count of the record.

    Raises
    ------
    ValueError
        As `integral`, or if `count` is below one.

    Examples
    --------
    >>> even_means(np.array([0.0, 1.0, 4.0]), np.array([0.0, 2.0, 2.0]), 4)
    array([1., 2., 2., 2.])
    """
    if count < 1:
        raise ValueError(f"expected one even step or more, got {count}")
    steps = steps_s(time_s, values)
    running = np.concatenate(([0.0], np.cumsum(0.5 * steps * (values[1:] + values[:-1]))))
    edges_s = np.linspace(time_s[0], time_s[-1], count + 1)[1:-1]
    at = np.searchsorted(time_s, edges_s, side="right") - 1
    since_s = edges_s - time_s[at]
    slope_half = 0.5 * (values[at + 1] - values[at]) * (since_s / steps[at])
    inner = running[at] + since_s * (values[at] + slope_half)
    step_s = (time_s[-1] - time_s[0]) / count
    return np.asarray(np.diff(np.concatenate(([0.0], inner, running[-1:]))) / step_s)


def cycle_means(time_s: Floats, values: Floats, cycle_s: float) -> Floats:
    """Mean over each whole cycle of a record, counted back from its end.

    Two last means that agree show that a lamp has settled.

    Parameters
    ----------
    time_s, values : (n,) array
        Instants [s] and the quantity [unit].
    cycle_s : float
        Length of a cycle [s], above zero.

    Returns
    -------
    (cycles,) array
        Means [unit], oldest first; empty when the record is shorter than a cycle.

    Raises
    ------
    ValueError
        As `integral`, or if `cycle_s` is not above zero.

    Examples
    --------
    >>> cycle_means(np.array([0.0, 2.0, 5.0]), np.array([0.0, 2.0, 2.0]), 2.0)
    array([1.75, 2.  ])
    """
    if not cycle_s > 0.0:
        raise ValueError(f"expected a cycle longer than 0 s, got {cycle_s:g} s")
    steps_s(time_s, values)
    stop_s, length_s = float(time_s[-1]), float(time_s[-1] - time_s[0])
    whole = int(length_s / cycle_s + _OVERHANG)
    return np.array(
        [
            mean(*cut(time_s, values, stop_s - back * cycle_s, stop_s - (back - 1) * cycle_s))
            for back in range(whole, 0, -1)
        ]
    )


def held_for(time_s: Floats, values: Floats, length_s: float) -> float:
    """Largest mean over any window of a length: what is held that long, shorter spikes evened out.

    Parameters
    ----------
    time_s, values : (n,) array
        Instants [s] and the quantity [unit].
    length_s : float
        Length of the window [s]; of a shorter record the whole.

    Returns
    -------
    float
        Mean [unit]; windows begin or end at an instant of the record.

    Raises
    ------
    ValueError
        As `integral`.

    Examples
    --------
    A spike of a tenth of the window counts a tenth:

    >>> time_s = np.array([0.0, 4.0, 4.0001, 4.1, 4.1001, 10.0])
    >>> round(held_for(time_s, np.array([1.0, 1.0, 2.0, 2.0, 1.0, 1.0]), 1.0), 3)
    1.1
    """
    steps = steps_s(time_s, values)
    length_s = min(length_s, float(time_s[-1] - time_s[0]))
    summed = np.concatenate(([0.0], np.cumsum(0.5 * (values[1:] + values[:-1]) * steps)))
    ends = np.concatenate((time_s, time_s + length_s))
    ends = ends[(ends >= time_s[0] + length_s) & (ends <= time_s[-1])]
    ends = np.append(ends, time_s[-1])
    over = np.interp(ends, time_s, summed) - np.interp(ends - length_s, time_s, summed)
    return float(over.max() / length_s)


def largest(values: Floats) -> float:
    """Largest magnitude of a quantity, whichever its sign.

    Parameters
    ----------
    values : array of any shape
        The quantity [unit].

    Returns
    -------
    float
        Largest absolute value [unit].

    Examples
    --------
    >>> largest(np.array([1.0, -3.0, 2.0]))
    3.0
    """
    return float(np.abs(values).max())


def peak_to_peak(values: Floats) -> float:
    """Highest less lowest value of a quantity.

    Parameters
    ----------
    values : array of any shape
        The quantity [unit].

    Returns
    -------
    float
        Peak-to-peak value [unit].

    Examples
    --------
    >>> peak_to_peak(np.array([1.0, -3.0, 2.0]))
    5.0
    """
    return float(np.ptp(values))
