"""Light of an LED string from its current and temperature, when it first shows, and its gaps."""

from __future__ import annotations

import numpy as np

from coldiron.readings.levels import spans_below
from coldiron.readings.sampling import Floats


def relative_light(current_a: Floats, string_c: float, light_tempco_per_k: float) -> Floats:
    """Light of a string as amperes at 25 °C: current·(1 + tempco·(T − 25)), never below zero.

    A plain model. Light follows the current in proportion and without delay: the droop of efficiency
    with current and the afterglow of the phosphor, some microseconds, are left out.

    Parameters
    ----------
    current_a : (n,) array
        String current [A].
    string_c : float
        Temperature of the LEDs [°C].
    light_tempco_per_k : float
        Change of light with temperature [1/K], zero or negative.

    Returns
    -------
    (n,) array
        Light, as the current that would give it at 25 °C [A].

    References
    ----------
    Linear change with temperature: common practice, no source.

    Examples
    --------
    >>> relative_light(np.array([0.05, -1e-9]), 85.0, -0.0015)
    array([0.0455, 0.    ])
    """
    return np.maximum(current_a * max(0.0, 1.0 + light_tempco_per_k * (string_c - 25.0)), 0.0)


def first_light_s(time_s: Floats, light: Floats, level: float) -> float:
    """Time from the start of a record until a light first reaches a level.

    Parameters
    ----------
    time_s, light : (n,) array
        Instants [s], the first being the moment of switching on, and light.
    level : float
        Level, in the unit of `light`.

    Returns
    -------
    float
        Time [s]; 0 when it starts at the level or above, infinity when it is never reached.

    Raises
    ------
    ValueError
        If the record is none.

    Examples
    --------
    >>> first_light_s(np.array([1.0, 2.0, 3.0]), np.array([0.0, 0.0, 1.0]), 0.1)
    1.1
    """
    starts_s, stops_s = spans_below(time_s, light, level)
    if starts_s.size == 0 or starts_s[0] > time_s[0]:
        return 0.0
    return float(stops_s[0] - time_s[0]) if stops_s[0] < time_s[-1] else float("inf")


def longest_gap_s(time_s: Floats, light: Floats, level: float) -> float:
    """Longest time a light stays below a level.

    Parameters
    ----------
    time_s, light : (n,) array
        Instants [s] and light.
    level : float
        Level, in the unit of `light`.

    Returns
    -------
    float
        Time [s]; 0 when it is never below. A gap that the record cuts off counts as far as it goes.

    Raises
    ------
    ValueError
        If the record is none.

    Examples
    --------
    >>> longest_gap_s(np.array([0.0, 1.0, 2.0, 3.0]), np.array([1.0, 0.0, 0.0, 1.0]), 0.5)
    2.0
    """
    starts_s, stops_s = spans_below(time_s, light, level)
    return float((stops_s - starts_s).max(initial=0.0))
