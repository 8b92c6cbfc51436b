"""Records for tests of regress: two invented variants on two benches, and what can be changed in them."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from coldiron.limits.verdict import Group, Verdict, Word
from coldiron.regress.compare import compare
from coldiron.regress.limits import bounds_of
from coldiron.regress.moves import Comparison
from coldiron.regress.reference import CaseName, ReferenceTable, Value
from coldiron.study.tolerance import Tolerance

AS_FOUND = "as found"
BIGGER = "22 µF"
SUPPLY = "230 V 50 Hz"
STEADY = CaseName(AS_FOUND, "steady", SUPPLY)
SURGE = CaseName(AS_FOUND, "surge", SUPPLY)
BIGGER_STEADY = CaseName(BIGGER, "steady", SUPPLY)

FOUND_INPUTS: dict[str, Value] = {
    "bridge.forward_voltage_v": 1.0,
    "conditions.surge_level_v": 500.0,
    "neutral_fusing": "none",
    "reservoir.capacitance_f": 1e-5,
    "varistor.ac_rating_v": 275.0,
    "varistor.energy_j": 20.0,
}

RECORD = ReferenceTable(
    study="corridor",
    inputs={AS_FOUND: FOUND_INPUTS, BIGGER: {**FOUND_INPUTS, "reservoir.capacitance_f": 2.2e-5}},
    templates={"parts/led_string.cir.j2": "11111111", "sources/surge_generator.cir.j2": "22222222"},
    versions={"coldiron": "0.1.0", "code": "abcd", "engine": "ngspice-39", "engine library": "aa"},
    readings={
        STEADY: {"input_power_W": 9.37, "flicker_pct": 99.0, "weakest_part": "bridge, surge current"},
        SURGE: {
            "surge_bus_peak_V": 700.0,
            "surge_sink_peak_A": 0.4,
            "surge_worst_deg": 90.0,
            "weakest_margin_pct": -20.0,
            "weakest_part": "string, pulse current",
        },
        BIGGER_STEADY: {"input_power_W": 21.4, "flicker_pct": 0.059, "discharge_34V_s": float("inf")},
    },
    over={STEADY: {"ieee-1789.low-risk flicker_pct": 8.0}},
    kept={SURGE: {"rating.bridge.reverse_voltage_v surge_bus_peak_V": 1000.0}},
    rules={"ieee-1789.low-risk": "aaaaaaaa", "iec-61000-3-2.h3": "bbbbbbbb"},
)


def with_reading(record: ReferenceTable, case: CaseName, reading: str, value: Value) -> ReferenceTable:
    """The record with one reading of one case set."""
    return with_case(record, case, {**record.readings[case], reading: value})


def with_case(record: ReferenceTable, case: CaseName, readings: Mapping[str, Value]) -> ReferenceTable:
    """The record with all readings of one case replaced."""
    return replace(record, readings={**record.readings, case: dict(readings)})


def without_variant(record: ReferenceTable, variant: str) -> ReferenceTable:
    """The record of the study from which a variant was taken out."""
    return replace(
        record,
        inputs={name: values for name, values in record.inputs.items() if name != variant},
        readings={case: values for case, values in record.readings.items() if case.variant != variant},
    )


def with_input(record: ReferenceTable, key: str, value: Value | None) -> ReferenceTable:
    """The record of the study whose lamp has another value; None takes the value out."""

    def changed(values: Mapping[str, Value]) -> dict[str, Value]:
        kept = {name: each for name, each in values.items() if name != key}
        return kept if value is None else {**kept, key: value}

    return replace(record, inputs={name: changed(values) for name, values in record.inputs.items()})


def held(
    now: ReferenceTable,
    was: ReferenceTable = RECORD,
    own: Mapping[str, Tolerance] | None = None,
    failures: Mapping[CaseName, str] | None = None,
    verdicts: tuple[Verdict, ...] = (),
    *,
    strict: bool = False,
) -> Comparison:
    """A record held against another, with everything else as it is by default."""
    return compare(was, now, own or {}, failures or {}, verdicts, strict=strict)


def held_to(record: ReferenceTable, *verdicts: Verdict) -> ReferenceTable:
    """The record of a study that is held to the limits of these verdicts, and to no others."""
    return replace(record, over=bounds_of(verdicts, over=True), kept=bounds_of(verdicts, over=False))


def verdict(
    case: CaseName,
    reading: str,
    value: float,
    limit: float,
    word: Word = "over",
    limit_id: str = "ieee-1789.low-risk",
) -> Verdict:
    """A verdict on a reading of a case."""
    group: Group = "rating" if limit_id.startswith("rating.") else "practice"
    what = {"surge_bus_peak_V": "bridge, reverse voltage", "flicker_pct": "flicker (low risk)"}
    return Verdict(
        *case,
        reading,
        value,
        limit,
        word,
        limit_id,
        group,
        "IEEE 1789",
        "8.1.1",
        "from memory",
        "",
        what=what.get(reading, reading),
    )
