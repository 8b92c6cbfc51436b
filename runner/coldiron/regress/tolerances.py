"""How far each reading may move before it counts: the catalogue's tolerance, and a study's own before it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from fnmatch import fnmatchcase
from typing import NamedTuple

from coldiron.errors import FileProblems, Problem
from coldiron.readings.catalogue import kind_of
from coldiron.study.tolerance import Tolerance
from coldiron.wording import one_nearest, printable


class Allowed(NamedTuple):
    """How far one reading may move: the larger of a share of it and an amount in its unit."""

    relative_ratio: float
    absolute: float

    def around(self, value: float) -> float:
        """Distance that is one tolerance, at a value.

        >>> Allowed(0.01, 0.5).around(200.0), Allowed(0.01, 0.5).around(-2.0)
        (2.0, 0.5)
        """
        return max(self.relative_ratio * abs(value), self.absolute)


def default_for(reading: str) -> Allowed:
    """What a reading may move when its study does not say.

    Examples
    --------
    >>> default_for("surge_sink_peak_A"), default_for("sinks_W")
    (Allowed(relative_ratio=0.03, absolute=0.0001), Allowed(relative_ratio=0.01, absolute=0.001))
    """
    kind = kind_of(reading)
    return Allowed(kind.relative_ratio, kind.absolute)


def allowed_for(reading: str, own: Mapping[str, Tolerance]) -> Allowed:
    """What a reading may move in a study: its own pattern counts, the longest of several.

    An amount stands in place of the default share. A share leaves the default amount, which is what nobody
    could measure.

    Examples
    --------
    >>> own = {"surge_*": Tolerance(0.1), "surge_sink_peak_A": Tolerance(absolute=0.5)}
    >>> allowed_for("surge_bus_peak_V", own), allowed_for("surge_sink_peak_A", own)
    (Allowed(relative_ratio=0.1, absolute=0.01), Allowed(relative_ratio=0.0, absolute=0.5))
    """
    default = default_for(reading)
    pattern = max((p for p in own if fnmatchcase(reading, p)), key=len, default=None)
    if pattern is None:
        return default
    tolerance = own[pattern]
    return Allowed(
        tolerance.relative_ratio or 0.0,
        default.absolute if tolerance.absolute is None else tolerance.absolute,
    )


def check_patterns(file: str, own: Mapping[str, Tolerance], readings: Iterable[str]) -> None:
    """Refuse tolerances of readings that nothing gives.

    Raises
    ------
    FileProblems
        Naming each, with the nearest reading there is.
    """
    known = sorted(set(readings))
    problems = [
        Problem(
            file,
            f"tolerance.{printable(pattern)}",
            "an unknown reading",
            'the id of a reading of this study, or a pattern such as "surge_*"',
            one_nearest(pattern, known),
        )
        for pattern in own
        if not any(fnmatchcase(reading, pattern) for reading in known)
    ]
    if problems:
        raise FileProblems(problems)
