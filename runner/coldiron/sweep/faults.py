"""Faults of lamps as cases: of each variant on each supply the healthy lamp, and the lamp with each fault."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from coldiron.benches.base import Case, TestConditions
from coldiron.faults import Fault, UnknownFault, faults_named
from coldiron.study.model import Study
from coldiron.sweep.run import FinishedCase

BENCH = "fault"
HEALTHY = "healthy"


@dataclass(frozen=True)
class FaultCase:
    """One fault of one variant on one supply; without a fault the healthy lamp that it is held against."""

    variant: str
    fault: Fault | None
    case: Case


def number_of(readings: Mapping[str, float | str], reading: str) -> float:
    """A reading as a number, 0 where it is none."""
    value = readings.get(reading, 0.0)
    return 0.0 if isinstance(value, str) else float(value)


@dataclass(frozen=True)
class Followed:
    """A fault that was followed to its end, and the same lamp healthy on the same mains.

    `done` is without readings where the case gave no answer.
    """

    variant: str
    fault: Fault
    done: FinishedCase
    healthy: FinishedCase

    @property
    def readings(self) -> Mapping[str, float | str]:
        """Readings of the lamp that is left."""
        return self.done.result.readings

    @property
    def was(self) -> Mapping[str, float | str]:
        """Readings of the healthy lamp."""
        return self.healthy.result.readings

    @property
    def supply(self) -> str:
        """Supply as a person writes it."""
        return self.done.case.conditions.supply

    def number(self, reading: str) -> float:
        """A reading, 0 where it was not taken."""
        return number_of(self.readings, reading)

    def word(self, reading: str) -> str:
        """A reading in words, empty where it was not taken."""
        return str(self.readings.get(reading, ""))


def fault_cases(study: Study, names: Sequence[str]) -> list[FaultCase]:
    """Cases of the faults of a study, by their names; a variant without the part is without the fault.

    Raises
    ------
    UnknownFault
        For a fault that the lamp as found cannot have, and no variant either.
    """
    return list(_fault_cases(study, names))


def _fault_cases(study: Study, names: Sequence[str]) -> Iterator[FaultCase]:
    known: set[str] = set()
    refused: dict[str, UnknownFault] = {}
    for variant in study.variants:
        faults: list[Fault] = []
        for name in names:
            try:
                faults += faults_named(variant.lamp, [name])
                known.add(name)
            except UnknownFault as unknown:
                refused.setdefault(name, unknown)
        for supply in study.supplies(variant.lamp):
            conditions = TestConditions(
                supply.voltage_v, supply.frequency_hz, ambient_c=study.conditions.ambient_c
            )
            for fault in (None, *dict.fromkeys(faults)):
                lamp = variant.lamp if fault is None else fault.applied(variant.lamp)
                label = f"{variant.name}, {HEALTHY if fault is None else fault.name}"
                yield FaultCase(variant.name, fault, Case(study.name, label, lamp, BENCH, conditions))
    for name, why in refused.items():
        if name not in known:
            raise why


def followed(cases: Sequence[FaultCase], done: Sequence[FinishedCase]) -> list[Followed]:
    """Faults with what became of them, each beside its healthy lamp, in the order of the cases."""
    found: list[Followed] = []
    healthy: FinishedCase | None = None
    for asked, finished in zip(cases, done, strict=True):
        if asked.fault is None:
            healthy = finished
        elif healthy is not None:
            found.append(Followed(asked.variant, asked.fault, finished, healthy))
    return found
