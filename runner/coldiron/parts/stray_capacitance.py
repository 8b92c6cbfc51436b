"""Stray capacitance: what nobody fitted, of tracks, leads and windings."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, ClassVar

from pydantic import Field

from coldiron.lamp.model import Part as PartValues
from coldiron.parts.film_capacitor import FilmCapacitor
from coldiron.parts.part import Duty, FailureMode, Rating
from coldiron.quantities import FARAD, Farad


class StrayValues(PartValues):
    """Capacitance of tracks and leads."""

    capacitance_f: Annotated[Farad, Field(ge=1e-14, le=1e-6)]


class StrayCapacitance(FilmCapacitor):
    """Capacitance that nobody fitted: tracks, leads, windings."""

    values: StrayValues  # type: ignore[assignment]
    kind: ClassVar[str] = "stray capacitance"
    placeable: ClassVar[bool] = False
    model: ClassVar[type[PartValues]] = StrayValues
    hidden: ClassVar[bool] = True

    def ratings(self, duty: Duty) -> Iterator[Rating]:
        """None."""
        yield from ()

    @property
    def voltage_rating_v(self) -> None:  # type: ignore[override]
        """None."""
        return None

    def text(self) -> tuple[str, ...]:
        """Its capacitance."""
        return (FARAD.format(self.stored_f),)


class DrainCapacitor(StrayCapacitance):
    """The small capacitor that a board has from drain to minus; drawn, but too small to be judged or read."""

    kind: ClassVar[str] = "drain capacitor"

    def failures(self) -> Iterator[FailureMode]:
        """A short; without it a lamp is a little less steady, which no fault is."""
        yield self.broken("short")

    @property
    def shown(self) -> bool:
        """It was fitted, so a drawing has it."""
        return True
