"""How far a reading may move between two runs of a study before it counts."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fnmatch import fnmatchcase
from typing import Annotated, Any

from pydantic import AfterValidator, BeforeValidator

from coldiron.quantities import RATIO, NotUnderstood
from coldiron.readings.catalogue import CATALOGUE
from coldiron.wording import one_nearest

_EXPECTED = (
    'a share such as "5 %", a number in the unit of the reading, or { relative = "5 %", absolute = 0.1 }'
)
_LARGEST = 1e12


@dataclass(frozen=True)
class Tolerance:
    """A share of the reading, and an amount in its unit; None leaves it to the default of the reading."""

    relative_ratio: float | None = None
    absolute: float | None = None

    @classmethod
    def read(cls, written: object) -> Tolerance:
        """Read "5 %", 0.1 or { relative = "5 %", absolute = 0.1 }.

        Raises
        ------
        NotUnderstood
            If it is none of these, a share above 100 %, or negative.

        Examples
        --------
        >>> Tolerance.read("5 %"), Tolerance.read(0.1)
        (Tolerance(relative_ratio=0.05, absolute=None), Tolerance(relative_ratio=None, absolute=0.1))
        """
        if isinstance(written, Tolerance):
            return written
        if isinstance(written, str):
            return cls(relative_ratio=_share(written))
        if isinstance(written, Mapping):
            if not written or set(written) - {"relative", "absolute"}:
                raise NotUnderstood(_EXPECTED)
            return cls(
                relative_ratio=_share(written["relative"]) if "relative" in written else None,
                absolute=_amount(written["absolute"]) if "absolute" in written else None,
            )
        return cls(absolute=_amount(written))


def _share(written: Any) -> float:
    ratio = RATIO.parse(written)
    if not 0 <= ratio <= 1:
        raise NotUnderstood("a share from 0 % to 100 %")
    return ratio


def _amount(written: Any) -> float:
    if isinstance(written, bool) or not isinstance(written, int | float):
        raise NotUnderstood(_EXPECTED)
    if not 0 <= written <= _LARGEST:
        raise NotUnderstood(f"a number from 0 to {_LARGEST:g}, in the unit of the reading")
    return float(written)


def _known_reading(pattern: str) -> str:
    if not any(fnmatchcase(reading, pattern) for reading in CATALOGUE):
        expected = 'the id of a reading, or a pattern such as "surge_*" that fits one'
        raise NotUnderstood(expected, one_nearest(pattern, CATALOGUE))
    return pattern


Tolerances = dict[
    Annotated[str, AfterValidator(_known_reading)], Annotated[Tolerance, BeforeValidator(Tolerance.read)]
]
"""The [tolerance] of a study: ids of readings, where "*" stands for any letters, to how far they may move."""
