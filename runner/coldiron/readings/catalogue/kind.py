"""What is known of a reading besides its value: unit, words, which way is worse, what counts as a change."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final, Literal, NamedTuple

Worse = Literal["up", "down", "none"]
"""Which way a reading is worse: when it is higher, when it is lower, or neither."""


class Unit(NamedTuple):
    """A unit as people write it, and the amount below which no change in it counts.

    Finer than this nobody could measure it on the bench, or the engine's steps show through.
    """

    text: str
    least: float


UNITS: Final = {
    "A": Unit("A", 1e-4),
    "mA": Unit("mA", 1e-3),
    "uA": Unit("µA", 0.1),
    "nF": Unit("nF", 1e-2),
    "Mohm": Unit("MΩ", 1e-2),
    "us": Unit("µs", 1.0),
    "A2s": Unit("A²s", 1e-7),
    "V": Unit("V", 1e-2),
    "W": Unit("W", 1e-3),
    "J": Unit("J", 1e-6),
    "mJ": Unit("mJ", 1e-3),
    "s": Unit("s", 1e-3),
    "ms": Unit("ms", 1e-2),
    "min": Unit("min", 0.0),
    "h": Unit("h", 0.0),
    "deg": Unit("°", 2.0),
    "C": Unit("°C", 1.0),
    "pct": Unit("%", 0.05),
    "K": Unit("K", 1.0),
}
"""Last word of a reading's id to its unit; a reading without one of these is a ratio or a word."""


MARGIN_PCT: Final = 2.0
"""Amount below which no change of a margin counts [%]."""


@dataclass(frozen=True)
class Spoken:
    """How a sentence speaks of a reading.

    `subject` is what changes ("the sinks"); `verb` words a load that it bears ("carry"), empty where it
    rises and falls by itself. A change below `least`, in the reading's unit, is not worth a word. `rank` is
    the place among the readings that are worth one, from 1, the most telling first.
    """

    subject: str
    least: float
    rank: int
    verb: str = ""

    def __bool__(self) -> bool:
        """Whether sentences speak of the reading at all."""
        return self.rank > 0


UNSPOKEN: Final = Spoken("", 0.0, 0)
"""Of a reading that sentences leave to the tables."""


@dataclass(frozen=True)
class Kind:
    """One row of the catalogue of readings.

    Parameters
    ----------
    reading : str
        Id; its last word is the unit.
    what : str
        What it is, in standard words, without unit.
    benches : tuple of str
        BenchModules that give it. What "steady" gives cold, "heat" gives warm under the same id.
    heading : str
        Short words for a column, without unit; `what` where a reading has none of its own.
    worse : {"up", "down", "none"}
        Which way it is worse.
    relative_ratio, absolute : float
        It has moved between two runs of the same study when it differs by more than the larger of this share
        of it and this amount in its unit. Without an amount that of the unit counts.
    spoken : Spoken
        How sentences speak of it; of rank 0 where they do not.
    held_by : str
        For a reading that only says where a worst case was found: the reading that says how bad it is. Two
        angles, or two parts, can be worst by a hair; how bad it is, is held in its place.
    is_word : bool
        Whether its value is a word.
    hangs_on : str
        Key of the lamp that the reading is in proportion to: where it is only assumed, a verdict says so.
    """

    reading: str
    what: str
    benches: tuple[str, ...] = ()
    heading: str = ""
    worse: Worse = "none"
    relative_ratio: float = 0.01
    absolute: float = math.nan
    spoken: Spoken = UNSPOKEN
    held_by: str = ""
    is_word: bool = False
    hangs_on: str = ""

    def __post_init__(self) -> None:
        """Fill what follows from the rest: a heading, and the amount of the unit."""
        if not self.heading:
            object.__setattr__(self, "heading", self.what)
        if math.isnan(self.absolute):
            unit = UNITS.get(self._last_word)
            object.__setattr__(self, "absolute", unit.least if unit else 0.0)

    @property
    def unit(self) -> str:
        """Unit as people write it; empty for a ratio or a word.

        Examples
        --------
        >>> Kind("inrush_i2t_A2s", "I²t").unit, Kind("svm", "stroboscopic visibility").unit
        ('A²s', '')
        """
        unit = UNITS.get(self._last_word)
        return unit.text if unit else ""

    @property
    def _last_word(self) -> str:
        return self.reading.rpartition("_")[2]


def weakest(prefix: str, when: str, benches: tuple[str, ...], relative_ratio: float = 0.01) -> Iterator[Kind]:
    """Rows of the part with the least room to its rating, and of that room."""
    margin = f"{prefix}weakest_margin_pct"
    yield Kind(
        f"{prefix}weakest_part",
        f"part with the least room to its rating, {when}",
        benches,
        "weakest part",
        held_by=margin,
        is_word=True,
    )
    yield Kind(
        margin,
        f"least room of a part to its rating, {when}",
        benches,
        "least room",
        "down",
        relative_ratio,
        MARGIN_PCT,
    )
