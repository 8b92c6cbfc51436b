"""How far each reading may move before it counts: defaults by kind, and a study's own in front of them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from fnmatch import fnmatchcase
from functools import cache
from typing import NamedTuple

from coldiron.errors import FileProblems, Problem
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


SHARES: tuple[tuple[str, float], ...] = (
    ("*_pulse_us", 0.75),
    ("burst_*energy_*", 0.1),
    ("burst_*excess_*", 0.1),
    ("burst_*", 0.05),
    ("surge_*energy_*", 0.08),
    ("surge_*excess_*", 0.08),
    ("surge_*", 0.03),
    ("inrush_*energy_*", 0.15),
    ("inrush_*excess_*", 0.15),
    ("inrush_*", 0.02),
    ("first_light_ms", 0.05),
    ("discharge_pins_*", 0.05),
    ("*_headroom_V", 0.02),
    ("*_factor", 0.005),
    ("*_C", 0.0),
    ("*", 0.01),
)
"""Pattern of a reading's id to the share it may move; the first that matches counts.

Measured on the demo studies, between ngspice 39.3 and 46, and between the decks' steps and Newton
tolerances and finer ones: dissipations and currents of a running lamp move by 0.002 %, peaks at switch-on
by 0.3 %, peaks of a surge by 1 %, its energies by 5 %. What switch-on gives after the charging pulse is
computed more coarsely: first light moves by 2.5 %, energies by 15 %. The width of a pulse can change by two
thirds, when a ripple on it comes to lie across the level at which it is taken.
"""

AMOUNTS: tuple[tuple[str, float], ...] = (
    ("settled_cycles", 5.0),
    ("power_balance_pct", 0.1),
    ("*_margin_pct", 2.0),
    ("*_headroom_V", 0.15),
    ("flicker_index", 0.001),
    ("svm", 0.005),
    ("pst_lm", 0.005),
    ("*_deg", 2.0),
    ("*_C", 1.0),
    ("*_K", 1.0),
    ("*_pct", 0.05),
    ("*_W", 1e-3),
    ("*_V", 1e-2),
    ("*_A", 1e-4),
    ("*_uA", 0.1),
    ("*_A2s", 1e-7),
    ("*_J", 1e-6),
    ("*_mJ", 1e-3),
    ("*_s", 1e-3),
    ("*_ms", 1e-2),
    ("*_us", 1.0),
    ("*", 0.0),
)
"""Pattern of a reading's id to the amount, in its unit, below which no move counts; the first counts.

Finer than this nobody could measure it on the bench, or the engine's steps show through.
"""

FOLLOWS: tuple[tuple[str, str], ...] = (
    ("weakest_part", "weakest_margin_pct"),
    ("phase_deg", "peak_A"),
    ("worst_deg", "sink_peak_A"),
    ("worst_polarity", "sink_peak_A"),
    ("limited_by", "sink_peak_A"),
)
"""Endings of readings that say where a worst case was found, and of the reading that says how bad it is.

Two angles, or two parts, can be worst by a hair; which of them it is then says nothing. How bad it is, is
held.
"""


def follows(reading: str) -> str:
    """Reading that is held in place of one that only says where the worst was; empty for all others.

    Examples
    --------
    >>> follows("surge_worst_deg"), follows("steady_weakest_part"), follows("conduction_start_deg")
    ('surge_sink_peak_A', 'steady_weakest_margin_pct', '')
    """
    for ending, held in FOLLOWS:
        if reading == ending or reading.endswith(f"_{ending}"):
            return reading.removesuffix(ending) + held
    return ""


@cache
def default_for(reading: str) -> Allowed:
    """What a reading may move when its study does not say.

    Examples
    --------
    >>> default_for("surge_sink_peak_A"), default_for("sinks_W")
    (Allowed(relative_ratio=0.03, absolute=0.0001), Allowed(relative_ratio=0.01, absolute=0.001))
    """
    return Allowed(_first(reading, SHARES), _first(reading, AMOUNTS))


def _first(reading: str, table: tuple[tuple[str, float], ...]) -> float:
    return next(value for pattern, value in table if fnmatchcase(reading, pattern))


def allowed_for(reading: str, own: Mapping[str, Tolerance]) -> Allowed:
    """What a reading may move in a study: its own pattern counts, the longest of several.

    Examples
    --------
    >>> own = {"surge_*": Tolerance(0.1), "surge_sink_peak_A": Tolerance(absolute=0.5)}
    >>> allowed_for("surge_bus_peak_V", own), allowed_for("surge_sink_peak_A", own)
    (Allowed(relative_ratio=0.1, absolute=0.01), Allowed(relative_ratio=0.03, absolute=0.5))
    """
    default = default_for(reading)
    pattern = max((p for p in own if fnmatchcase(reading, p)), key=len, default=None)
    if pattern is None:
        return default
    tolerance = own[pattern]
    return Allowed(
        default.relative_ratio if tolerance.relative_ratio is None else tolerance.relative_ratio,
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
