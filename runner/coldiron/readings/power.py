"""Power of a voltage and a current over a settled record of whole cycles, and the factors made of it."""

from __future__ import annotations

import numpy as np

from coldiron.readings.sampling import Floats, mean_of_product, rms


def active_power_w(time_s: Floats, voltage_v: Floats, current_a: Floats) -> float:
    """Active power, the time mean of v·i, exact for straight lines between points.

    Parameters
    ----------
    time_s, voltage_v, current_a : (n,) array
        Instants [s], voltage [V] and current into the part [A] over whole cycles.

    Returns
    -------
    float
        Power into the part [W].

    Raises
    ------
    ValueError
        If the record is none.

    References
    ----------
    IEEE 1459, clause 3 (from memory).

    Examples
    --------
    >>> active_power_w(np.array([0.0, 1.0]), np.array([2.0, 2.0]), np.array([0.0, 3.0]))
    3.0
    """
    return mean_of_product(time_s, voltage_v, current_a)


def apparent_power_va(time_s: Floats, voltage_v: Floats, current_a: Floats) -> float:
    """Apparent power, rms voltage times rms current.

    Parameters
    ----------
    time_s, voltage_v, current_a : (n,) array
        Instants [s], voltage [V] and current [A] over whole cycles.

    Returns
    -------
    float
        Apparent power [VA].

    Raises
    ------
    ValueError
        If the record is none.

    References
    ----------
    IEEE 1459, clause 3 (from memory).

    Examples
    --------
    >>> apparent_power_va(np.array([0.0, 1.0]), np.array([2.0, 2.0]), np.array([3.0, 3.0]))
    6.0
    """
    return rms(time_s, voltage_v) * rms(time_s, current_a)


def power_factor(time_s: Floats, voltage_v: Floats, current_a: Floats) -> float:
    """Power factor, active over apparent power.

    Parameters
    ----------
    time_s, voltage_v, current_a : (n,) array
        Instants [s], voltage [V] and current [A] over whole cycles.

    Returns
    -------
    float
        Between -1 and 1; nan when there is no apparent power.

    Raises
    ------
    ValueError
        If the record is none.

    References
    ----------
    IEEE 1459, clause 3 (from memory).

    Examples
    --------
    >>> round(power_factor(np.array([0.0, 1.0]), np.array([2.0, 2.0]), np.array([0.0, 3.0])), 6)
    0.866025
    """
    apparent_va = apparent_power_va(time_s, voltage_v, current_a)
    return active_power_w(time_s, voltage_v, current_a) / apparent_va if apparent_va > 0.0 else float("nan")


def displacement_deg(voltage_fundamental: complex, current_fundamental: complex) -> float:
    """Angle by which the fundamental of the current lags that of the voltage.

    Parameters
    ----------
    voltage_fundamental, current_fundamental : complex
        Element 1 of `harmonics.phasors` of both, from one record.

    Returns
    -------
    float
        Angle [°], above 0 for a lagging and below 0 for a leading current; nan without a fundamental.

    References
    ----------
    IEEE 1459, clause 3 (from memory).

    Examples
    --------
    >>> displacement_deg(325.0 + 0j, 0.1j)  # a capacitor
    -90.0
    """
    product = voltage_fundamental * np.conj(current_fundamental)
    return float(np.angle(product, deg=True)) if product else float("nan")


def displacement_factor(voltage_fundamental: complex, current_fundamental: complex) -> float:
    """Displacement factor cos φ₁, which is the power factor of the fundamentals alone.

    Parameters
    ----------
    voltage_fundamental, current_fundamental : complex
        Element 1 of `harmonics.phasors` of both, from one record.

    Returns
    -------
    float
        Between -1 and 1; nan without a fundamental.

    References
    ----------
    IEEE 1459, clause 3 (from memory).

    Examples
    --------
    >>> round(displacement_factor(1.0 + 0j, 1.0 - 1.0j), 6)
    0.707107
    """
    return float(np.cos(np.radians(displacement_deg(voltage_fundamental, current_fundamental))))
