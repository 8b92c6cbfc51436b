"""Readings that an answer speaks of: what the catalogue knows of them, and one that only an answer has."""

from __future__ import annotations

import math
from typing import Final

from coldiron.readings.catalogue import kind_of, spoken_kinds

LEAST_CHANGE_RATIO: Final = 0.05
"""A change below this share of the reading is not worth a word."""
SURGE_STRAIN: Final = "surge_strain_ratio"
"""Worst use of any part's rating in a surge or a burst, as if it were a reading."""
_LEAST_STRAIN: Final = 0.02
CLOSE_RATIO: Final = 0.8
"""Use of a limit from which on it is worth a word; below it a typical rating will hardly turn the answer."""


def told_readings() -> list[str]:
    """Readings worth a word, the most telling first."""
    return [*(kind.reading for kind in spoken_kinds()), SURGE_STRAIN]


def subject_of(reading: str) -> str:
    """What a person calls a reading.

    Examples
    --------
    >>> subject_of("sink_die_worst_C"), subject_of("input_power_W")
    ('hottest die', 'input power')
    """
    if reading == SURGE_STRAIN:
        return "worst strained part in the surge"
    kind = kind_of(reading)
    return kind.spoken.subject.removeprefix("the ") if kind.spoken else kind.what


def least_of(reading: str) -> float:
    """Smallest change worth a word, in the unit of the reading."""
    if reading == SURGE_STRAIN:
        return _LEAST_STRAIN
    kind = kind_of(reading)
    return kind.spoken.least if kind.spoken else kind.absolute


def sign_of(reading: str) -> int:
    """+1 where a reading is worse when it is higher, -1 where when it is lower, 0 for neither."""
    if reading == SURGE_STRAIN:
        return +1
    return {"up": +1, "down": -1, "none": 0}[kind_of(reading).worse]


def differs(reading: str, now: float, before: float) -> bool:
    """Whether a reading has changed by enough to be worth a word.

    Examples
    --------
    >>> differs("inrush_peak_A", 10.0, 10.4), differs("inrush_peak_A", 10.0, 11.0), differs("svm", 0.01, 0.02)
    (False, True, False)
    """
    if math.isnan(now) or math.isnan(before) or now == before:
        return False
    if reading == SURGE_STRAIN and max(now, before) < CLOSE_RATIO:
        return False  # Nothing is calmer than what strains no part.
    if math.isinf(now) or math.isinf(before):
        return True
    return abs(now - before) >= max(least_of(reading), LEAST_CHANGE_RATIO * abs(before))
