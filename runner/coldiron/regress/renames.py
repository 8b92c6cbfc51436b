"""Variants that have another name and are made of the same."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import TypeVar

from coldiron.regress.reference import CaseName, ReferenceTable, Value

T = TypeVar("T")


def renamed_variants(was: ReferenceTable, now: ReferenceTable) -> dict[str, str]:
    """Variants of the reference that stand in the study under another name, by their old one.

    A variant is the same where every recorded value of its lamp and conditions is. Of several that are, each
    is taken once, in the order of the names.
    """
    gone = sorted(was.inputs.keys() - now.inputs.keys())
    come: dict[frozenset[tuple[str, Value]], list[str]] = {}
    for name in sorted(now.inputs.keys() - was.inputs.keys(), reverse=True):
        come.setdefault(_made_of(now.inputs[name]), []).append(name)
    found = {}
    for name in gone:
        same = come.get(_made_of(was.inputs[name]))
        if same:
            found[name] = same.pop()
    return found


def under_new_names(record: ReferenceTable, names: Mapping[str, str]) -> ReferenceTable:
    """The record with its variants renamed."""
    if not names:
        return record

    def cases(values: Iterable[tuple[CaseName, T]]) -> dict[CaseName, T]:
        return {case._replace(variant=names.get(case.variant, case.variant)): each for case, each in values}

    return replace(
        record,
        inputs={names.get(variant, variant): values for variant, values in record.inputs.items()},
        readings=cases(record.readings.items()),
        over=cases(record.over.items()),
        kept=cases(record.kept.items()),
    )


def _made_of(values: Mapping[str, Value]) -> frozenset[tuple[str, Value]]:
    return frozenset(values.items())
