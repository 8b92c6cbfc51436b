"""What a study gave, and its complete file: one line a reading, for the program to read.

The file is TOML: six significant digits, everything sorted. The line that opens a case begins with a letter,
so that a diff shows above each piece which case it belongs to. What a person reviews is written by
`coldiron.regress.head`.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

from coldiron.study.model import AS_FOUND

FORMAT = 2
GONE = "gone"
"""Stands for an input that the lamp as found has, and a variant has not."""

Value = float | str


class CaseName(NamedTuple):
    """Which case: a variant on a bench under conditions."""

    variant: str
    bench: str
    conditions: str


Bounds = Mapping[CaseName, Mapping[str, float]]
"""Limits that held a case, by key (`coldiron.regress.limits.limit_key`), in the unit of their reading."""


@dataclass(frozen=True)
class ReferenceTable:
    """What a study gave, and from what.

    `inputs` are the values of each variant's lamp and conditions by dotted key; `templates` the hashes of the
    deck templates, `rules` those of the limits by their id; `versions` those of what computed. `readings`
    come by case, and so do the limits that each case was held to: `over` those it exceeds, `kept` those it
    keeps.
    A harmonic that is zero is left out.
    """

    study: str
    inputs: Mapping[str, Mapping[str, Value]]
    templates: Mapping[str, str]
    versions: Mapping[str, str]
    readings: Mapping[CaseName, Mapping[str, Value]]
    over: Bounds = field(default_factory=dict)
    kept: Bounds = field(default_factory=dict)
    rules: Mapping[str, str] = field(default_factory=dict)

    @property
    def count(self) -> int:
        """Number of readings."""
        return sum(len(values) for values in self.readings.values())


def rounded(value: Value, amount: float = 0.0) -> Value:
    """A value as the file holds it: six significant digits, no negative zero.

    Where no move below an amount counts, digits finer than a hundredth of it are left out: they are noise.

    >>> rounded(0.123456789), rounded(-0.0), rounded(float("inf")), rounded("bridge, surge current")
    (0.123457, 0.0, inf, 'bridge, surge current')
    >>> rounded(2.3e-5, amount=0.05), rounded(39.57283, amount=0.05)
    (0.0, 39.5728)
    """
    if isinstance(value, str):
        return value
    if amount > 0.0 and math.isfinite(value):
        value = round(value, 2 - math.floor(math.log10(amount)))
    return float(f"{value:.6g}") + 0.0


def may_be_zero(reading: str) -> bool:
    """Whether a reading that is missing beside its like is zero: that of a harmonic.

    >>> may_be_zero("harmonic_20_pct"), may_be_zero("current_thd_pct")
    (True, False)
    """
    return reading.startswith("harmonic_")


def with_zeros(values: Mapping[str, Value], others: Mapping[str, Value]) -> dict[str, Value]:
    """Readings of a case with the harmonics that are zero, as far as the case has any and others have them.

    >>> with_zeros({"harmonic_3_pct": 40.0}, {"harmonic_5_pct": 9.0, "svm": 1.0})
    {'harmonic_3_pct': 40.0, 'harmonic_5_pct': 0.0}
    """
    has_some = any(map(may_be_zero, values))
    return {
        **values,
        **{name: 0.0 for name in others if has_some and may_be_zero(name) and name not in values},
    }


def written(record: ReferenceTable) -> str:
    """Text of the complete file; the same record gives the same text."""
    found = record.inputs[AS_FOUND]
    lines = [
        "# All that a study gave, written by coldiron regress, which compares with it. What a review needs",
        "# stands in the file without .all in its name.",
        f"format = {FORMAT}",
        f"study = {quoted(record.study)}",
        f"readings = {record.count}",
        "",
        *_block("versions", record.versions.items()),
        *_block("templates", record.templates.items()),
        *_block("rules", record.rules.items()),
        f'# What each variant is made of: "{AS_FOUND}" in full, of the others what differs from it.',
        *_block(f"input.{quoted(AS_FOUND)}", found.items()),
    ]
    for variant in sorted(record.inputs.keys() - {AS_FOUND}):
        lines += _block(f"input.{quoted(variant)}", _differing(record.inputs[variant], found))
    lines.append("# The readings of each case.")
    for case in sorted(record.readings):
        lines += _block(_key("case", case), record.readings[case].items())
    for name, said, bounds in (
        ("over", "exceeds", record.over),
        ("kept", "keeps", record.kept),
    ):
        lines.append(f"# The limits that each case {said}, in the unit of the reading.")
        for case in sorted(case for case, limits in bounds.items() if limits):
            lines += _block(_key(name, case), bounds[case].items())
    return "\n".join(lines).rstrip("\n") + "\n"


def _differing(values: Mapping[str, Value], found: Mapping[str, Value]) -> Iterator[tuple[str, Value]]:
    """Entries of a variant that are not as found."""
    yield from ((key, value) for key, value in values.items() if found.get(key) != value)
    yield from ((key, GONE) for key in found.keys() - values.keys())


def completed(own: Mapping[str, Value], found: Mapping[str, Value]) -> dict[str, Value]:
    """All inputs of a variant, from those that differ from the lamp as found.

    >>> completed({"varistor": "none", "varistor.ac_rating_v": "gone"}, {"varistor.ac_rating_v": 300.0})
    {'varistor': 'none'}
    """
    return {key: value for key, value in {**found, **own}.items() if value != GONE}


def _key(first: str, case: CaseName) -> str:
    return f"{first}.{quoted(case.variant)}.{case.bench}.{quoted(case.conditions)}"


def _block(key: str, entries: Iterable[tuple[str, Value]]) -> list[str]:
    rows = (f"    [{quoted(name)}, {_value(value)}]," for name, value in sorted(entries))
    return [f"{key} = [", *rows, "]", ""]


def quoted(text: str) -> str:
    """Text as TOML quotes it; every escape that JSON writes is one of TOML's too."""
    return json.dumps(text, ensure_ascii=False)


def _value(value: Value) -> str:
    return quoted(value) if isinstance(value, str) else f"{value:.9g}"
