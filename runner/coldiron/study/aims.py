"""What a person wants of a study: named aims, the most wanted first, and bounds of their own."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Annotated, Any, Final

from pydantic import AfterValidator, BeforeValidator, Field

from coldiron.lamp.model import Closed
from coldiron.quantities import NotUnderstood
from coldiron.readings.catalogue import CATALOGUE
from coldiron.study.conditions import once_each
from coldiron.wording import one_nearest, one_of

KNOWN_AIMS: Final = (
    "steady light",
    "cool sinks",
    "soft switch-on",
    "survives the surge",
    "little mains distortion",
    "long life",
    "more light",
    "less light and cooler",
)
"""Aims a study may name; `coldiron.answer.aims` says by which reading each is measured."""

_AS_FOUND = "as found"
_WAYS = {"at most": False, "no more than": False, "at least": True, "no less than": True}
_SENTENCE = re.compile(rf"(?P<reading>\S+) +(?P<way>{'|'.join(_WAYS)}) +(?P<most>.+)")
_NUMBER = re.compile(r"(?P<number>[-+]?\d+(\.\d+)?([eE][-+]?\d+)?)")
_NUMBER_AND_MORE = re.compile(rf"{_NUMBER.pattern}\s*\D+")
_EXPECTED = (
    'a reading and its bound, such as "flicker_pct at most 8", "power_factor at least 0.9" or '
    '"sinks_W no more than as found"'
)


@dataclass(frozen=True)
class Bound:
    """A reading that a person wants kept within a number of their own.

    `value` is in the unit of the reading, None for what the lamp as found has; `least` marks a bound from
    below.
    """

    reading: str
    value: float | None
    least: bool = False

    @classmethod
    def read(cls, written: object) -> Bound:
        """Read "flicker_pct at most 8" or "sinks_W no more than as found".

        Raises
        ------
        NotUnderstood
            If it is neither; the nearest spelling where one can be guessed.

        Examples
        --------
        >>> Bound.read("flicker_pct at most 8")
        Bound(reading='flicker_pct', value=8.0, least=False)
        >>> str(Bound.read("light_pct no less than as found"))
        'light_pct at least as found'
        """
        if isinstance(written, Bound):
            return written
        text = " ".join(written.split()) if isinstance(written, str) else ""
        match = _SENTENCE.fullmatch(text)
        if match is None:
            raise NotUnderstood(_EXPECTED)
        reading, least, most = match["reading"], _WAYS[match["way"]], match["most"]
        if reading not in CATALOGUE or CATALOGUE[reading].is_word:
            nearest = one_nearest(reading, (name for name, kind in CATALOGUE.items() if not kind.is_word))
            raise NotUnderstood(
                "a reading of a bench that is a number", nearest and text.replace(reading, nearest)
            )
        if most == _AS_FOUND:
            return cls(reading, None, least)
        if not _NUMBER.fullmatch(most) or not abs(float(most)) < 1e12:
            plain = most.replace(",", ".")
            longer = _NUMBER.fullmatch(plain) or _NUMBER_AND_MORE.fullmatch(plain)
            nearest = f"{reading} {match['way']} {longer['number']}" if longer else ""
            raise NotUnderstood(
                'a number without a unit (the reading\'s id carries it), or "as found"', nearest
            )
        return cls(reading, float(most), least)

    def __str__(self) -> str:
        """Say it as a study file may."""
        bound = _AS_FOUND if self.value is None else f"{self.value:g}"
        return f"{self.reading} {'at least' if self.least else 'at most'} {bound}"


def _known_aim(name: Any) -> str:
    if name not in KNOWN_AIMS:
        raise NotUnderstood(one_of(KNOWN_AIMS), one_nearest(name, KNOWN_AIMS))
    return str(name)


class Aims(Closed):
    """The [aim] of a study.

    `want` names aims, the most wanted first; `keep` holds bounds, each as one sentence.
    """

    want: Annotated[
        tuple[Annotated[str, AfterValidator(_known_aim)], ...],
        Field(max_length=20),
        BeforeValidator(once_each),
    ] = ()
    keep: Annotated[
        tuple[Annotated[Bound, BeforeValidator(Bound.read)], ...],
        Field(max_length=50),
        BeforeValidator(once_each),
    ] = ()

    def __bool__(self) -> bool:
        """Whether anything is asked for."""
        return bool(self.want or self.keep)
