"""Values that can be bought: preferred numbers, and the few values that makers make besides them.

References
----------
IEC 60063:2015, preferred number series for resistors and capacitors: E6, E12, E24.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Final

E6: Final = (1.0, 1.5, 2.2, 3.3, 4.7, 6.8)
E12: Final = (1.0, 1.2, 1.5, 1.8, 2.2, 2.7, 3.3, 3.9, 4.7, 5.6, 6.8, 8.2)
E24: Final = (
    1.0, 1.1, 1.2, 1.3, 1.5, 1.6, 1.8, 2.0, 2.2, 2.4, 2.7, 3.0,
    3.3, 3.6, 3.9, 4.3, 4.7, 5.1, 5.6, 6.2, 6.8, 7.5, 8.2, 9.1,
)  # fmt: skip
"""Preferred values of IEC 60063 within a decade. They will not change: no library is needed to have them, and
tests hold them to one."""
_ALIKE_RATIO = 1e-6


def nearest(series: tuple[float, ...], value: float) -> float:
    """Preferred value that is nearest by its ratio.

    Examples
    --------
    >>> nearest(E6, 35e-6), nearest(E24, 13.65), nearest(E12, 9.4)
    (3.3e-05, 13.0, 10.0)
    """
    decade = math.floor(math.log10(value))
    around = [_rounded(m * 10.0**d) for d in (decade - 1, decade, decade + 1) for m in series]
    return min(around, key=lambda preferred: abs(math.log(preferred / value)))


def step(series: tuple[float, ...], value: float, steps: int) -> float:
    """Preferred value some steps of its series above or below one.

    Examples
    --------
    >>> step(E6, 10e-6, -1), step(E6, 6.8e-6, 1)
    (6.8e-06, 1e-05)
    """
    decade = math.floor(math.log10(value) + 1e-9)
    place = min(range(len(series)), key=lambda n: abs(series[n] - value / 10.0**decade)) + steps
    return _rounded(series[place % len(series)] * 10.0 ** (decade + place // len(series)))


def _rounded(value: float) -> float:
    return float(f"{value:.3g}")


@dataclass(frozen=True, eq=False)
class Bought:
    """Which values of a part can be bought.

    Parameters
    ----------
    series : tuple of float
        A series of preferred numbers, in every decade; or
    values : tuple of float
        all the values there are, rising; or
    whole : bool
        every whole number from 1 on.
    brings : mapping
        Other values that come with one of `values`, by written key, as the clamping voltage with the class.
    """

    series: tuple[float, ...] = ()
    values: tuple[float, ...] = ()
    whole: bool = False
    brings: Mapping[float, Mapping[str, float]] = field(default_factory=lambda: MappingProxyType({}))

    def beside(self, value: float, steps: int) -> float | None:
        """Value some steps above or below one, which need not be among them; None past the last of `values`.

        Examples
        --------
        >>> ohms = Bought(series=E12)
        >>> ohms.beside(4.7, 1), ohms.beside(5.0, 1), ohms.beside(5.0, -1), ohms.beside(9.1, 2)
        (5.6, 5.6, 4.7, 12.0)
        >>> watts = Bought(values=(0.5, 1.0, 2.0))
        >>> watts.beside(1.0, 1), watts.beside(1.0, 2), Bought(whole=True).beside(5, 2)
        (2.0, None, 7.0)
        """
        if steps == 0:
            return value
        if self.whole:
            return float(value + steps) if value + steps >= 1 else None
        up = steps > 0
        if self.series:
            first = nearest(self.series, value)
            if first > value * (1 + _ALIKE_RATIO):
                return step(self.series, first, steps - 1 if up else steps)
            if first < value * (1 - _ALIKE_RATIO):
                return step(self.series, first, steps if up else steps + 1)
            return step(self.series, first, steps)
        if up:
            away = [one for one in self.values if one > value * (1 + _ALIKE_RATIO)]
        else:
            away = [one for one in self.values[::-1] if one < value * (1 - _ALIKE_RATIO)]
        return away[abs(steps) - 1] if abs(steps) <= len(away) else None
