"""Benches in closed form, to hold what is made of many runs to what can be known of them without any."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from coldiron.benches.base import Case
from coldiron.spread.values import value_of
from coldiron.sweep.case_result import CaseResult, Failure
from coldiron.sweep.run import FinishedCase

Formula = Callable[[Callable[[str], float], Case], Mapping[str, float] | None]
"""Values of a lamp by dotted key, and its case, to readings; None for a case that fails."""


def toy(formula: Formula, count: list[int] | None = None) -> Callable[[Sequence[Case]], list[FinishedCase]]:
    """Whatever runs cases, with a formula in place of an engine; `count` gains the cases that were run."""

    def run(cases: Sequence[Case]) -> list[FinishedCase]:
        if count is not None:
            count.append(len(cases))
        return [FinishedCase(case, _result(formula, case)) for case in cases]

    return run


def _result(formula: Formula, case: Case) -> CaseResult:
    def number(key: str) -> float:
        value = value_of(case.lamp, key)
        assert value is not None
        return value.number

    readings = formula(number, case)
    if readings is None:
        return CaseResult({}, {}, Failure("the toy breaks"))
    return CaseResult(dict(readings), {})
