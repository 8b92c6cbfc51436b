"""The faults that a study asks for: "every single part", some by name, some at once."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Annotated, Any

from pydantic import Field

from coldiron.errors import Problem
from coldiron.faults import UnknownFault, faults_named
from coldiron.lamp.lamp import Lamp
from coldiron.study.conditions import once_each
from coldiron.wording import as_written, printable

FaultName = Annotated[str, Field(min_length=1, max_length=200)]


def some_faults(written: Any) -> Any:
    """One name stands for a list of one; each stands once."""
    return once_each((written,) if isinstance(written, str) else written)


def fault_problems(names: Sequence[str], lamps: Sequence[Lamp], file: str) -> list[Problem]:
    """What is wrong with the faults of a study: those that none of its lamps can have."""
    found = []
    for number, name in enumerate(names, start=1):
        unknown: UnknownFault | None = None
        for lamp in lamps:
            try:
                faults_named(lamp, [name])
                break
            except UnknownFault as refusal:
                unknown = unknown or refusal
        else:
            if unknown is not None:
                where = f"faults[{number}]" if len(names) > 1 else "faults"
                value = as_written(unknown.name)
                found.append(Problem(printable(file), where, value, unknown.expected, unknown.nearest))
    return found
