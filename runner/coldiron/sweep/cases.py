"""The cases of a study, in the order of its tables, and the tasks they travel in."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import replace

from coldiron.benches.base import Case, TestConditions
from coldiron.study.model import Study
from coldiron.study.surroundings import OPEN_AIR

SURROUNDED = ("heat",)
"""Benches that the surroundings of a lamp matter to; the others are run once for each supply."""


ROOMS_C = tuple(float(c) for c in range(-10, 61, 10))
"""Rooms of a variant that is looked at alone, where the study names none [°C]."""


def study_cases(study: Study, alone: Collection[str] = ()) -> Iterator[Case]:
    """Every case of a study: variant by variant, supply by supply, bench by bench.

    Where a study has several surroundings, the first stand among the benches, the others follow. A sweep
    of rooms costs more than the balance itself: it is run where the study names rooms, and for the variants
    that are looked at `alone`.
    """
    conditions = study.conditions
    for variant in study.variants:
        level_v = study.surge_level_v(variant.lamp)
        for supply in study.supplies(variant.lamp):
            exposure = TestConditions(
                voltage_v=supply.voltage_v,
                frequency_hz=supply.frequency_hz,
                ambient_c=conditions.ambient_c,
                surge_level_v=level_v,
                surge_angles_deg=tuple(conditions.surge_angle_deg),
                surge_polarities=tuple(conditions.surge_polarity),
                burst=conditions.burst,
                dip=conditions.dip,
                sag=conditions.sag,
                leakage=conditions.leakage,
            )
            rooms_c = tuple(sorted(conditions.rooms_c or (ROOMS_C if variant.name in alone else ())))
            warm = replace(exposure, rooms_c=rooms_c)
            around = [
                warm
                if place == OPEN_AIR
                else replace(
                    warm,
                    surroundings=place.label,
                    ambient_c=conditions.ambient_c if place.ambient_c is None else place.ambient_c,
                    fitting_k_per_w=place.fitting_k_per_w(variant.lamp),
                )
                for place in conditions.surroundings
            ]
            for bench in study.benches:
                at = around[0] if bench in SURROUNDED else exposure
                yield Case(study.name, variant.name, variant.lamp, bench, at)
            for at in around[1:]:
                for bench in study.benches:
                    if bench in SURROUNDED:
                        yield Case(study.name, variant.name, variant.lamp, bench, at)


def tasks(cases: Sequence[Case]) -> list[tuple[Case, ...]]:
    """Group neighbouring cases of one variant and supply: they share settled runs and travel together."""
    grouped: list[list[Case]] = []
    for case in cases:
        last = grouped[-1][-1] if grouped else None
        if last and last.variant == case.variant and last.conditions == case.conditions:
            grouped[-1].append(case)
        else:
            grouped.append([case])
    return [tuple(group) for group in grouped]
