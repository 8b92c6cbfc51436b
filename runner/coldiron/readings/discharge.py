"""What is left in a lamp after it is unplugged, and for how long."""

from __future__ import annotations

import numpy as np

from coldiron.readings.levels import spans_below
from coldiron.readings.sampling import Floats


def discharge_s(time_s: Floats, voltage_v: Floats, level_v: float) -> float:
    """Time from the start of a record after which a voltage stays below a level, whichever its sign.

    Parameters
    ----------
    time_s, voltage_v : (n,) array
        Instants [s], the first being the moment of unplugging, and voltage [V].
    level_v : float
        Level counted as safe [V], above zero.

    Returns
    -------
    float
        Time [s]; 0 when it is below throughout, infinity when it is not below at the end.

    Raises
    ------
    ValueError
        If the record is none, or `level_v` is not above zero.

    Examples
    --------
    >>> round(discharge_s(np.array([5.0, 6.0, 7.0]), np.array([100.0, 50.0, 0.0]), 60.0), 6)
    0.8
    >>> discharge_s(np.array([5.0, 6.0, 7.0]), np.array([100.0, 90.0, 80.0]), 60.0)
    inf
    """
    if not level_v > 0.0:
        raise ValueError(f"expected a level above 0 V, got {level_v:g} V")
    starts_s, stops_s = spans_below(time_s, np.abs(voltage_v), level_v)
    if starts_s.size == 0 or stops_s[-1] < time_s[-1]:
        return float("inf")
    return float(starts_s[-1] - time_s[0])


def stored_energy_j(capacitance_f: float, voltage_v: float) -> float:
    """Energy in a capacitor, C·V²/2.

    Parameters
    ----------
    capacitance_f : float
        Capacitance [F].
    voltage_v : float
        Voltage across it [V].

    Returns
    -------
    float
        Energy [J].

    References
    ----------
    Closed form.

    Examples
    --------
    >>> round(stored_energy_j(10e-6, 325.27), 3)
    0.529
    """
    return 0.5 * capacitance_f * voltage_v**2
