"""What a study gave, as a small file that version control shows well.

The file is TOML: one line a reading, six significant digits, everything sorted. The line that opens a case
begins with a letter, so that a diff shows above each piece which case it belongs to.
"""

from __future__ import annotations

import json
import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

from coldiron.study.model import AS_FOUND

FORMAT = 1
GONE = "gone"
"""Stands for an input that the lamp as found has, and a variant has not."""

Value = float | str


class CaseName(NamedTuple):
    """Which case: a variant on a bench under conditions."""

    variant: str
    bench: str
    conditions: str


@dataclass(frozen=True)
class ReferenceTable:
    """What a study gave, and from what.

    `inputs` are the values of each variant's lamp and conditions by dotted key; `templates` the hashes of the
    deck templates; `versions` those of what computed; `readings` come by case, and so does `over`: the limits
    that are exceeded.
    """

    study: str
    inputs: Mapping[str, Mapping[str, Value]]
    templates: Mapping[str, str]
    versions: Mapping[str, str]
    readings: Mapping[CaseName, Mapping[str, Value]]
    over: Mapping[CaseName, frozenset[str]] = field(default_factory=dict)

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


def written(record: ReferenceTable) -> str:
    """Text of a reference file; the same record gives the same text."""
    found = record.inputs[AS_FOUND]
    lines = [
        "# What a study gave, for later runs to be held against: coldiron regress. Not written by hand.",
        f"format = {FORMAT}",
        f"study = {_text(record.study)}",
        f"readings = {record.count}",
        "",
        *_block("versions", record.versions.items()),
        *_block("templates", record.templates.items()),
        f'# What each variant is made of: "{AS_FOUND}" in full, of the others what differs from it.',
        *_block(f"input.{_text(AS_FOUND)}", found.items()),
    ]
    for variant in sorted(record.inputs.keys() - {AS_FOUND}):
        lines += _block(f"input.{_text(variant)}", _differing(record.inputs[variant], found))
    lines.append("# The readings of each case.")
    for case in sorted(record.readings):
        lines += _block(_key("case", case), record.readings[case].items())
    lines.append("# The limits that cases exceed.")
    for case in sorted(case for case, limits in record.over.items() if limits):
        limits = (f"    {_text(limit)}," for limit in sorted(record.over[case]))
        lines += [f"{_key('over', case)} = [", *limits, "]", ""]
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
    return f"{first}.{_text(case.variant)}.{case.bench}.{_text(case.conditions)}"


def _block(key: str, entries: Iterable[tuple[str, Value]]) -> list[str]:
    rows = (f"    [{_text(name)}, {_value(value)}]," for name, value in sorted(entries))
    return [f"{key} = [", *rows, "]", ""]


def _text(text: str) -> str:
    # Every escape that JSON writes is one of TOML's too.
    return json.dumps(text, ensure_ascii=False)


def _value(value: Value) -> str:
    return _text(value) if isinstance(value, str) else f"{value:.9g}"
