"""What a study gave, by variant, conditions and bench: the one object that everything a person sees asks.

Nothing below this room pivots readings anew. The order of everything is that of the study, benches in the
order of `KNOWN_BENCHES`, whatever order cases are handed in.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from coldiron.readings.catalogue import COLD, WARM, kind_of, place_of
from coldiron.study.model import AS_FOUND, KNOWN_BENCHES
from coldiron.sweep.run import FinishedCase

Readings = Mapping[str, float | str]

NOTHING: Readings = {}


LEAST_LIGHT_A = 1e-6
"""Current of a string below which a lamp as found gives no light that another could be compared with [A]."""


@dataclass(frozen=True)
class Hole:
    """A case without readings: it failed, or its bench is not applicable to this lamp or study."""

    variant: str
    bench: str
    conditions: str
    word: Literal["failed", "not applicable"]
    why: str


@dataclass(frozen=True)
class Worst:
    """The worst value of a reading, and where it was read."""

    value: float
    bench: str
    conditions: str


class Results:
    """Finished cases of a study by (variant, bench, conditions), with readings derived from several of them.

    "Warm" is the bench "heat" and "cold" the bench "steady": they give the same ids, which are different
    readings. Where a question leaves the bench open, warm counts in place of cold wherever it was run.

    `light_pct` is derived here, once: light of the lamp as found under the same conditions is 100 %, and that
    one base is the lamp as found warm, where it was run warm and settled, else cold. So the reading of "heat"
    says what a change does to the light, and that of "steady" how much more there is while the lamp is cold.

    Parameters
    ----------
    done : iterable of FinishedCase
        In the order of the study; the variants stand in the order in which they first come.
    """

    def __init__(self, done: Iterable[FinishedCase]) -> None:
        cases = list(done)
        self.variants: tuple[str, ...] = tuple(dict.fromkeys(one.case.variant for one in cases))
        self.conditions: tuple[str, ...] = tuple(dict.fromkeys(one.case.conditions.label for one in cases))
        """Supplies and surroundings, by their labels."""
        ran = {one.case.bench for one in cases}
        self.benches: tuple[str, ...] = tuple(bench for bench in KNOWN_BENCHES if bench in ran)
        given = {_key(one): one for one in cases}
        self._cases: dict[tuple[str, str, str], FinishedCase] = {
            (variant, bench, label): given[variant, bench, label]
            for variant in self.variants
            for label in self.conditions
            for bench in self.benches
            if (variant, bench, label) in given
        }
        self._readings = {key: self._with_derived(one) for key, one in self._cases.items()}

    def __iter__(self) -> Iterator[FinishedCase]:
        """Every case: variant by variant, condition by condition, bench by bench."""
        return iter(self._cases.values())

    def __len__(self) -> int:
        """Return the number of cases."""
        return len(self._cases)

    def __repr__(self) -> str:
        """Say how much there is, in one line."""
        return f"<Results: {self.counts}>"

    @property
    def counts(self) -> str:
        """How much there is, in words.

        Examples
        --------
        >>> Results([]).counts
        '0 variants, 0 conditions, 0 benches, 0 cases, 0 failed'
        """
        amounts = {
            "variant": len(self.variants),
            "condition": len(self.conditions),
            "bench": len(self.benches),
            "case": len(self),
        }
        said = [
            f"{n} {word}{'' if n == 1 else 'es' if word == 'bench' else 's'}" for word, n in amounts.items()
        ]
        return ", ".join([*said, f"{sum(hole.word == 'failed' for hole in self.holes())} failed"])

    @property
    def numbers(self) -> Mapping[str, int]:
        """Number of each variant, by which tables and pictures know it; 0 is the lamp as found."""
        others = [name for name in self.variants if name != AS_FOUND]
        return {AS_FOUND: 0} | {name: number for number, name in enumerate(others, start=1)}

    def case(self, variant: str, bench: str, conditions: str | None = None) -> FinishedCase:
        """Return one case by its names.

        Parameters
        ----------
        variant, bench : str
        conditions : str, optional
            Label such as "253 V 50 Hz"; the first under which the bench was run when absent.

        Raises
        ------
        KeyError
            If there is no such case; says which there are.
        """
        for label in self.conditions if conditions is None else (conditions,):
            one = self._cases.get((variant, bench, label))
            if one is not None:
                return one
        raise self._no_case(variant, bench, conditions)

    def ran(self, variant: str, bench: str, conditions: str) -> bool:
        """Whether a case was run, whatever came of it."""
        return (variant, bench, conditions) in self._cases

    def readings(self, variant: str, bench: str, conditions: str | None = None) -> Readings:
        """Readings of one case by id, derived ones included; none where the case is a hole or was not run."""
        for label in self.conditions if conditions is None else (conditions,):
            found = self._readings.get((variant, bench, label))
            if found is not None:
                return found
        return NOTHING

    def value(
        self, variant: str, reading: str, bench: str | None = None, conditions: str | None = None
    ) -> float:
        """Return one reading as a number.

        Parameters
        ----------
        variant, reading : str
        bench : str, optional
            The warm lamp where it has the reading, else the first bench that has it, when absent.
        conditions : str, optional
            The first that have it when absent.

        Returns
        -------
        float
            nan where there is none, or where it is a word.
        """
        found = self._find(variant, reading, bench, conditions)
        return found if isinstance(found, float) else math.nan

    def word(
        self, variant: str, reading: str, bench: str | None = None, conditions: str | None = None
    ) -> str:
        """Return one reading that is a word, asked for as in `value`; empty where there is none."""
        found = self._find(variant, reading, bench, conditions)
        return found if isinstance(found, str) else ""

    def worst(self, variant: str, reading: str, benches: Sequence[str] | None = None) -> Worst | None:
        """Worst value of a reading over all conditions, in the sense of the catalogue.

        Parameters
        ----------
        variant, reading : str
        benches : sequence of str, optional
            Where to look; all that have the reading when absent. With "heat" and "steady" both among them a
            cold value counts only under conditions in which there is no warm one.

        Returns
        -------
        Worst or None
            The first of equals in the order of the study. A reading that is worse neither way has its
            highest. None where there is no number.
        """
        sign = -1.0 if kind_of(reading).worse == "down" else 1.0
        found = [
            Worst(value, bench, label)
            for label in self.conditions
            for bench, value in self._numbers_under(variant, reading, benches or self.benches, label)
        ]
        return max(found, key=lambda worst: sign * worst.value, default=None)

    def hole(self, variant: str, bench: str, conditions: str | None = None) -> Hole | None:
        """Why a case has no readings; None where it has some.

        Raises
        ------
        KeyError
            If there is no such case.
        """
        return _hole(self.case(variant, bench, conditions))

    def holes(self, variant: str | None = None) -> list[Hole]:
        """Cases without readings, of one variant or of all, in the order of the study."""
        of = (one for one in self if variant in (None, one.case.variant))
        return [hole for hole in map(_hole, of) if hole]

    def _numbers_under(
        self, variant: str, reading: str, benches: Sequence[str], label: str
    ) -> list[tuple[str, float]]:
        """Numbers of a reading under one set of conditions, those of the cold lamp only if none is warm."""
        found = {}
        for bench in benches:
            value = self.readings(variant, bench, label).get(reading)
            if isinstance(value, float) and not math.isnan(value):
                found[bench] = value
        if WARM in found:
            found.pop(COLD, None)
        return list(found.items())

    def _find(
        self, variant: str, reading: str, bench: str | None, conditions: str | None
    ) -> float | str | None:
        others = [name for name in self.benches if name != WARM]
        for label in self.conditions if conditions is None else (conditions,):
            for name in [WARM, *others] if bench is None else [bench]:
                found = self.readings(variant, name, label).get(reading)
                if found is not None:
                    return found
        return None

    def _with_derived(self, one: FinishedCase) -> Readings:
        """Readings of a case in the order of the catalogue, and what only follows with those of others."""
        readings = dict(one.result.readings)
        light_a = readings.get("light_A")
        base_a = self._light_base_a(one.case.conditions.label, one.case.conditions.supply)
        if isinstance(light_a, float) and base_a > LEAST_LIGHT_A:
            readings["light_pct"] = 100.0 * (light_a / base_a)
        return {reading: readings[reading] for reading in sorted(readings, key=place_of)}

    def _light_base_a(self, label: str, supply: str) -> float:
        """Light of the lamp as found that is 100 % under some conditions; 0 where it has none."""
        for bench, where in ((WARM, label), (COLD, label), (COLD, supply)):
            one = self._cases.get((AS_FOUND, bench, where))
            light_a = one.result.readings.get("light_A") if one else None
            if isinstance(light_a, float) and light_a > 0.0:
                return light_a
        return 0.0

    def _no_case(self, variant: str, bench: str, conditions: str | None) -> KeyError:
        where = f" at {conditions!r}" if conditions else ""
        return KeyError(
            f"no case {variant!r} on {bench!r}{where}; variants: {', '.join(self.variants)}; "
            f"benches: {', '.join(self.benches)}; conditions: {', '.join(self.conditions)}"
        )


def _key(one: FinishedCase) -> tuple[str, str, str]:
    return one.case.variant, one.case.bench, one.case.conditions.label


def _hole(one: FinishedCase) -> Hole | None:
    if one.result.failure:
        return Hole(*_key(one), "failed", one.result.failure.why)
    if one.result.not_applicable:
        return Hole(*_key(one), "not applicable", one.result.not_applicable)
    return None
