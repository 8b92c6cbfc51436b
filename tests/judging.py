"""Studies and finished cases made by hand, for tests of verdicts and tables: no engine runs."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from coldiron.benches.base import Case, TestConditions
from coldiron.lamp.topologies.linear_sinks import LinearSinksLamp as Lamp
from coldiron.limits import Verdict, judge
from coldiron.study.conditions import Conditions, MainsCondition
from coldiron.study.holding import Holding
from coldiron.study.model import AS_FOUND, Study, Variant
from coldiron.sweep.case_result import CaseResult
from coldiron.sweep.run import FinishedCase
from lamps import plain_lamp


def study_of(lamp: Lamp, mains: Sequence[str] = ("nominal",), **limits: Any) -> Study:
    """A study of one lamp on some mains with its own [limits]."""
    return Study(
        name="by hand",
        lamp=lamp,
        variants=(Variant(name=AS_FOUND, changes=(), lamp=lamp),),
        benches=("steady",),
        conditions=Conditions(mains=tuple(MainsCondition.read(text) for text in mains)),
        limits=Holding.model_validate(limits),
    )


def done_of(
    readings: Mapping[str, float | str],
    *,
    lamp: Lamp | None = None,
    bench: str = "steady",
    variant: str = AS_FOUND,
    voltage_v: float | None = None,
    frequency_hz: float | None = None,
) -> FinishedCase:
    """A finished case with these readings, on the lamp's own supply unless told."""
    lamp = lamp or plain_lamp()
    conditions = TestConditions(voltage_v or lamp.mains.voltage_v, frequency_hz or lamp.mains.frequency_hz)
    return FinishedCase(Case("by hand", variant, lamp, bench, conditions), CaseResult(dict(readings), {}))


def judged(
    readings: Mapping[str, float | str],
    *,
    limits: Mapping[str, Any] | None = None,
    lamp: Lamp | None = None,
    mains: Sequence[str] = ("nominal",),
    **case: Any,
) -> list[Verdict]:
    """Verdicts on one case of a study on some mains."""
    lamp = lamp or plain_lamp()
    return judge(study_of(lamp, mains, **(limits or {})), [done_of(readings, lamp=lamp, **case)])


def current(
    power_w: float, power_factor: float, harmonics_pct: Mapping[int, float], **more: float
) -> dict[str, float]:
    """Readings of an input current: harmonics that are not given are zero."""
    fundamental_a = power_w / 230.0
    readings = {f"harmonic_{order}_pct": 0.0 for order in range(2, 40)}
    readings |= {f"harmonic_{order}_pct": value for order, value in harmonics_pct.items()}
    return {
        **readings,
        "input_power_W": power_w,
        "power_factor": power_factor,
        "fundamental_current_A": fundamental_a,
        "input_current_A": fundamental_a / power_factor,
        "current_thd_pct": sum(value**2 for value in harmonics_pct.values()) ** 0.5,
        "conduction_start_deg": 40.0,
        "conduction_peak_deg": 60.0,
        "conduction_stop_deg": 130.0,
        **more,
    }
