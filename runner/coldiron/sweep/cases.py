"""The cases of a study, in the order of its tables, and the tasks they travel in."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from coldiron.benches.base import Case, Exposure
from coldiron.study.model import Study


def study_cases(study: Study) -> Iterator[Case]:
    """Every case of a study: variant by variant, supply by supply, bench by bench."""
    conditions = study.conditions
    for variant in study.variants:
        level_v = study.surge_level_v(variant.lamp)
        for supply in study.supplies(variant.lamp):
            exposure = Exposure(
                voltage_v=supply.voltage_v,
                frequency_hz=supply.frequency_hz,
                ambient_c=conditions.ambient_c,
                surge_level_v=level_v,
                surge_angles_deg=tuple(conditions.surge_angle_deg),
                surge_polarities=tuple(conditions.surge_polarity),
            )
            for bench in study.benches:
                yield Case(study.name, variant.name, variant.lamp, bench, exposure)


def tasks(cases: Sequence[Case]) -> list[tuple[Case, ...]]:
    """Group neighbouring cases of one variant and supply: they share settled runs and travel together."""
    grouped: list[list[Case]] = []
    for case in cases:
        last = grouped[-1][-1] if grouped else None
        if last and last.variant == case.variant and last.exposure == case.exposure:
            grouped[-1].append(case)
        else:
            grouped.append([case])
    return [tuple(group) for group in grouped]
