"""The [advise] of a study: which parts may be bought for a lamp, what has room in it, and what is weighed."""

from __future__ import annotations

from fnmatch import fnmatchcase
from typing import Annotated, Final, Literal

from pydantic import AfterValidator, BeforeValidator, Field

from coldiron.lamp.model import Closed
from coldiron.quantities import Farad, Hour, Metre, NotUnderstood, Ohm, Volt, Watt
from coldiron.readings.catalogue import CATALOGUE, kind_of
from coldiron.study.conditions import once_each
from coldiron.wording import one_nearest

COST: Final = "cost"
"""The aim that no bench reads: what the parts cost together, in units of the catalogue."""
MOST_AIMS: Final = 3
"""Three aims make a set that a person can read; with five nearly every candidate is beaten by none."""


def _aim(name: str) -> str:
    if name == COST:
        return name
    if name not in CATALOGUE or CATALOGUE[name].is_word or kind_of(name).worse == "none":
        known = (COST, *(n for n, kind in CATALOGUE.items() if not kind.is_word and kind.worse != "none"))
        raise NotUnderstood(
            'cost, or a reading that is better one way, such as "flicker_pct"', one_nearest(name, known)
        )
    return name


def _pattern(text: str) -> str:
    if not text.isprintable() or not any(fnmatchcase(c, "[a-z]") for c in text):
        raise NotUnderstood('the id of a limit, such as "ieee-1789.no-effect" or "iec-61000-3-2.*"')
    return text


class ReservoirChoice(Closed):
    """Electrolytics that may be the reservoir; what is left out takes all of the catalogue."""

    least_f: Annotated[Farad, Field(ge=1e-7, le=1e-2)] | None = None
    most_f: Annotated[Farad, Field(ge=1e-7, le=1e-2)] | None = None
    voltage_v: Annotated[tuple[Annotated[Volt, Field(ge=50, le=1000)], ...], BeforeValidator(once_each)] = ()
    life_h: Annotated[tuple[Annotated[Hour, Field(ge=100, le=1e6)], ...], BeforeValidator(once_each)] = ()


class ResistorChoice(Closed):
    """Resistors that may take a place: from the least to the most of a series, in some ratings."""

    least_ohm: Annotated[Ohm, Field(ge=0.1, le=1e7)] | None = None
    most_ohm: Annotated[Ohm, Field(ge=0.1, le=1e7)] | None = None
    series: Literal["E6", "E12", "E24"] | None = None
    power_w: Annotated[tuple[Annotated[Watt, Field(ge=0.05, le=50)], ...], BeforeValidator(once_each)] = ()


class VaristorChoice(Closed):
    """Discs that may be the varistor, by their a.c. rating and diameter."""

    ac_rating_v: Annotated[
        tuple[Annotated[Volt, Field(ge=10, le=1000)], ...], BeforeValidator(once_each)
    ] = ()
    disc_m: Annotated[tuple[Annotated[Metre, Field(ge=2e-3, le=0.1)], ...], BeforeValidator(once_each)] = ()


class ThermistorChoice(Closed):
    """Discs against inrush that may be put in series behind a part of the rail."""

    disc_m: Annotated[tuple[Annotated[Metre, Field(ge=2e-3, le=0.1)], ...], BeforeValidator(once_each)] = ()
    after: Annotated[str, Field(min_length=1, max_length=40)] = "line_fusing"


class Advise(Closed):
    """What `coldiron advise` may choose, a table for each part; the lamp's own part always may stay.

    `free_height_m` and `free_diameter_m` are the room that the lamp has for a part that stands on its board.
    `aims` are what the set is weighed by, at most three: "cost" and ids of readings. `set_aside` names limits
    that a candidate need not keep, by their ids; the answer says so.
    """

    free_height_m: Annotated[Metre, Field(ge=2e-3, le=0.5)] | None = None
    free_diameter_m: Annotated[Metre, Field(ge=2e-3, le=0.5)] | None = None
    aims: Annotated[
        tuple[Annotated[str, AfterValidator(_aim)], ...],
        Field(max_length=MOST_AIMS),
        BeforeValidator(once_each),
    ] = ()
    set_aside: Annotated[
        tuple[Annotated[str, AfterValidator(_pattern)], ...],
        Field(max_length=50),
        BeforeValidator(once_each),
    ] = ()
    reservoir: ReservoirChoice | None = None
    line_fusing: ResistorChoice | None = None
    neutral_fusing: ResistorChoice | None = None
    sense_resistor: ResistorChoice | None = None
    bleed: ResistorChoice | None = None
    varistor: VaristorChoice | None = None
    thermistor: ThermistorChoice | None = None

    @property
    def names_parts(self) -> bool:
        """Whether it says which parts may be chosen."""
        return any(
            (
                self.reservoir,
                self.line_fusing,
                self.neutral_fusing,
                self.sense_resistor,
                self.bleed,
                self.varistor,
                self.thermistor,
            )
        )

    def sets_aside(self, limit_id: str) -> bool:
        """Whether a limit need not be kept.

        Examples
        --------
        >>> Advise(set_aside=("iec-61000-3-2.*",)).sets_aside("iec-61000-3-2.h3")
        True
        """
        return any(fnmatchcase(limit_id, pattern) for pattern in self.set_aside)
