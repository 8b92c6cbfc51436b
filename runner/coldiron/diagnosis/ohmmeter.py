"""What an ohmmeter shows between two points of a lamp that is unplugged and discharged.

Its test voltage is too low for any junction (some 0.2 V): LEDs, diodes and transistors do not conduct,
capacitors have been waited for. What is left is a network of resistors,

    G v = i,    G the conductances between the points, i one ampere in at one point and out at the other.

Range: meters whose test voltage opens a junction show less where a diode lies the right way.
"""

from __future__ import annotations

import numpy as np

from coldiron.parts.circuit import Circuit

INFINITE_OHM = 1e12
"""What is not joined at all."""


def ohms(circuit: Circuit, one: str, other: str) -> float:
    """Resistance between two points [Ω], `INFINITE_OHM` where nothing joins them.

    Examples
    --------
    >>> from coldiron.lamp.load import load_lamp
    >>> circuit = load_lamp("kerbside-flood").circuit
    >>> ohms(circuit, "line", "line_f"), round(ohms(circuit, "bus", "minus") / circuit["bleed"].cold_ohm, 3)
    (4.7, 1.0)
    """
    resistors = [one for part in circuit for one in part.resistances()]
    joined = _island(resistors, one)
    if other not in joined:
        return INFINITE_OHM
    # `other` is the reference: its row and column are left out, and the rest is not singular.
    places = {point: n for n, point in enumerate(sorted(joined - {other}))}
    conductance = np.zeros((len(places), len(places)))
    for a, b, ohm in resistors:
        if a in joined:
            for here, there in ((a, b), (b, a)):
                if here in places:
                    conductance[places[here], places[here]] += 1.0 / ohm
                    if there in places:
                        conductance[places[here], places[there]] -= 1.0 / ohm
    injected = np.zeros(len(places))
    injected[places[one]] = 1.0
    return float(np.linalg.solve(conductance, injected)[places[one]])


def _island(resistors: list[tuple[str, str, float]], start: str) -> set[str]:
    """Points that resistances join to one."""
    seen, left = {start}, [start]
    while left:
        here = left.pop()
        for a, b, _ in resistors:
            for one, other in ((a, b), (b, a)):
                if one == here and other not in seen:
                    seen.add(other)
                    left.append(other)
    return seen
