"""The harmonic limits that a case is held to, order by order, for the picture beside the verdicts."""

from __future__ import annotations

from collections.abc import Mapping

from coldiron.limits.judge import in_unit_of_reading
from coldiron.limits.rules import limits_of
from coldiron.limits.scope import Circumstances, out_of_scope
from coldiron.study.model import Study
from coldiron.sweep.run import FinishedCase


def harmonic_limits_pct(study: Study, one: FinishedCase) -> Mapping[str, Mapping[int, float]]:
    """Limits of a case's harmonics that apply.

    Returns
    -------
    mapping
        By the name of the limit ("limit", or "alternative 2" where one of several is enough), then by the
        order of the harmonic [% of the fundamental]; empty where none applies.
    """
    at = Circumstances.of(one.case, one.result.readings)
    found: dict[str, dict[int, float]] = {}
    for limit in limits_of(study):
        wanted = limit.reading.startswith("harmonic_") and limit.bench == one.case.bench
        if wanted and out_of_scope(at, limit) is None:
            number = limit.row.alternative
            name = "limit" if number is None else f"alternative {number}"
            order = int(limit.reading.split("_")[1])
            found.setdefault(name, {})[order] = in_unit_of_reading(at, limit)
    return found
