"""Single pulses, surge and burst: what they carry, and the times by which their standards describe them.

A pulse may have either sign; times and shares are read from it as if its largest value were positive.
"""

from __future__ import annotations

import numpy as np

from coldiron.readings.levels import spans_below
from coldiron.readings.sampling import Floats, integral_of_product


def energy_j(time_s: Floats, voltage_v: Floats, current_a: Floats) -> float:
    """Energy a pulse leaves in a part, ∫v·i dt, exact for straight lines between points.

    Parameters
    ----------
    time_s, voltage_v, current_a : (n,) array
        Instants [s], voltage across [V] and current into the part [A].

    Returns
    -------
    float
        Energy [J].

    Raises
    ------
    ValueError
        If the record is none.

    Examples
    --------
    >>> energy_j(np.array([0.0, 2.0]), np.array([5.0, 5.0]), np.array([0.0, 1.0]))
    5.0
    """
    return integral_of_product(time_s, voltage_v, current_a)


def i2t_a2s(time_s: Floats, current_a: Floats) -> float:
    """Melting integral of a current, ∫i² dt, exact for straight lines between points.

    Parameters
    ----------
    time_s, current_a : (n,) array
        Instants [s] and current [A].

    Returns
    -------
    float
        Integral [A²s].

    Raises
    ------
    ValueError
        If the record is none.

    Examples
    --------
    >>> i2t_a2s(np.array([0.0, 3.0]), np.array([0.0, 1.0]))
    1.0
    """
    return integral_of_product(time_s, current_a, current_a)


def _upright(values: Floats) -> Floats:
    """Return the pulse with its largest value positive, and 1."""
    largest = values[np.argmax(np.abs(values))]
    if largest == 0.0:
        raise ValueError("expected a pulse, got zero throughout")
    return np.asarray(values / largest)


def _rises_s(time_s: Floats, pulse: Floats, share: float) -> float:
    """Instant at which an upright pulse first reaches a share of its peak."""
    if not pulse[0] < share:
        raise ValueError(f"expected a pulse that starts below {share:.0%} of its peak")
    return float(spans_below(time_s, pulse, share)[1][0])


def _falls_s(time_s: Floats, pulse: Floats, share: float) -> float:
    """Instant at which an upright pulse, past its peak, first falls below a share of it."""
    starts_s, _ = spans_below(time_s, pulse, share)
    later_s = starts_s[starts_s >= time_s[np.argmax(pulse)]]
    if later_s.size == 0:
        raise ValueError(f"expected a pulse that falls to {share:.0%} of its peak within the record")
    return float(later_s[0])


def rise_s(time_s: Floats, values: Floats, low: float = 0.1, high: float = 0.9) -> float:
    """Time a pulse takes to rise from one share of its peak to another.

    Parameters
    ----------
    time_s, values : (n,) array
        Instants [s] and voltage or current of one pulse.
    low, high : float
        Shares of the peak.

    Returns
    -------
    float
        Time [s].

    Raises
    ------
    ValueError
        If the record holds no pulse that starts below `low`.

    References
    ----------
    IEC 61000-4-4, clause 6.2: rise time 10 % to 90 %, 5 ns.

    Examples
    --------
    >>> round(rise_s(np.array([0.0, 10.0, 20.0]), np.array([0.0, 1.0, 0.0])), 6)
    8.0
    """
    pulse = _upright(values)
    return _rises_s(time_s, pulse, high) - _rises_s(time_s, pulse, low)


def width_s(time_s: Floats, values: Floats) -> float:
    """Time a pulse stays above half of its peak.

    Parameters
    ----------
    time_s, values : (n,) array
        Instants [s] and voltage or current of one pulse.

    Returns
    -------
    float
        Time [s]; the duration of a 1.2/50 µs surge voltage, and the width of a 5/50 ns burst pulse.

    Raises
    ------
    ValueError
        If the record holds no pulse that starts and ends below half of its peak.

    References
    ----------
    IEC 61000-4-5 edition 3, clause 6.2; IEC 61000-4-4, clause 6.2.

    Examples
    --------
    >>> width_s(np.array([0.0, 10.0, 30.0]), np.array([0.0, 1.0, 0.0]))
    15.0
    """
    pulse = _upright(values)
    return _falls_s(time_s, pulse, 0.5) - _rises_s(time_s, pulse, 0.5)


def voltage_front_s(time_s: Floats, voltage_v: Floats) -> float:
    """Front time of a surge voltage, 1.67·(T90 − T30).

    Parameters
    ----------
    time_s, voltage_v : (n,) array
        Instants [s] and voltage of one pulse [V].

    Returns
    -------
    float
        Front time [s]; 1.2 µs nominal.

    Raises
    ------
    ValueError
        As `rise_s`.

    References
    ----------
    IEC 61000-4-5 edition 3, clause 6.2, table 2.

    Examples
    --------
    >>> round(voltage_front_s(np.array([0.0, 10.0, 20.0]), np.array([0.0, -1.0, 0.0])), 6)
    10.02
    """
    return 1.67 * rise_s(time_s, voltage_v, 0.3, 0.9)


def current_front_s(time_s: Floats, current_a: Floats) -> float:
    """Front time of a surge current, 1.25·(T90 − T10).

    Parameters
    ----------
    time_s, current_a : (n,) array
        Instants [s] and current of one pulse [A].

    Returns
    -------
    float
        Front time [s]; 8 µs nominal.

    Raises
    ------
    ValueError
        As `rise_s`.

    References
    ----------
    IEC 61000-4-5 edition 3, clause 6.2, table 2.

    Examples
    --------
    >>> round(current_front_s(np.array([0.0, 10.0, 20.0]), np.array([0.0, 1.0, 0.0])), 6)
    10.0
    """
    return 1.25 * rise_s(time_s, current_a, 0.1, 0.9)


def current_duration_s(time_s: Floats, current_a: Floats) -> float:
    """Duration of a surge current, 1.18 times the time it stays above half of its peak.

    Parameters
    ----------
    time_s, current_a : (n,) array
        Instants [s] and current of one pulse [A].

    Returns
    -------
    float
        Duration [s]; 20 µs nominal.

    Raises
    ------
    ValueError
        As `width_s`.

    References
    ----------
    IEC 61000-4-5 edition 3, clause 6.2, table 2 (the factor 1.18 is from memory).

    Examples
    --------
    >>> round(current_duration_s(np.array([0.0, 10.0, 30.0]), np.array([0.0, 1.0, 0.0])), 6)
    17.7
    """
    return 1.18 * width_s(time_s, current_a)


def undershoot_ratio(values: Floats) -> float:
    """How far a pulse swings to the other side, as a share of its peak.

    Parameters
    ----------
    values : (n,) array
        Voltage or current of one pulse.

    Returns
    -------
    float
        Share of the peak; 0 when it never changes sign.

    Raises
    ------
    ValueError
        If the values are zero throughout.

    References
    ----------
    IEC 61000-4-5 edition 3, figure 3: 0.3 at most for the surge current (from memory).

    Examples
    --------
    >>> undershoot_ratio(np.array([0.0, -4.0, 1.0, 0.0]))
    0.25
    """
    return max(0.0, -float(_upright(values).min()))
